"""The outbox: once per key, at least once to the mail server, never again after a yes was recorded, never lost."""

from __future__ import annotations

import dataclasses
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from app.domain.problems import NotFound, Refused
from app.domain.records import MessageState, OutgoingMessage
from app.ports import Delivery, Letter, Sender, Store, Unit
from app.use_cases.send_post import Patience, Round, deliver_due, note_came_back, put_back, queue_message, sent_anew
from tests.unit.mail_cast import JOB, MORNING, SHOP, FakeClock, a_store, counting

LETTER = Letter("Your car", "Text.\n", "<p>Text.</p>\n")
YES = Delivery(kept=True, for_good=False, answer="250 OK")
LATER = Delivery(kept=False, for_good=False, answer="451 later")
NEVER = Delivery(kept=False, for_good=True, answer="550 no such mailbox")
PATIENCE = Patience(tries=4, first_wait_s=60, longest_wait_s=600, lease_s=120)


class FakePostman:
    """Answers as told, in order, the last answer for ever; keeps what it was handed."""

    def __init__(self, *answers: Delivery) -> None:
        self.answers = list(answers)
        self.handed: list[tuple[OutgoingMessage, Sender]] = []

    def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
        self.handed.append((message, sender))
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]


def queue(store: Store, key: str = "handback:j1:1", to: str = "mira@okonjo.example", **more: Any) -> OutgoingMessage:
    with store.writing() as unit:
        given: dict[str, Any] = {"now": MORNING, "new_id": counting(), "domain": "axle-arm.example", **more}
        message = queue_message(unit, key=key, job=JOB.id, to=to, letter=LETTER, **given)
        unit.commit()
    return message


def go_round(store: Store, postman: FakePostman, clock: FakeClock, **more: Any) -> Round:
    return deliver_due(store, postman, clock, lambda most: 0, patience=PATIENCE, **more)


def outbox(store: Store) -> list[OutgoingMessage]:
    with store.reading() as unit:
        return list(unit.outbox.all())


# --- Putting in -----------------------------------------------------------------------------------------------------


def test_a_letter_is_put_in_once_however_often_it_is_asked_for() -> None:
    store, new_id = a_store(), counting()

    first, second = queue(store, new_id=new_id), queue(store, new_id=new_id, to="other@okonjo.example")

    assert first == second
    assert outbox(store) == [first]


def test_a_letter_gets_its_message_id_when_it_is_put_in() -> None:
    assert queue(a_store()).message_id == "<m1@axle-arm.example>"
    assert queue(a_store(), domain="straße.example").message_id == "<m1@xn--strae-oqa.example>"
    assert queue(a_store(), domain="").message_id == "<m1@cotterpin.invalid>"


def test_a_letter_to_an_impossible_address_is_kept_for_the_desk_and_not_tried() -> None:
    store, clock, postman = a_store(), FakeClock(), FakePostman(YES)

    message = queue(store, to="mira at okonjo")
    clock.forward(1_000_000)
    go_round(store, postman, clock)

    assert (message.state, message.last_answer) == (MessageState.UNDELIVERABLE, "address_space")
    assert message.to == "mira at okonjo"
    assert postman.handed == []


def test_a_letter_not_committed_was_never_put_in() -> None:
    store = a_store()

    with store.writing() as unit:
        queue_message(
            unit, key="k", job=JOB.id, to="mira@okonjo.example", letter=LETTER, now=MORNING, new_id=counting(),
            domain="",
        )  # fmt: skip

    assert outbox(store) == []


# --- Carrying out ---------------------------------------------------------------------------------------------------


def test_an_accepted_letter_is_sent_and_never_tried_again() -> None:
    store, clock, postman = a_store(), FakeClock(), FakePostman(YES)
    queue(store)

    assert go_round(store, postman, clock) == Round(sent=1)
    for _ in range(5):
        clock.forward(1_000_000)
        assert go_round(store, postman, clock) == Round()

    (message,) = outbox(store)
    assert (message.state, message.sent_at, message.last_answer) == (MessageState.SENT, MORNING, "250 OK")
    assert len(postman.handed) == 1


