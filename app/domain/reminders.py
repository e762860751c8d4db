"""What a handed-back job leaves to be called about: wheels to torque again, calibrations to finish, parts to watch.

Pure. Everything comes from the sheet as it was closed; how long after is the workshop's own choice (`Shop`). The same
job gives the same reminders with the same ids, however often they are made.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from app.domain.packet import Step, Verdict
from app.domain.records import Job, Reminder, ReminderKind, Shop
from app.domain.sheet import Outcome, Sheet, StepNow

# Keys of the closing's steps and of the answers after which the workshop has something to do.
RETORQUE_STEP, RETORQUE_ANSWERS = "retorque", ("booked", "told")
CALIBRATION_STEPS = ("height_calibration", "camera_calibration")
WORDS_LIMIT = 400


def reminders_of(job: Job, sheet: Sheet, shop: Shop, closed_at: datetime, closed_on: date) -> tuple[Reminder, ...]:
    """closed_on: the day it was handed back, where the shop is."""
    packet = sheet.packet
    if packet is None:
        return ()
    found = []
    for step in packet.steps:
        now = sheet.step(step.id)
        for kind, due_on, after_km in _due(step, now, shop, closed_on):
            due_km = job.odometer_km + after_km if job.odometer_km is not None and after_km else None
            what = _what(step, now)
            found.append(Reminder(f"{job.id}:{step.id}", job.id, job.vehicle, kind, what, due_on, due_km, closed_at))
    return tuple(found)


def _due(step: Step, now: StepNow, shop: Shop, closed_on: date) -> Iterator[tuple[ReminderKind, date, int]]:
    """The kind, the day and after how many km; at most one for a step."""
    outcome = now.outcome
    if outcome is None:
        return
    if step.key == RETORQUE_STEP:
        if outcome.choice in RETORQUE_ANSWERS:
            yield ReminderKind.RETORQUE, closed_on + timedelta(days=shop.retorque_days), shop.retorque_km
    elif step.key in CALIBRATION_STEPS:
        if outcome.verdict is not Verdict.SOUND:
            yield ReminderKind.CALIBRATE, closed_on, 0
    elif outcome.verdict is Verdict.WATCH:
        yield ReminderKind.WATCH, months_after(closed_on, shop.watch_months), shop.watch_km


def _what(step: Step, now: StepNow) -> str:
    """The step, what was seen there, the reason, and what was noted: where the day that was booked stands."""
    said = [_seen(step, now.outcome) if now.outcome is not None else "", *(note.text for note in now.notes)]
    words = " ".join(f"{step.title}: {'. '.join(one for one in said if one)}".split())
    return words if len(words) <= WORDS_LIMIT else f"{words[: WORDS_LIMIT - 1]}…"


def _seen(step: Step, outcome: Outcome) -> str:
    choices = {one.key: one.words for one in step.trial.choices} if step.trial is not None else {}
    return ", ".join(one for one in (choices.get(outcome.choice, ""), outcome.reason) if one)


def months_after(day: date, months: int) -> date:
    """The same day so many months later; the month's last where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
