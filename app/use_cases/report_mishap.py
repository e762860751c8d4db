"""Report what happened to a tool that nobody can see on it afterwards; look at it, and say what was found.

Until somebody has looked, the tool is tagged out. An overload of more than a quarter, a drop and a repair make a wrench
due for calibration (`torque_tool.due`); whoever looks at it is told so and decides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Mishap, Tool, ToolEvent, ToolKind
from app.trade.quantity import Dimension
from app.use_cases.keep_tool import TORQUE_MNM, renewed, save_tool
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.renew_sheets import Renewed
from app.use_cases.shop_time import date_words
from app.use_cases.typed_fields import Reader

WORDS = {Mishap.OVERLOAD: "Overloaded", Mishap.DROP: "Dropped", Mishap.OTHER: "Something happened to it"}


@dataclass(frozen=True, slots=True)
class MishapWanted:
    """What was typed. torque: with how much a wrench was overloaded, where somebody knows."""

    id: str
    kind: str
    words: str = ""
    torque: str = ""


@dataclass(frozen=True, slots=True)
class Reported:
    event: ToolEvent
    tool: Tool
    renewed: Renewed


def report_mishap(office: Office, person: str, tool_id: str, wanted: MishapWanted) -> Reported:
    """Anybody may report; nobody is asked whose fault it was. A form sent twice is one report.

    Raises: Refused with every problem found; NotFound.
    """
    with office.store.writing() as unit:
        tool = unit.tools.get(tool_id)
        if tool is None:
            raise NotFound("tool", tool_id)
        before = unit.tool_events.get(wanted.id) if wanted.id else None
        if before is not None:
            return Reported(before, tool, Renewed())
        event = _read(office, person, tool, wanted)
        day = office.clock().astimezone(zone_of(the_shop(unit))).date()
        unit.tool_events.add(event)
        said = f"{WORDS[event.kind]} on {date_words(day)}; nobody has looked at it yet"
        # What was written on its tag before stays on it.
        tool = replace(tool, fault=tool.fault or said)
        save_tool(unit, tool)
        unit.commit()
    return Reported(event, tool, renewed(office, person))


def look_at_mishap(office: Office, person: str, event_id: str, words: str, back: str) -> Reported:
    """Say what was found. back "yes": it may be used again; otherwise it stays tagged out, for the reason found.

    Raises: Refused without words, or when somebody has looked already; NotFound.
    """
    read = Reader()
    said = read.words(words, "seen_words", missing="mishap_words_missing", limit=200)
    if back not in ("yes", "no"):
        read.wrong("mishap_back_missing", "back")
    read.done()
    with office.store.writing() as unit:
        event = unit.tool_events.get(event_id)
        tool = unit.tools.get(event.tool) if event is not None else None
        if event is None or tool is None:
            raise NotFound("tool", event_id)
        if event.seen_by is not None:
            raise Refused([Problem("mishap_seen", "seen_words")])
        event = replace(event, seen_by=person, seen_at=office.clock(), seen_words=said)
        unit.tool_events.save(event)
        if back == "no":
            tool = replace(tool, fault=said)
        elif all(one.seen_by is not None for one in unit.tool_events.where(tool=tool.id)):
            tool = replace(tool, fault="")
        save_tool(unit, tool)
        unit.commit()
    return Reported(event, tool, renewed(office, person))


def _read(office: Office, person: str, tool: Tool, wanted: MishapWanted) -> ToolEvent:
    read = Reader()
    if wanted.kind not in {one.value for one in Mishap}:
        read.wrong("mishap_kind_missing", "kind")
    words = read.words(wanted.words, "words", limit=200)
    if wanted.kind == Mishap.OTHER and not words:
        read.wrong("mishap_words_missing", "words")
    torque = None
    if tool.kind is ToolKind.TORQUE_WRENCH and wanted.kind == Mishap.OVERLOAD:
        torque = read.amount(wanted.torque, "torque", Dimension.TORQUE, tool.unit, *TORQUE_MNM, optional=True)
    read.done()
    return ToolEvent(
        wanted.id or office.new_id(), tool.id, Mishap(wanted.kind), words, torque.value if torque else None,
        wanted.torque.strip()[:40] if torque else "", person, office.clock(),
    )  # fmt: skip
