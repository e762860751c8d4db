"""What a handed-back job leaves to be done, when it is due, and marking it done by name."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.domain import entry as e
from app.domain.handback import Retorque
from app.domain.packet import Choice, Trial, Verdict
from app.domain.problems import NotFound, Refused
from app.domain.records import Job, Reminder, ReminderKind
from app.domain.reminders import CALIBRATION_STEPS, RETORQUE_ANSWERS, RETORQUE_STEP, months_after, reminders_of
from app.domain.sheet import Mark, Note, Outcome, Sheet, StepNow
from app.use_cases.hand_back import hand_back
from app.use_cases.remind import count_due, make_reminders, mark_done, see_reminders
from app.use_cases.verify import rebuild
from app.web.desk.vehicle_history import see_history
from tests.builders import ADA, DEE, FAY, Play, a_packet, a_step
from tests.offices import MONDAY, SHOP, VEHICLE, Workshop, a_small_job, an_office, the_book

TRIAL = Trial("t", "part", (Choice("booked", "Booked", True), Choice("elsewhere", "Elsewhere", True),
                            Choice("away", "To be done elsewhere", False), Choice("done", "Done", True)))  # fmt: skip
JOB = Job("j", "26-0001", "v-1", "c-1", "Clunks", None, MONDAY, "p", 81_000, ())


def left_by(
    key: str, choice: str, verdict: Verdict, reason: str = "", *notes: str, job: Job = JOB
) -> tuple[Reminder, ...]:
    step = a_step(key, trial=TRIAL)
    mark = Mark("p", "Ada", 1, "e")
    now = StepNow(outcome=Outcome(mark, choice, verdict, reason), notes=tuple(Note(mark, one) for one in notes))
    sheet = Sheet("j", a_packet(step), steps={step.id: now})
    return reminders_of(job, sheet, SHOP, MONDAY, date(2026, 6, 8))


def test_wheels_are_torqued_again_after_the_shops_days_or_distance() -> None:
    (one,) = left_by("retorque", "booked", Verdict.SOUND, "", "Friday at nine")
    assert (one.kind, one.due_on, one.due_km) == (ReminderKind.RETORQUE, date(2026, 6, 22), 81_080)
    assert "Booked" in one.what
    assert "Friday at nine" in one.what


def test_who_has_the_wheels_done_elsewhere_is_not_called() -> None:
    assert left_by("retorque", "elsewhere", Verdict.SOUND) == ()


def test_a_part_to_watch_is_looked_at_again_after_months_or_distance() -> None:
    (one,) = left_by("look", "done", Verdict.WATCH, "a little play")
    assert (one.kind, one.due_on, one.due_km) == (ReminderKind.WATCH, date(2026, 12, 8), 91_000)
    assert "a little play" in one.what


def test_without_an_odometer_only_the_day_counts() -> None:
    (one,) = left_by("look", "done", Verdict.WATCH, job=replace(JOB, odometer_km=None))
    assert one.due_km is None


@pytest.mark.parametrize("key", CALIBRATION_STEPS)
def test_a_calibration_that_was_not_finished_is_due_at_once(key: str) -> None:
    (one,) = left_by(key, "away", Verdict.WATCH)
    assert (one.kind, one.due_on, one.due_km) == (ReminderKind.CALIBRATE, date(2026, 6, 8), None)
    assert left_by(key, "done", Verdict.SOUND) == ()


@pytest.mark.parametrize("verdict", [Verdict.SOUND, Verdict.REPLACE])
def test_what_is_sound_or_was_to_be_replaced_leaves_nothing(verdict: Verdict) -> None:
    assert left_by("look", "done", verdict) == ()


def test_long_notes_are_cut_and_a_step_without_a_result_leaves_nothing() -> None:
    (one,) = left_by("look", "done", Verdict.WATCH, "", "x " * 4_000)
    assert len(one.what) <= 400
    assert reminders_of(JOB, Sheet("j", a_packet(a_step("retorque", trial=TRIAL))), SHOP, MONDAY, MONDAY.date()) == ()


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (date(2026, 1, 31), 36, date(2029, 1, 31)),
    ],
)
def test_months_end_on_a_day_there_is(day: date, months: int, expected: date) -> None:
    assert months_after(day, months) == expected


def test_the_steps_and_answers_it_asks_for_are_the_procedures_own() -> None:
    closing = {step.key: step for step in the_book().procedures["closing"].steps}
    assert closing.keys() >= {RETORQUE_STEP, *CALIBRATION_STEPS}
    trial = closing[RETORQUE_STEP].trial
    assert trial is not None
    assert {one.key for one in trial.choices} > set(RETORQUE_ANSWERS)


# --- In the office --------------------------------------------------------------------------------------------------


def with_a_part_to_watch() -> Workshop:
    """A job with a part to watch, handed back on Monday, its odometer at 81,000 km."""
    made = an_office()
    play = Play(a_packet(a_step("look", trial=TRIAL), gates=(), wrenches=()))
    play.does(ADA, e.TestRecorded(step="look", choice="done", verdict=Verdict.WATCH, reason="a little play"))
    play.finishes("look")
    job = a_small_job(made, play)
    made.save("jobs", replace(job, odometer_km=81_000))
    hand_back(made.office, FAY.id, job.number, "")
    return made


@pytest.fixture
def here() -> Workshop:
    return with_a_part_to_watch()


def days(here: Workshop, number: int) -> None:
    here.clock.forward(days=number)


def test_a_handback_makes_its_reminders_and_they_come_due(here: Workshop) -> None:
    (one,) = here.all("reminders")
    assert (one.kind, one.due_on, one.due_km, one.vehicle) == (
        *(ReminderKind.WATCH, date(2026, 12, 8), 91_000, VEHICLE.id),
    )
    assert [len(part) for part in shown(here)] == [0, 0, 1]
    days(here, 160)
    assert [len(part) for part in shown(here)] == [0, 1, 0]
    days(here, 30)
    assert [len(part) for part in shown(here)] == [1, 0, 0]
    assert due(here) == 1


def test_a_vehicle_that_drove_far_is_due_when_it_is_here_again(here: Workshop) -> None:
    days(here, 3)
    here.opens(odometer_km=90_999)
    assert due(here) == 0
    days(here, 3)
    here.opens(odometer_km=91_000)
    assert due(here) == 1
    assert [len(part) for part in shown(here)] == [1, 0, 0]


def test_the_day_the_customer_comes_counts_before_the_shops_own(here: Workshop) -> None:
    """Agreed on at the handback, or called off again: the newest word counts."""
    (watched,) = here.all("reminders")
    here.add("reminders", replace(watched, id="wheels", kind=ReminderKind.RETORQUE, due_on=date(2026, 6, 22)))
    assert due_days(here) == [date(2026, 6, 22), date(2026, 12, 8)]
    comes_at = MONDAY + timedelta(days=30)
    here.add("retorques", Retorque("r-1", watched.job, comes_at, FAY.id, FAY.name, MONDAY))
    assert due_days(here) == [date(2026, 7, 8), date(2026, 12, 8)]
    days(here, 20)
    assert due(here) == 0
    days(here, 10)
    assert due(here) == 1
    here.add("retorques", Retorque("r-2", watched.job, None, FAY.id, FAY.name, MONDAY))
    assert due_days(here) == [date(2026, 6, 22), date(2026, 12, 8)]


def test_it_is_marked_done_once_by_name_and_stands_in_the_history(here: Workshop) -> None:
    (one,) = here.all("reminders")
    mark_done(here.office, DEE.id, one.id, " No more play than before ")
    kept = here.get("reminders", one.id)
    assert (kept.done_by, kept.done_words, kept.done_at) == (DEE.id, "No more play than before", here.clock.now)
    assert [len(part) for part in shown(here)] == [0, 0, 0]

    with pytest.raises(Refused) as refused:
        mark_done(here.office, FAY.id, one.id, "again")
    assert [(p.code, p.details["name"]) for p in refused.value.problems] == [("reminder_done", DEE.name)]
    assert here.get("reminders", one.id) == kept

    (story,) = see_history(here.office, VEHICLE.id).jobs
    told = next(group for group in story.groups if group.key == "reminders")
    assert "No more play than before" in told.lines[0].what
    assert told.lines[0].by.startswith(DEE.name)


def test_too_many_words_and_an_unknown_reminder_are_refused(here: Workshop) -> None:
    (one,) = here.all("reminders")
    with pytest.raises(Refused) as refused:
        mark_done(here.office, DEE.id, one.id, "x" * 401)
    assert [p.code for p in refused.value.problems] == ["too_long"]
    with pytest.raises(NotFound):
        mark_done(here.office, DEE.id, "nothing", "")
    assert here.get("reminders", one.id).done_at is None


def test_made_again_they_are_the_same_and_what_is_done_stays_done(here: Workshop) -> None:
    (one,) = here.all("reminders")
    mark_done(here.office, DEE.id, one.id, "")
    rebuild(here.office)
    assert [r.done_by for r in here.all("reminders")] == [DEE.id]


def test_a_sheet_that_is_not_handed_back_leaves_nothing(here: Workshop) -> None:
    with here.store.writing() as unit:
        job = unit.jobs.all()[0]
        make_reminders(unit, replace(job, id="j-2"), Sheet("j-2", a_packet()))
        assert len(unit.reminders.all()) == 1


def shown(here: Workshop) -> tuple[object, ...]:
    seen = see_reminders(here.office)
    return seen.due, seen.near, seen.later


def due_days(here: Workshop) -> list[date]:
    seen = see_reminders(here.office)
    return [one.due_on for part in (seen.due, seen.near, seen.later) for one in part]


def due(here: Workshop) -> int:
    with here.store.reading() as unit:
        return count_due(unit, here.clock.now)