def test_letters_come_from_the_shop_or_from_the_mail_account_and_answers_go_to_the_shop() -> None:
    store, clock, postman = a_store(), FakeClock(), FakePostman(LATER)
    queue(store)

    go_round(store, postman, clock)
    clock.forward(10_000)
    go_round(store, postman, clock, from_address="account@provider.example")

    assert [sender for _, sender in postman.handed] == [
        Sender(SHOP.name, SHOP.email, SHOP.email),
        Sender(SHOP.name, "account@provider.example", SHOP.email),
    ]


def test_a_letter_put_off_waits_twice_as_long_each_time_up_to_the_longest() -> None:
    patience = Patience(first_wait_s=60, longest_wait_s=600)

    assert [patience.wait_s(tries) for tries in range(1, 8)] == [60, 120, 240, 480, 600, 600, 600]
    assert patience.wait_s(1_000) == 600


def test_the_usual_patience_is_four_to_five_days() -> None:
    """RFC 5321 section 4.5.4.1: the give-up time generally needs to be at least four to five days."""
    patience = Patience()

    total = timedelta(seconds=sum(patience.wait_s(tries) for tries in range(1, patience.tries)))

    assert timedelta(days=4) <= total <= timedelta(days=5)


def test_a_letter_put_off_is_not_tried_before_its_time() -> None:
    store, clock, postman = a_store(), FakeClock(), FakePostman(LATER, YES)
    queue(store)

    assert go_round(store, postman, clock) == Round(put_off=1)
    clock.forward(59)
    assert go_round(store, postman, clock) == Round()
    clock.forward(1)
    assert go_round(store, postman, clock) == Round(sent=1)


def test_the_wait_is_spread_by_at_most_a_quarter() -> None:
    store, clock, asked = a_store(), FakeClock(), []
    queue(store)

    def spread(most: int) -> int:
        asked.append(most)
        return most

    deliver_due(store, FakePostman(LATER), clock, spread, patience=PATIENCE)

    assert asked == [15]
    assert outbox(store)[0].next_try_at == MORNING + timedelta(seconds=75)


def test_an_answer_is_recorded_also_when_the_clock_counts_finer_than_the_store() -> None:
    """The lease is told by its time, so a store that rounds it would make every answer look late."""
    store, clock = a_store(), FakeClock(MORNING + timedelta(microseconds=123_457))
    queue(store, now=clock())

    assert go_round(store, FakePostman(LATER), clock) == Round(put_off=1)

    assert outbox(store)[0].last_answer == LATER.answer
    assert outbox(store)[0].taken_until is None


def test_a_refusal_for_good_ends_at_once_and_one_to_try_again_after_the_last_try() -> None:
    refused, tired = a_store(), a_store()
    queue(refused)
    queue(tired)
    clock, never, later = FakeClock(), FakePostman(NEVER), FakePostman(LATER)

    assert go_round(refused, never, clock) == Round(undeliverable=1)
    for _ in range(10):
        go_round(tired, later, clock)
        clock.forward(100_000)

    assert (outbox(refused)[0].state, outbox(refused)[0].last_answer) == (MessageState.UNDELIVERABLE, NEVER.answer)
    assert (outbox(tired)[0].state, outbox(tired)[0].last_answer) == (MessageState.UNDELIVERABLE, LATER.answer)
    assert (len(never.handed), len(later.handed)) == (1, PATIENCE.tries)


def test_one_letter_in_trouble_does_not_hold_up_the_others() -> None:
    store, clock, new_id = a_store(), FakeClock(), counting()
    for key in "abc":
        queue(store, key=key, new_id=new_id)
    postman = FakePostman(LATER, YES, NEVER)

    assert go_round(store, postman, clock) == Round(sent=1, put_off=1, undeliverable=1)
    assert [message.id for message, _ in postman.handed] == ["m1", "m2", "m3"]


def test_a_round_carries_no_more_than_it_was_told() -> None:
    store, clock, new_id = a_store(), FakeClock(), counting()
    for number in range(5):
        queue(store, key=str(number), new_id=new_id)

    assert go_round(store, FakePostman(YES), clock, most=2) == Round(sent=2)


