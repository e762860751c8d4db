"""What a sheet's page says after one of its forms was sent, and where it looks next. Pure; the tablet has a twin."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from app.domain.case import Ruling
from app.domain.problems import Problem
from app.domain.sheet import Sheet
from app.domain.view_parts import Look, Told

LOOKED_AT = 200
# What a person read off a wrench is asked for again when it was set aside: it belonged to that tightening.
NEVER_KEPT = ("reading.", "new_part", "part.", "answer.", "value.")


@dataclass(frozen=True, slots=True)
class Outcome:
    """Either problems, and nothing was recorded; or the ruling on each entry, and the sheet after the last."""

    problems: tuple[Problem, ...] = ()
    rulings: tuple[Ruling, ...] = ()
    sheet: Sheet | None = None

    @property
    def accepted(self) -> bool:
        return bool(self.rulings) and all(one.accepted for one in self.rulings)


def look_after(fields: Mapping[str, str], outcome: Outcome) -> Look:
    """Where to look next: on at the same step while something is open in it, and at what could not be recorded."""
    step = fields.get("step", "") or fields.get("look", "")
    if not outcome.accepted:
        look = {name: fields.get(name, "").strip()[:LOOKED_AT] for name in ("wrench", "extension", "angle")}
        return Look(step[:LOOKED_AT], fields.get("fastener", "")[:LOOKED_AT], **look)
    sheet = outcome.sheet
    packet = sheet.packet if sheet is not None else None
    on = packet.step_by_id.get(step) if packet is not None else None
    # A step just closed gives way to the next one; one that still waits, or was opened again, stays in hand.
    if sheet is None or on is None or (sheet.step(on.id).done is not None and fields.get("kind") == "step_done"):
        return Look()
    return Look(step)


def told_of(fields: Mapping[str, str], outcome: Outcome, say: Callable[[str, Mapping[str, str | int]], str]) -> Told:
    """What the page says about the form just sent, and what typed it keeps. say: `texts.say_ruling`."""
    form = fields.get("sheet_form", "")
    if outcome.problems:
        lines = tuple((one.field, say(one.code, one.details)) for one in outcome.problems)
        troubles = {name: words for name, words in reversed(lines) if name}
        return Told(form=form, typed=fields, troubles=troubles, lines=lines)
    if outcome.accepted:
        return Told(recorded=True)
    lines = tuple(("", say(one.reason, one.details)) for one in outcome.rulings if not one.accepted)
    kept = {name: text for name, text in fields.items() if not name.startswith(NEVER_KEPT)}
    return Told(form=form, typed=kept, lines=lines)
