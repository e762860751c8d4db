"""`/sync/entries`: once and in order, first ruling again, and nothing a tablet wrote down ever sticks what follows."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fastapi import FastAPI

from app.domain import entry as e
from app.domain.records import AlarmKind
from app.use_cases.cancel_job import cancel_job
from app.use_cases.verify import verify
from tests.builders import ADA, BEN, DEE, FAY, JOB, Someone
from tests.offices import Workshop
from tests.tablets import ATablet, a_tablet


def last_seq(here: Workshop, tablet: ATablet) -> int:
    found: int = here.get("tablets", tablet.id).last_seq
    return found


def kept(here: Workshop, entry_id: str) -> Any:
    with here.store.reading() as unit:
        return unit.ledger.find(entry_id)


def rows(here: Workshop) -> int:
    with here.store.reading() as unit:
        return unit.ledger.count()


def test_an_entry_is_in_the_ledger_before_it_is_answered(here: Workshop, tablet: ATablet) -> None:
    entry = tablet.entry()

    answer = tablet.sends(entry).json()

    assert answer["next_seq"] == 2
    [one] = answer["answers"]
    assert (one["id"], one["kept"], one["accepted"], one["repeated"], one["words"]) == (
        entry["id"], True, True, False, "",
    )  # fmt: skip
    row = kept(here, entry["id"])
    assert (row.heard.order, row.heard.name, row.heard.entry.seq) == (one["order"], "Ada", 1)
    assert json.loads(row.raw) == entry
    assert here.get("tablets", tablet.id).seen_at == here.clock.now
    assert {"floor", f"sheet:{JOB}"} <= set(here.announced)


def test_it_needs_nobody_signed_in_and_each_entry_is_its_person_s(here: Workshop, tablet: ATablet) -> None:
    one, other = tablet.entry(who=ADA), tablet.entry(who=BEN)

    assert [answer["accepted"] for answer in tablet.answers(one, other)] == [True, True]
    assert (kept(here, one["id"]).heard.name, kept(here, other["id"]).heard.name) == ("Ada", "Ben")


def test_the_same_again_gets_its_first_ruling_again(here: Workshop, tablet: ATablet) -> None:
    entry = tablet.entry()
    [first] = tablet.answers(entry)
    before = rows(here)

    [again] = tablet.answers(entry)

    assert again == {**first, "repeated": True}
    assert (rows(here), last_seq(here, tablet)) == (before, 1)


def test_half_of_a_batch_sent_before_is_no_trouble(here: Workshop, tablet: ATablet) -> None:
    """The answer was lost on the way, so the tablet sends all of it again, and what it has since."""
    first, second, third = tablet.entry(), tablet.entry(), tablet.entry()
    tablet.answers(first, second)

    again = tablet.answers(first, second, third)

    assert [one["repeated"] for one in again] == [True, True, False]
    assert last_seq(here, tablet) == 3


def test_what_lies_beyond_a_gap_waits_until_the_gap_is_filled(here: Workshop, tablet: ATablet) -> None:
    first, second, third = tablet.entry(), tablet.entry(), tablet.entry()

    answer = tablet.sends(first, third).json()

    assert answer["next_seq"] == 2
    assert answer["answers"][1] == {
        "id": third["id"],
        "kept": False,
        "problem": "seq_gap",
        "words": "Entries are missing in between: send number 2 next.",
    }
    assert [one["kept"] for one in tablet.answers(second, third)] == [True, True]


def test_out_of_order_in_one_batch_is_taken_as_far_as_it_goes(here: Workshop, tablet: ATablet) -> None:
    first, second = tablet.entry(), tablet.entry()

    assert [one["kept"] for one in tablet.answers(second, first)] == [False, True]
    assert [one["kept"] for one in tablet.answers(second)] == [True]


def test_no_entries_is_an_answer_too(tablet: ATablet) -> None:
    assert tablet.sends().json() == {"next_seq": 1, "answers": []}


# --- Nothing sticks the queue ---------------------------------------------------------------------------------------


def away(here: Workshop, who: Someone) -> None:
    here.save("people", replace(here.get("people", who.id), active=False))


def cancelled(here: Workshop) -> None:
    cancel_job(here.office, FAY.id, "1001", "The customer came for it")


def as_it_is(_: Workshop) -> None:
    """Nothing has happened meanwhile."""


STRANGER = Someone("p-nobody", "", ())
Change = Callable[[dict[str, Any]], dict[str, Any]]
MEANWHILE: dict[str, tuple[Callable[[Workshop], None], dict[str, Any], str, str]] = {
    "the person left": (lambda here: away(here, ADA), {}, "wrong_role", "not on this shop's list"),
    "nobody knows the person": (as_it_is, {"person": "p-nobody"}, "wrong_role", "p-nobody is not on"),
    "the job was cancelled": (cancelled, {}, "not_here", "This job was cancelled meanwhile"),
    "the job is not here": (as_it_is, {"job": "job-elsewhere"}, "not_here", "The office does not have this job"),
    "a kind nobody knows": (as_it_is, {"kind": "wheel_balanced"}, "unknown_form", ""),
    "a form of a later version": (as_it_is, {"v": 99}, "unknown_form", ""),
    "a body that is none": (as_it_is, {"body": {"text": 7}}, "unknown_form", ""),
    "an envelope that is none": (as_it_is, {"noted_at_ms": "late", "basis": 1}, "unknown_form", ""),
    "half a character": (as_it_is, {"body": {"text": "\ud83d"}}, "unknown_form", ""),
    "a character no text has": (as_it_is, {"body": {"text": "nul \0", "step": "nowhere"}}, "not_here", ""),
    "a number too large": (as_it_is, {"noted_at_ms": 2**70}, "unknown_form", ""),
}


@pytest.mark.parametrize("name", MEANWHILE)
def test_it_is_kept_and_set_aside_and_the_next_one_follows(here: Workshop, tablet: ATablet, name: str) -> None:
    happened, change, reason, words = MEANWHILE[name]
    entry, following = {**tablet.entry(), **change}, tablet.entry(who=BEN)
    happened(here)

    odd, plain = tablet.answers(entry, following)

    assert (odd["kept"], odd["accepted"], odd["reason"]) == (True, False, reason)
    assert words in odd["words"]
    assert odd["words"].endswith(".")
    assert plain["kept"]
    assert plain["accepted"] is (name != "the job was cancelled")
    assert last_seq(here, tablet) == 2
    assert json.loads(kept(here, entry["id"]).raw) == entry
    assert tablet.answers(entry)[0] == {**odd, "repeated": True}
    assert verify(here.office).breaches == ()


@pytest.mark.parametrize("odd", [7, None, [], "entry", {}, {"id": 5}, {"id": "x", "seq": "one"}], ids=str)
def test_what_does_not_say_whose_it_is_is_answered_by_its_place(here: Workshop, tablet: ATablet, odd: Any) -> None:
    first = tablet.entry()

    one, other = tablet.answers(odd, first)

    assert (one["kept"], one["problem"]) == (False, "entry_unreadable")
    assert one["words"].startswith("Entry 1 of the batch")
    assert other["kept"]


def test_another_entry_under_an_id_heard_before_uses_its_number_up(here: Workshop, tablet: ATablet) -> None:
    first = tablet.entry()
    tablet.answers(first)
    clash, following = {**tablet.entry(who=BEN), "id": first["id"]}, tablet.entry()

    one, other = tablet.answers(clash, following)

    assert (one["kept"], one["problem"]) == (False, "id_taken")
    assert other["kept"]


def test_a_number_used_before_is_kept_under_the_next_one(here: Workshop, tablet: ATablet) -> None:
    """A tablet set back to an older state makes entries 2 and 3 once more: other entries, with ids of their own."""
    tablet.answers(*(tablet.entry() for _ in range(3)))
    again = [tablet.entry(id=f"again-{seq}", seq=seq) for seq in (2, 3)]

    answer = tablet.sends(*again).json()

    assert [one["kept"] for one in answer["answers"]] == [True, True]
    assert answer["next_seq"] == 6
    raw = json.loads(kept(here, "again-2").raw)
    assert (raw["seq"], raw["sent_as"]) == (4, {"tablet": tablet.id, "seq": 2})
    assert kept(here, "again-2").heard.entry.body == again[0]["body"]
    assert [one["repeated"] for one in tablet.answers(*again)] == [True, True]
    assert verify(here.office).breaches == ()


def test_what_waited_under_an_older_name_of_the_tablet_is_kept_under_its_own(here: Workshop, tablet: ATablet) -> None:
    entry = {**tablet.entry(), "tablet": "an-older-name"}

    assert tablet.answers(entry)[0]["accepted"]
    assert kept(here, entry["id"]).heard.entry.tablet == tablet.id
    assert last_seq(here, tablet) == 1


def test_two_tablets_number_apart(here: Workshop, app: FastAPI, tablet: ATablet) -> None:
    other = a_tablet(here, app, "Pit")

    assert tablet.answers(tablet.entry())[0]["kept"]
    assert other.answers(other.entry())[0]["kept"]
    assert (last_seq(here, tablet), last_seq(here, other)) == (1, 1)


# --- Jobs that are closed or not here -------------------------------------------------------------------------------


def test_entries_for_a_job_not_here_are_an_alarm_one_a_job(here: Workshop, tablet: ATablet) -> None:
    """After the office was put back to an older copy: the job was opened since."""
    tablet.answers(*({**tablet.entry(who=who), "job": "job-lost"} for who in (ADA, BEN, ADA)))
    tablet.answers({**tablet.entry(), "job": "job-lost-too"})

    one, other = here.all("tablet_alarms")

    assert (one.kind, one.job, one.count, one.people) == (AlarmKind.NO_JOB, "job-lost", 3, ("Ada", "Ben"))
    assert (one.first_seq, one.last_seq) == (1, 3)
    assert (other.job, other.count) == ("job-lost-too", 1)


def test_sent_again_it_is_no_second_alarm(here: Workshop, tablet: ATablet) -> None:
    entry = {**tablet.entry(), "job": "job-lost"}
    tablet.answers(entry)
    tablet.answers(entry)

    assert [one.count for one in here.all("tablet_alarms")] == [1]


def test_work_on_a_cancelled_job_counts_for_nothing(here: Workshop, tablet: ATablet) -> None:
    before = here.sheet(here.get("jobs", JOB))
    cancelled(here)
    hold = tablet.entry(e.HoldPlaced("It leaks"))

    [answer] = tablet.answers(hold)

    after = here.sheet(here.get("jobs", JOB))
    assert answer["details"] == {"what": "job", "why": "cancelled"}
    assert after.holds == before.holds == {}
    assert hold["id"] in after.asides


def test_what_was_set_aside_on_a_cancelled_job_can_be_settled(here: Workshop, tablet: ATablet) -> None:
    cancelled(here)
    note = tablet.entry()
    tablet.answers(note)

    settled = tablet.entry(e.Settled(note["id"], "keep_as_note", "The job is over"), who=FAY)

    assert tablet.answers(settled)[0]["accepted"]


def test_the_desk_s_entries_are_ruled_on_like_anybody_s(tablet: ATablet) -> None:
    assert tablet.answers(tablet.entry(e.HoldPlaced("x"), who=DEE))[0]["reason"] == "wrong_role"


# --- Refusals -------------------------------------------------------------------------------------------------------


def test_a_batch_of_200_is_taken_and_one_of_201_is_not(here: Workshop, tablet: ATablet) -> None:
    batch = [tablet.entry() for _ in range(201)]

    answer = tablet.sends(*batch)
    assert (answer.status_code, answer.json()["problem"]) == (413, "batch_too_large")
    assert last_seq(here, tablet) == 0
    assert all(one["kept"] for one in tablet.answers(*batch[:200]))


def test_more_bytes_than_a_batch_can_have_are_refused(here: Workshop, tablet: ATablet) -> None:
    answer = tablet.posts("/sync/entries", b" " * (4 * 1024 * 1024 + 1))

    assert (answer.status_code, answer.json()["problem"]) == (413, "batch_too_large")


@pytest.mark.parametrize("body", [{}, {"entries": []}, {"tablet": 5, "entries": []}, {"entries": {}}], ids=str)
def test_what_is_no_batch_is_refused(tablet: ATablet, body: dict[str, Any]) -> None:
    answer = tablet.posts("/sync/entries", body)

    assert (answer.status_code, answer.json()["problem"]) == (422, "batch_unreadable")


def test_a_fraction_anywhere_refuses_the_batch(here: Workshop, tablet: ATablet) -> None:
    entry = {**tablet.entry(), "body": {"text": 1.5}}

    assert tablet.sends(entry).status_code == 422
    assert last_seq(here, tablet) == 0


def test_one_tablet_does_not_send_for_another(here: Workshop, app: FastAPI, tablet: ATablet) -> None:
    other = a_tablet(here, app, "Pit")

    answer = tablet.posts("/sync/entries", {"tablet": other.id, "entries": []})

    assert (answer.status_code, answer.json()["problem"]) == (422, "not_yours")