def test_nothing_is_locked_while_a_letter_is_away() -> None:
    """A slow mail server must not stop the workshop from writing."""
    store, clock = a_store(), FakeClock()
    queue(store)
    wrote: list[str] = []

    class WritesMeanwhile(FakePostman):
        def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
            wrote.append(queue(store, key="meanwhile", new_id=counting("w")).id)
            return super().deliver(message, sender)

    go_round(store, WritesMeanwhile(YES), clock, most=1)

    assert wrote == ["w1"]


# --- Two hands, and the Desk ----------------------------------------------------------------------------------------


class Meddler(FakePostman):
    """A postman during whose errand something else happens."""

    def __init__(self, answer: Delivery, meddle: Any) -> None:
        super().__init__(answer)
        self._meddle = meddle

    def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
        delivery = super().deliver(message, sender)
        self._meddle()
        return delivery


def test_a_letter_that_is_away_is_not_taken_by_another_hand() -> None:
    store, clock, other = a_store(), FakeClock(), FakePostman(YES)
    queue(store)

    go_round(store, Meddler(YES, lambda: go_round(store, other, clock)), clock)

    assert other.handed == []


def test_a_no_from_a_hand_whose_lease_ran_out_does_not_undo_anothers_yes() -> None:
    store, clock, other = a_store(), FakeClock(), FakePostman(YES)
    queue(store)

    def lease_runs_out() -> None:
        clock.forward(PATIENCE.lease_s)
        go_round(store, other, clock)

    go_round(store, Meddler(NEVER, lease_runs_out), clock)

    assert len(other.handed) == 1
    assert outbox(store)[0].state is MessageState.SENT


def test_a_late_no_does_not_take_the_letter_out_of_the_hand_that_has_it_now() -> None:
    store, clock = a_store(), FakeClock()
    queue(store)
    second_has_it, second_may_go_on = threading.Event(), threading.Event()

    class Second(FakePostman):
        def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
            second_has_it.set()
            second_may_go_on.wait(10)
            return super().deliver(message, sender)

    second = threading.Thread(target=go_round, args=(store, Second(YES), clock))

    def lease_runs_out() -> None:
        clock.forward(PATIENCE.lease_s)
        second.start()
        second_has_it.wait(10)

    go_round(store, Meddler(NEVER, lease_runs_out), clock)
    meanwhile = outbox(store)[0]
    second_may_go_on.set()
    second.join(10)

    assert (meanwhile.state, meanwhile.tries) == (MessageState.WAITING, 2)
    assert meanwhile.taken_until == MORNING + timedelta(seconds=2 * PATIENCE.lease_s)
    assert outbox(store)[0].state is MessageState.SENT


def test_a_second_yes_leaves_the_record_of_the_first() -> None:
    store, clock = a_store(), FakeClock()
    queue(store)

    def lease_runs_out() -> None:
        clock.forward(PATIENCE.lease_s)
        go_round(store, FakePostman(dataclasses.replace(YES, answer="250 first recorded")), clock)
        clock.forward(1)

    done = go_round(store, Meddler(YES, lease_runs_out), clock)

    (message,) = outbox(store)
    assert message.last_answer == "250 first recorded"
    assert message.sent_at == MORNING + timedelta(seconds=PATIENCE.lease_s)
    assert done == Round(sent=1)


def test_a_yes_for_the_old_address_does_not_count_for_the_corrected_one() -> None:
    """The first hand's lease ran out, the second was refused, the Desk corrected, then the first came back."""
    store, clock = a_store(), FakeClock()
    message = queue(store, to="mirra@okonjo.example")

    def meanwhile() -> None:
        clock.forward(PATIENCE.lease_s)
        go_round(store, FakePostman(NEVER), clock)
        with store.writing() as unit:
            put_back(unit, message.id, to="mira@okonjo.example", now=clock())
            unit.commit()

    go_round(store, Meddler(YES, meanwhile), clock, most=1)
    assert outbox(store)[0].state is MessageState.WAITING

    last = FakePostman(YES)
    go_round(store, last, clock)
    assert [(sent.to, sent.message_id) for sent, _ in last.handed] == [("mira@okonjo.example", message.message_id)]


