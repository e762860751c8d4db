"""What has to be looked at before a finding at the suspension counts: tyres, wheel bearings, steering, brakes.

A finding is a test of a part of the suspension with the verdict watch or replace. It counts, in the letter and in the
ranking of suspects, once these have been judged in the same inspection, whatever the judgement; until then it is shown
as what it is: seen, and not told apart yet. Recording is never stopped by it.

Source: common practice, no source; which steps these are stands in `shared/rules/suspects.json`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from app.domain.packet import Line, Packet, Step, Verdict
from app.domain.sheet import Sheet
from app.domain.standing import missing_parts
from app.domain.suspect_table import SuspectTable


class Judged(StrEnum):
    """SOUND: judged, and nothing speaks against it. FOUND: judged, and something does: it comes first."""

    NOT_YET = "not_yet"
    SOUND = "sound"
    FOUND = "found"


@dataclass(frozen=True, slots=True)
class Group:
    """One of what is ruled out, in one inspection. key: tyres, wheel_bearings, steering or brakes.

    left: the steps of it that are still to be judged. found: those that did not come out sound.
    """

    key: str
    judged: Judged
    steps: tuple[Step, ...]
    left: tuple[Step, ...]
    found: tuple[Step, ...]


def inspections(packet: Packet) -> tuple[Line, ...]:
    return tuple(line for line in packet.lines if line.procedure == "inspection")


def ruling_out(table: SuspectTable, sheet: Sheet, line: str) -> tuple[Group, ...]:
    """How each stands in this line's inspection. What the axle does not have (steering, at the rear) is left out."""
    return tuple(_groups(table, sheet, line))


def _groups(table: SuspectTable, sheet: Sheet, line: str) -> Iterator[Group]:
    steps = sheet.packet.steps_of_line.get(line, ()) if sheet.packet is not None else ()
    for key, wanted in table.rule_out.items():
        its = tuple(step for step in steps if step.key in wanted)
        if not its:
            continue
        left = tuple(step for step in its if missing_parts(sheet, step))
        found = tuple(step for step in its if _speaks(sheet, step))
        yield Group(key, Judged.NOT_YET if left else Judged.FOUND if found else Judged.SOUND, its, left, found)


def _speaks(sheet: Sheet, step: Step) -> bool:
    outcome = sheet.step(step.id).outcome
    return outcome is not None and outcome.verdict is not Verdict.SOUND


def not_ruled_out(table: SuspectTable, sheet: Sheet, line: str) -> tuple[str, ...]:
    """The keys of what has not been judged yet in this line's inspection; empty once its findings count."""
    return tuple(one.key for one in ruling_out(table, sheet, line) if one.judged is Judged.NOT_YET)


def is_suspension_test(table: SuspectTable, step: Step) -> bool:
    """Whether a finding in this step waits for the ruling out: a test, in the table, of none of what is ruled out."""
    return step.trial is not None and step.key in table.signs and step.key not in table.ruled_out_first


def waits_for_ruling_out(table: SuspectTable, sheet: Sheet, step: Step) -> tuple[str, ...]:
    """What keeps this step's finding from counting; empty where it counts, or where it is no such finding."""
    packet = sheet.packet
    line = packet.line_by_id.get(step.line) if packet is not None else None
    if line is None or line.procedure != "inspection" or not is_suspension_test(table, step):
        return ()
    outcome = sheet.step(step.id).outcome
    if outcome is None or outcome.verdict is Verdict.SOUND:
        return ()
    return not_ruled_out(table, sheet, step.line)
