"""People, bays, tools and the workshop's facts: what is kept, and what is sent back with which problem."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.domain.problems import NotFound, Refused
from app.domain.records import Role, ToolKind
from app.use_cases.keep_bay import BayWanted, add_bay, change_bay
from app.use_cases.keep_person import PersonWanted, add_person, change_person, unlock
from app.use_cases.keep_shop import ShopWanted, keep_shop
from app.use_cases.keep_tool import ToolWanted, add_tool, change_tool, put_back_in_use, tag_out
from tests.builders import ADA, FAY
from tests.offices import CAST, SHOP, Workshop, an_office

NO_GUS = tuple(one for one in CAST if one.id != "p-gus")


def refused(act: Callable[[], Any]) -> dict[str, str]:
    """What a use case refuses: code by field."""
    with pytest.raises(Refused) as caught:
        act()
    return {problem.field: problem.code for problem in caught.value.problems}


# --- People ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pin", "again", "code"),
    [
        ("", "", "pin_form"),
        ("123", "123", "pin_form"),
        ("123456789", "123456789", "pin_form"),
        ("25a0", "25a0", "pin_form"),
        ("٢٥٨٠", "٢٥٨٠", "pin_form"),
        ("1111", "1111", "pin_easy"),
        ("1234", "1234", "pin_easy"),
        ("9876", "9876", "pin_easy"),
        ("8901", "8901", "pin_easy"),
        ("2580", "2581", "pin_differs"),
    ],
)
def test_a_pin_that_is_easy_or_mistyped_is_refused(pin: str, again: str, code: str) -> None:
    wanted = PersonWanted("Ivo", frozenset({Role.TECHNICIAN}), pin, again)
    assert code in refused(lambda: add_person(an_office().office, wanted)).values()


def test_every_problem_of_a_new_person_is_said_at_once() -> None:
    found = refused(lambda: add_person(an_office().office, PersonWanted(" ", frozenset(), "12", "13")))
    assert found == {"name": "name_missing", "roles": "roles_missing", "pin": "pin_form"}


def test_two_people_of_one_name_are_refused() -> None:
    wanted = PersonWanted("Ada", frozenset({Role.DESK}), "2580", "2580")
    assert refused(lambda: add_person(an_office().office, wanted)) == {"name": "name_taken"}


@pytest.mark.parametrize(("roles", "active"), [({Role.FOREMAN}, False), ({Role.DESK}, True)])
def test_the_last_foreman_stays(roles: set[Role], active: bool) -> None:
    here = an_office(people=NO_GUS)
    wanted = PersonWanted("Fay", frozenset(roles))
    assert refused(lambda: change_person(here.office, FAY.id, wanted, active=active)) == {"roles": "last_foreman"}
    assert here.get("people", FAY.id).active


def test_a_foreman_may_go_when_another_is_there() -> None:
    here = an_office()
    change_person(here.office, FAY.id, PersonWanted("Fay", frozenset({Role.FOREMAN})), active=False)
    assert not here.get("people", FAY.id).active


def test_a_new_pin_takes_the_lock_away_and_no_pin_keeps_the_old() -> None:
    here = an_office()
    locked = replace(here.get("people", ADA.id), wrong_tries=8, locked_until=here.clock.now + timedelta(minutes=9))
    here.save("people", locked)
    wanted = PersonWanted("Ada", frozenset({Role.TECHNICIAN}))

    change_person(here.office, ADA.id, wanted, active=True)
    assert here.get("people", ADA.id) == locked

    change_person(here.office, ADA.id, replace(wanted, pin="4792", pin_again="4792"), active=True)
    after = here.get("people", ADA.id)
    assert (after.wrong_tries, after.locked_until) == (0, None)
    assert here.office.pins.matches("4792", after.pin_hash)


def test_unlocking_somebody_who_is_not_there_says_so() -> None:
    with pytest.raises(NotFound):
        unlock(an_office().office, "nobody")


# --- Bays ------------------------------------------------------------------------------------------------------------

BAY = BayWanted("Bay 9", "two_post", "3500 kg", "2026-01-15")


@pytest.mark.parametrize(
    ("typed", "grams"), [("3500", 3_500_000), ("3.5 t", 3_500_000), ("3500,5 kg", 3_500_500), ("7716 lb", 3_499_919)]
)
def test_a_bays_capacity_is_taken_in_any_unit_of_mass(typed: str, grams: int) -> None:
    """The pound is 0.45359237 kg by definition (NIST SP 811, appendix B): 7716 lb are 3499.9187 kg."""
    assert add_bay(an_office().office, replace(BAY, capacity=typed)).capacity_g == grams


@pytest.mark.parametrize(
    ("over", "expected"),
    [
        ({"name": ""}, {"name": "bay_name_missing"}),
        ({"name": "x" * 61}, {"name": "too_long"}),
        ({"name": "Bay 1"}, {"name": "bay_name_taken"}),
        ({"lift": "crane"}, {"lift": "lift_missing"}),
        ({"capacity": ""}, {"capacity": "value_missing"}),
        ({"capacity": "3500 mm"}, {"capacity": "amount_other_kind"}),
        ({"capacity": "-3500"}, {"capacity": "value_bounds"}),
        ({"capacity": "0"}, {"capacity": "value_bounds"}),
        ({"capacity": "3500 t"}, {"capacity": "value_bounds"}),
        ({"capacity": "much"}, {"capacity": "amount_unclear"}),
        ({"inspected_on": "2026-06-09"}, {"inspected_on": "day_to_come"}),
        ({"inspected_on": "yesterday"}, {"inspected_on": "day_unclear"}),
        ({"inspected_on": "0026-01-01"}, {"inspected_on": "day_unclear"}),
    ],
)
def test_a_bay_that_cannot_be_is_refused(over: dict[str, str], expected: dict[str, str]) -> None:
    assert refused(lambda: add_bay(an_office().office, replace(BAY, **over))) == expected  # type: ignore[arg-type]


def test_today_by_the_shops_own_clock_is_not_to_come() -> None:
    """At 22:30 UTC it is tomorrow in Helsinki, and a lift inspected there this night was inspected today."""
    here = an_office()
    here.clock.forward(hours=14, minutes=30)
    assert add_bay(here.office, replace(BAY, inspected_on="2026-06-09")).inspected_on is not None


def test_changing_a_bay_announces_it_to_the_floor() -> None:
    here = an_office()
    change_bay(here.office, "bay-1", replace(BAY, name="Bay 1", active=False))
    assert not here.get("bays", "bay-1").active
    assert "floor" in here.announced


# --- Tools -----------------------------------------------------------------------------------------------------------

WRENCH = ToolWanted("W9", "torque_wrench", "Click wrench", "N·m", "40", "200", "420 mm", "2026-12-31")
STANDS = ToolWanted("S1", "stands", "Stands", rating="3 t", basis="pair")


def test_a_wrench_is_kept_in_small_units_with_its_scale() -> None:
    typed = replace(WRENCH, unit="lbf·ft", low="30", high="150", length="16 1/2 in")
    tool = add_tool(an_office().office, FAY.id, typed).tool
    # 30 lbf·ft are 40.6745 N·m: pound, standard gravity and foot by definition (NIST SP 811, appendix B).
    assert (tool.unit, tool.low_mnm, tool.length_um) == ("lbf·ft", 40_675, 419_100)


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        (replace(WRENCH, tag=""), {"tag": "tag_missing"}),
        (replace(WRENCH, name=" "), {"name": "tool_name_missing"}),
        (replace(WRENCH, kind="hammer"), {"kind": "tool_kind_missing"}),
        (replace(WRENCH, unit="mm"), {"unit": "torque_unit_missing"}),
        (replace(WRENCH, unit="dyn·cm"), {"unit": "torque_unit_missing"}),
        (replace(WRENCH, low="200", high="40"), {"high": "range_swapped"}),
        (replace(WRENCH, low="40", high="40"), {"high": "range_swapped"}),
        (replace(WRENCH, low=""), {"low": "value_missing"}),
        (replace(WRENCH, high="200 kg"), {"high": "amount_other_kind"}),
        (replace(WRENCH, length="42 km"), {"length": "value_bounds"}),
        (replace(WRENCH, due_on="31.12.2026"), {"due_on": "day_unclear"}),
        (replace(STANDS, basis=""), {"basis": "basis_missing"}),
        (replace(STANDS, rating="3 N"), {"rating": "amount_other_kind"}),
        (replace(STANDS, kind="spring_compressor", rating="3000 mm"), {"rating": "amount_other_kind"}),
    ],
)
def test_a_tool_that_cannot_be_is_refused(wanted: ToolWanted, expected: dict[str, str]) -> None:
    assert refused(lambda: add_tool(an_office().office, FAY.id, wanted)) == expected


def test_a_tag_is_there_once() -> None:
    here = an_office()
    add_tool(here.office, FAY.id, WRENCH)
    assert refused(lambda: add_tool(here.office, FAY.id, replace(STANDS, tag="W9"))) == {"tag": "tag_taken"}


def test_a_compressor_is_rated_as_a_force() -> None:
    tool = add_tool(an_office().office, FAY.id, ToolWanted("C1", "spring_compressor", "Compressor", rating="9 kN")).tool
    assert (tool.kind, tool.rating, tool.rating_basis) == (ToolKind.SPRING_COMPRESSOR, 9_000_000, "")


def wrench_on(here: Workshop, job: Any, tag: str) -> Any:
    return here.sheet(job).packet.wrench_by_tag.get(tag)


def test_a_wrench_tagged_out_reaches_the_open_sheets() -> None:
    here = an_office()
    tool = add_tool(here.office, FAY.id, WRENCH).tool
    job = here.opens()
    assert wrench_on(here, job, "W9").fault == ""

    kept = tag_out(here.office, FAY.id, tool.id, "dropped")
    assert wrench_on(here, job, "W9").fault == "dropped"
    assert kept.renewed.numbers == (job.number,)

    put_back_in_use(here.office, FAY.id, tool.id)
    assert wrench_on(here, job, "W9").fault == ""


def test_tagging_out_wants_a_reason_and_changing_keeps_it() -> None:
    here = an_office()
    tool = add_tool(here.office, FAY.id, WRENCH).tool
    assert refused(lambda: tag_out(here.office, FAY.id, tool.id, "  ")) == {"fault": "fault_missing"}
    tag_out(here.office, FAY.id, tool.id, "dropped")
    change_tool(here.office, FAY.id, tool.id, replace(WRENCH, name="Click wrench, long"))
    assert here.get("tools", tool.id).fault == "dropped"


# --- The workshop ----------------------------------------------------------------------------------------------------

FACTS = ShopWanted(
    *(SHOP.name, SHOP.address, SHOP.email, SHOP.phone, SHOP.timezone, "N·m", "60", "25", "25", "80"),
    *("14", "6", "10000", "90"),
)


@pytest.mark.parametrize(
    ("over", "expected"),
    [
        ({"name": ""}, {"name": "shop_name_missing"}),
        ({"email": "desk@"}, {"email": "address_after_at"}),
        ({"timezone": "Upper Ford"}, {"timezone": "timezone_unknown"}),
        ({"timezone": "../etc/passwd"}, {"timezone": "timezone_unknown"}),
        ({"torque_unit": "horse"}, {"torque_unit": "torque_unit_missing"}),
        ({"gate_minutes": "0"}, {"gate_minutes": "whole_number"}),
        ({"gate_minutes": "-60"}, {"gate_minutes": "whole_number"}),
        ({"gate_minutes": "6,5"}, {"gate_minutes": "whole_number"}),
        ({"stand_margin_percent": "301"}, {"stand_margin_percent": "whole_number"}),
        ({"compressor_margin_percent": ""}, {"compressor_margin_percent": "whole_number"}),
        ({"retorque_km": "9" * 30}, {"retorque_km": "whole_number"}),
        ({"retorque_days": "0"}, {"retorque_days": "whole_number"}),
        ({"watch_months": "six"}, {"watch_months": "whole_number"}),
        ({"watch_km": "100001"}, {"watch_km": "whole_number"}),
        ({"comeback_days": "-1"}, {"comeback_days": "whole_number"}),
    ],
)
def test_workshop_facts_that_cannot_be_are_refused(over: dict[str, str], expected: dict[str, str]) -> None:
    here = an_office()
    assert refused(lambda: keep_shop(here.office, FAY.id, replace(FACTS, **over))) == expected
    assert here.get("shops", SHOP.id) == SHOP


def test_a_new_margin_reaches_the_open_sheets() -> None:
    here = an_office()
    job = here.opens()
    edition = here.sheet(job).packet.edition
    _, renewed = keep_shop(here.office, FAY.id, replace(FACTS, gate_minutes="30"))
    assert renewed.numbers == (job.number,)
    assert here.sheet(job).packet.edition == edition + 1
    assert {gate.stale_after_s for gate in here.sheet(job).packet.gates if gate.key == "stands"} == {1_800}