def test_a_letter_on_which_the_house_falls_every_time_is_given_up() -> None:
    store, clock = a_store(), FakeClock()
    queue(store)

    class Falls(FakePostman):
        def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
            self.handed.append((message, sender))
            raise Fell

    falls = Falls(YES)
    for _ in range(PATIENCE.tries):
        with pytest.raises(Fell):
            go_round(store, falls, clock)
        clock.forward(PATIENCE.lease_s)

    assert go_round(store, falls, clock) == Round(undeliverable=1)
    assert len(falls.handed) == PATIENCE.tries
    assert outbox(store)[0].last_answer == "no_result"


def test_the_desk_puts_back_only_what_is_undeliverable_and_to_an_address_that_can_be_one() -> None:
    store, clock = a_store(), FakeClock()
    message = queue(store)

    def back(key: str, to: str) -> OutgoingMessage:
        with store.writing() as unit:
            again = put_back(unit, key, to=to, now=clock())
            unit.commit()
        return again

    with pytest.raises(NotFound):
        back("nobody", "mira@okonjo.example")
    with pytest.raises(Refused) as waiting:
        back(message.id, "mira@okonjo.example")
    go_round(store, FakePostman(NEVER), clock)
    with pytest.raises(Refused) as impossible:
        back(message.id, "mira@")

    assert [problem.code for problem in waiting.value.problems] == ["message_not_undeliverable"]
    assert [problem.code for problem in impossible.value.problems] == ["address_after_at"]
    again = back(message.id, " ben@okonjo.example ")
    assert (again.to, again.tries, again.state) == ("ben@okonjo.example", 0, MessageState.WAITING)
    assert again.message_id == message.message_id
    go_round(store, FakePostman(YES), clock)
    with pytest.raises(Refused):
        back(message.id, "mira@okonjo.example")


def test_only_a_letter_that_was_sent_can_come_back_and_only_with_a_reason() -> None:
    store, clock = a_store(), FakeClock()
    message = queue(store)

    def back(key: str, because: str) -> OutgoingMessage:
        with store.writing() as unit:
            noted = note_came_back(unit, key, person="p-1", because=because, now=clock())
            unit.commit()
        return noted

    def codes(because: str) -> list[str]:
        with pytest.raises(Refused) as refused:
            back(message.id, because)
        return [problem.code for problem in refused.value.problems]

    with pytest.raises(NotFound):
        back("nobody", "mailbox full")
    assert codes("mailbox full") == ["message_not_sent"]
    go_round(store, FakePostman(YES), clock)
    assert codes(" ") == ["came_back_reason_missing"]
    assert codes("x" * 501) == ["too_long"]

    noted = back(message.id, " mailbox full ")

    assert (noted.state, noted.came_back_because, noted.came_back_noted_by) == (
        MessageState.CAME_BACK, "mailbox full", "p-1",
    )  # fmt: skip
    assert noted.sent_at is not None
    assert codes("again") == ["message_not_sent"]
    assert go_round(store, FakePostman(YES), clock) == Round()


def test_a_letter_that_came_back_is_sent_again_and_remembers_why_it_came_back() -> None:
    store, clock = a_store(), FakeClock()
    message = queue(store)
    go_round(store, FakePostman(YES), clock)
    with store.writing() as unit:
        note_came_back(unit, message.id, person="p-1", because="no such user", now=clock())
        put_back(unit, message.id, to="mira@new.example", now=clock())
        unit.commit()
    postman = FakePostman(YES)

    assert go_round(store, postman, clock).sent == 1

    (again,) = outbox(store)
    assert (again.to, again.state, again.came_back_because) == ("mira@new.example", MessageState.SENT, "no such user")
    assert [handed.message_id for handed, _ in postman.handed] == [message.message_id.replace("@", ".2@")]


