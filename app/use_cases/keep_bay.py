"""Add a bay or change it: its name, its lift, what it carries, when the lift was last inspected."""

from __future__ import annotations

from dataclasses import dataclass

from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.records import Bay, LiftKind, ToolKind
from app.trade.quantity import Dimension
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.typed_fields import Reader

# Grams. House rule: what no lift for road vehicles is below or beyond; a number outside is a slip of the unit.
LEAST_G, MOST_G = 250_000, 60_000_000


@dataclass(frozen=True, slots=True)
class BayWanted:
    """What was typed: capacity in any unit of mass (kg when none is given), the day as YYYY-MM-DD or empty.

    lift_tool: the id of the lift in the tool crib; its rating and inspection then stand for capacity and day.
    """

    name: str
    lift: str
    capacity: str
    inspected_on: str = ""
    active: bool = True
    lift_tool: str = ""


def add_bay(office: Office, wanted: BayWanted) -> Bay:
    """Raises: Refused with every problem found."""
    bay = _read(office, office.new_id(), wanted)
    with office.store.writing() as unit:
        try:
            unit.bays.add(bay)
        except AlreadyThere as taken:
            raise Refused([Problem("bay_name_taken", "name", {"name": bay.name})]) from taken
        unit.commit()
    office.announce("floor")
    return bay


def change_bay(office: Office, bay_id: str, wanted: BayWanted) -> Bay:
    """Raises: Refused with every problem found; NotFound."""
    with office.store.reading() as unit:
        if unit.bays.get(bay_id) is None:
            raise NotFound("bay", bay_id)
    bay = _read(office, bay_id, wanted)
    with office.store.writing() as unit:
        try:
            unit.bays.save(bay)
        except AlreadyThere as taken:
            raise Refused([Problem("bay_name_taken", "name", {"name": bay.name})]) from taken
        unit.commit()
    office.announce("floor")
    return bay


def _read(office: Office, bay_id: str, wanted: BayWanted) -> Bay:
    read = Reader()
    name = read.words(wanted.name, "name", missing="bay_name_missing", limit=60)
    if wanted.lift not in {kind.value for kind in LiftKind}:
        read.wrong("lift_missing", "lift")
    with office.store.reading() as unit:
        today = office.clock().astimezone(zone_of(the_shop(unit))).date()
        tool = unit.tools.get(wanted.lift_tool) if wanted.lift_tool else None
        others = [one.name for one in unit.bays.where(lift_tool=wanted.lift_tool) if one.id != bay_id] if tool else []
    if wanted.lift_tool and (tool is None or tool.kind is not ToolKind.LIFT or wanted.lift == LiftKind.FLAT):
        read.wrong("lift_tool_unfit", "lift_tool")
    elif others:
        read.wrong("lift_tool_elsewhere", "lift_tool", bay=others[0])
    elif tool is not None:
        read.done()
        return Bay(bay_id, name, LiftKind(wanted.lift), tool.rating, tool.checked_on, wanted.active, tool.id)
    capacity = read.amount(wanted.capacity, "capacity", Dimension.MASS, "kg", LEAST_G, MOST_G)
    inspected = read.day(wanted.inspected_on, "inspected_on")
    if inspected is not None and inspected > today:
        read.wrong("day_to_come", "inspected_on")
    read.done()
    return Bay(bay_id, name, LiftKind(wanted.lift), capacity.value if capacity else 0, inspected, wanted.active)
