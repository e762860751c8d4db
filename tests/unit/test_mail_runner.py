"""The round of the post in its thread: goes on whatever happens, stops when told."""

from __future__ import annotations

import logging
import threading

import pytest

from app.domain.records import MessageState, OutgoingMessage
from app.mail.runner import PostRunner, running_post
from app.ports import Delivery, Letter, Sender
from app.use_cases.send_post import queue_message
from tests.unit.mail_cast import MORNING, FakeClock, a_store, counting

SOON = 10.0  # how long a test waits for what happens at once


class Rounds:
    """Counts rounds and lets a test wait for one; each may be held or fail."""

    def __init__(self) -> None:
        self.count = 0
        self.made = threading.Semaphore(0)
        self.may_end = threading.Event()
        self.may_end.set()
        self.fails = False

    def __call__(self) -> None:
        self.count += 1
        self.made.release()
        self.may_end.wait(SOON)
        if self.fails:
            raise RuntimeError("the disk is full")

    def one_was_made(self) -> bool:
        return self.made.acquire(timeout=SOON)


def test_the_first_round_is_made_at_once_and_others_follow() -> None:
    rounds = Rounds()
    runner = PostRunner(rounds, every_s=0.01)

    runner.start()

    assert all(rounds.one_was_made() for _ in range(3))
    assert runner.stop()


def test_a_letter_just_put_in_does_not_wait_for_the_next_round() -> None:
    rounds = Rounds()
    runner = PostRunner(rounds, every_s=3_600)
    runner.start()
    rounds.one_was_made()

    runner.wake()

    assert rounds.one_was_made()
    assert runner.stop()


def test_a_round_that_fails_is_told_in_the_log_and_the_next_is_made(caplog: pytest.LogCaptureFixture) -> None:
    rounds = Rounds()
    rounds.fails = True
    runner = PostRunner(rounds, every_s=0.01)

    with caplog.at_level(logging.ERROR):
        runner.start()
        assert all(rounds.one_was_made() for _ in range(2))
        assert runner.stop()

    assert "the disk is full" in caplog.text


def test_stopping_lets_the_round_in_hand_finish_and_begins_no_other() -> None:
    rounds = Rounds()
    rounds.may_end.clear()
    runner = PostRunner(rounds, every_s=0.0)
    runner.start()
    rounds.one_was_made()

    ended_too_soon = runner.stop(wait_s=0.05)
    rounds.may_end.set()

    assert not ended_too_soon
    assert runner.stop()
    assert rounds.count == 1


def test_a_runner_started_twice_makes_rounds_in_one_thread_and_can_start_again() -> None:
    rounds = Rounds()
    rounds.may_end.clear()
    runner = PostRunner(rounds, every_s=3_600)
    runner.start()
    runner.start()
    rounds.one_was_made()
    rounds.may_end.set()
    assert runner.stop()
    assert rounds.count == 1

    runner.start()

    assert rounds.one_was_made()
    assert runner.stop()


def test_a_runner_never_started_is_stopped() -> None:
    assert PostRunner(Rounds()).stop()


def test_the_running_post_carries_what_is_due_and_tells_the_pages() -> None:
    store, told, carried = a_store(), threading.Event(), []
    with store.writing() as unit:
        queue_message(
            unit, key="k", job="j1", to="mira@okonjo.example", letter=Letter("s", "t", "h"), now=MORNING,
            new_id=counting(), domain="axle-arm.example",
        )  # fmt: skip
        unit.commit()

    class Keeps:
        def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
            carried.append((message.id, sender.address))
            return Delivery(kept=True, for_good=False, answer="250 OK")

    topics: list[str] = []

    def announce(topic: str) -> None:
        topics.append(topic)
        told.set()

    with running_post(
        store, Keeps(), clock=FakeClock(), sender="post@axle-arm.example", every_s=0.01, tries=3, announce=announce
    ):
        assert told.wait(SOON)

    with store.reading() as unit:
        assert [message.state for message in unit.outbox.all()] == [MessageState.SENT]
    assert carried == [("m1", "post@axle-arm.example")]
    assert topics == ["post"]