def test_each_sending_after_a_return_has_a_number_of_its_own() -> None:
    assert sent_anew("<m1@house.example>") == "<m1.2@house.example>"
    assert sent_anew("<m1.2@house.example>") == "<m1.3@house.example>"
    assert sent_anew("<m1.9@house.example>") == "<m1.10@house.example>"
    assert sent_anew("<a.b@house.example>") == "<a.b.2@house.example>"


def test_a_second_yes_that_comes_late_does_not_hide_that_the_letter_came_back() -> None:
    """Its lease ran out, two hands carried it, and the first was told that it bounced."""
    store, clock = a_store(), FakeClock()
    message = queue(store)

    class Slow(FakePostman):
        def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
            clock.forward(seconds=PATIENCE.lease_s + 1)
            assert go_round(store, FakePostman(YES), clock).sent == 1
            with store.writing() as unit:
                note_came_back(unit, message.id, person="p-1", because="no such user", now=clock())
                unit.commit()
            return super().deliver(message, sender)

    go_round(store, Slow(YES), clock)

    assert [(one.id, one.state) for one in outbox(store)] == [(message.id, MessageState.CAME_BACK)]


# --- The house may fall at any point ----------------------------------------------------------------------------------


class Fell(BaseException):
    """The house falls here: the process is gone, whatever was not committed with it. No `except Exception` sees it."""


class FallingStore:
    """A store that falls at a chosen one of the points where a process can: before, and after, each commit."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.points_left: int | None = None

    def point(self) -> None:
        if self.points_left is not None:
            if self.points_left == 0:
                self.points_left = None
                raise Fell
            self.points_left -= 1

    def reading(self) -> Any:
        return self._store.reading()

    @contextmanager
    def writing(self) -> Iterator[Unit]:
        self.point()
        with self._store.writing() as unit:
            commit = unit.commit

            def falling_commit() -> None:
                self.point()
                commit()
                self.point()

            unit.commit = falling_commit  # type: ignore[method-assign]
            yield unit


class MailServer:
    """The world outside: what it has acknowledged stays acknowledged, whatever falls here."""

    def __init__(self, falling: FallingStore) -> None:
        self._falling = falling
        self.acknowledged: Counter[str] = Counter()
        self.seen_ids: dict[str, set[str]] = {}
        self.handed_after_recorded: list[str] = []
        self.answer = YES

    def deliver(self, message: OutgoingMessage, sender: Sender) -> Delivery:
        self._falling.point()
        self.handed_after_recorded += [
            m.id for m in outbox(self._falling) if m.id == message.id and m.sent_at is not None
        ]
        self.seen_ids.setdefault(message.id, set()).add(message.message_id)
        if self.answer.kept:
            self.acknowledged[message.id] += 1
        self._falling.point()
        return self.answer


class Post(RuleBasedStateMachine):
    """Random days: letters come in, servers say anything, time passes, the house falls at any point and comes back."""

    def __init__(self) -> None:
        super().__init__()
        self.store = FallingStore(a_store())
        self.server = MailServer(self.store)
        self.clock = FakeClock()
        self.new_id = counting()
        self.promised: dict[str, str] = {}

    @rule(key=st.sampled_from("abcdef"), falls_at=st.none() | st.integers(0, 2))
    def a_letter_is_put_in(self, key: str, falls_at: int | None) -> None:
        self.store.points_left = falls_at
        try:
            message = queue(self.store, key=key, new_id=self.new_id, now=self.clock())
        except Fell:
            return
        finally:
            self.store.points_left = None
        assert self.promised.setdefault(key, message.id) == message.id

    @rule(answer=st.sampled_from([YES, LATER, NEVER]), falls_at=st.none() | st.integers(0, 16))
    def a_round_is_made(self, answer: Delivery, falls_at: int | None) -> None:
        self.server.answer = answer
        self.store.points_left = falls_at
        try:
            deliver_due(self.store, self.server, self.clock, lambda most: most, patience=PATIENCE)  # type: ignore[arg-type]
        except Fell:
            return
        finally:
            self.store.points_left = None

    @rule(seconds=st.sampled_from([1, 60, 120, 3_600, 100_000]))
    def time_passes(self, seconds: int) -> None:
        self.clock.forward(seconds)

    @precondition(lambda self: any(m.state is MessageState.UNDELIVERABLE for m in outbox(self.store)))
    @rule()
    def the_desk_puts_one_back(self) -> None:
        message = next(m for m in outbox(self.store) if m.state is MessageState.UNDELIVERABLE)
        with self.store.writing() as unit:
            put_back(unit, message.id, to=message.to, now=self.clock())
            unit.commit()

    @invariant()
    def a_promised_letter_is_there(self) -> None:
        there = {m.key: m.id for m in outbox(self.store)}
        assert self.promised.items() <= there.items()

    @invariant()
    def sent_means_that_a_server_said_yes(self) -> None:
        for message in outbox(self.store):
            if message.state is MessageState.SENT:
                assert self.server.acknowledged[message.id] >= 1

    @invariant()
    def nothing_goes_again_after_a_yes_was_recorded(self) -> None:
        assert self.server.handed_after_recorded == []

    @invariant()
    def a_letter_keeps_its_message_id(self) -> None:
        for message in outbox(self.store):
            assert self.server.seen_ids.get(message.id, {message.message_id}) == {message.message_id}

    @invariant()
    def a_letter_is_given_up_only_with_an_answer(self) -> None:
        for message in outbox(self.store):
            if message.state is MessageState.UNDELIVERABLE:
                assert message.last_answer
                assert message.tries >= 1

    def teardown(self) -> None:
        """Once servers say yes and nothing falls, every letter is out: none was lost, none stays taken for ever."""
        self.server.answer = YES
        for _ in range(3):
            self.clock.forward(1_000_000)
            deliver_due(self.store, self.server, self.clock, lambda most: 0, patience=PATIENCE)  # type: ignore[arg-type]
            while any(m.state is MessageState.UNDELIVERABLE for m in outbox(self.store)):
                self.the_desk_puts_one_back()
        deliver_due(self.store, self.server, self.clock, lambda most: 0, patience=PATIENCE)  # type: ignore[arg-type]
        for message in outbox(self.store):
            assert message.state is MessageState.SENT
            assert self.server.acknowledged[message.id] >= 1
        assert all(self.server.acknowledged[key] for key in self.promised.values())


TestPost = Post.TestCase
TestPost.settings = settings(max_examples=150, stateful_step_count=30, deadline=None)


def test_a_fall_between_the_yes_and_its_recording_sends_the_same_letter_once_more() -> None:
    """The one case in which a receiver gets a letter twice; it tells by the Message-ID."""
    store = FallingStore(a_store())
    server, clock = MailServer(store), FakeClock()
    message = queue(store)
    store.points_left = 5  # take: begin, commit before and after; at the server before and after the yes

    with pytest.raises(Fell):
        deliver_due(store, server, clock, lambda most: 0, patience=PATIENCE)  # type: ignore[arg-type]
    taken = outbox(store)[0]
    deliver_due(store, server, clock, lambda most: 0, patience=PATIENCE)  # type: ignore[arg-type]
    before_lease_end = server.acknowledged[message.id]
    clock.forward(PATIENCE.lease_s)
    deliver_due(store, server, clock, lambda most: 0, patience=PATIENCE)  # type: ignore[arg-type]

    assert taken.state is MessageState.WAITING
    assert (before_lease_end, server.acknowledged[message.id]) == (1, 2)
    assert server.seen_ids[message.id] == {message.message_id}
    assert outbox(store)[0].state is MessageState.SENT


def test_a_sent_letter_is_kept_as_it_was_written() -> None:
    store, clock = a_store(), FakeClock()
    message = queue(store)

    go_round(store, FakePostman(YES), clock)

    (sent,) = outbox(store)
    changed = {f.name for f in dataclasses.fields(sent) if getattr(sent, f.name) != getattr(message, f.name)}
    assert changed == {"state", "tries", "sent_at", "last_answer", "next_try_at"}
