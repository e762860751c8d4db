"""Tools at a gate: the tag is asked for, and what is out of date, too weak or tagged out keeps it shut.

That a tool is used within its printed rating and inspected is ASME PASE's rule for stands and jacks and ANSI/ALI
ALOIM's for lifts (named at the head of the gates' file); six months for stands and jacks is the workshop's own setting.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.domain import entry as e
from app.domain.case import Reason
from app.domain.crib import CribTool, tool_choices
from app.domain.packet import Check, CheckKind, Choice, Packet, Support, packet_from
from app.domain.records import Tool, ToolKind
from tests.builders import BEGAN, ON_STANDS, Play, a_fastener, a_gate, a_packet, a_step, ms
from tests.offices import VEHICLE, Workshop, an_office

GOOD = CribTool("S1", "stands", "Tall", 1_500_000, "3000 kg, the pair", "2026-03-02", ms(BEGAN), True, "")


@pytest.mark.parametrize(
    ("tool", "against"),
    [
        (replace(GOOD, fault="bent foot"), "S1, Tall: tagged out: bent foot"),
        (replace(GOOD, due_on="", due_end_ms=None), "S1, Tall: nobody has written down an inspection"),
        (replace(GOOD, bears=1_199_999), "S1, Tall: too weak, its label says 3000 kg, the pair"),
    ],
)
def test_a_tool_that_may_not_be_used_says_why_and_what_would_do(tool: CribTool, against: str) -> None:
    choices, would_do = tool_choices((tool, replace(GOOD, tag="S2")), 1_200_000)

    assert [(one.key, one.passes) for one in choices] == [("S2", True), ("S1", False), ("-", False)]
    assert choices[1].words == against
    assert would_do == "In the crib these would do: S2 (until 2 Mar 2026)."


def test_when_none_would_do_it_is_said() -> None:
    choices, would_do = tool_choices((replace(GOOD, fault="bent"),), None)

    assert not any(one.passes for one in choices)
    assert would_do == "None in the crib would do: ask the foreman."


def test_a_compressor_needs_no_date_and_has_none_shown() -> None:
    choices, _ = tool_choices((replace(GOOD, needs_date=False, due_on="", due_end_ms=None),), 1)
    assert choices[0] == Choice("S1", "S1, Tall: 3000 kg, the pair", True)


def by_tag(until_ms: int | None) -> Play:
    tag = Check("tag", CheckKind.SEEN, "Tag?", "Take S2.", choices=(Choice("S1", "S1", True, until_ms),))
    step = a_step("work", supports=ON_STANDS, gates=("stands:front",), fasteners=(a_fastener(),))
    play = Play(a_packet(step, gates=(a_gate(checks=(tag,)),)))
    play.holds_vehicle(Support.STANDS_FRAME)
    play.answers({"tag": e.Answer(choice="S1")})
    return play


def test_a_tool_whose_last_day_has_ended_keeps_the_gate_shut() -> None:
    """The packet alone rules it, so a tablet without a network refuses as the office does."""
    assert by_tag(ms(BEGAN) + 3_600_000).signs("110 N·m").accepted
    assert by_tag(ms(BEGAN)).signs("110 N·m").reason == Reason.GATE_SHUT
    assert by_tag(None).signs("110 N·m").accepted


def test_a_packet_pinned_before_there_were_such_choices_keeps_its_hash() -> None:
    packet = by_tag(None).sheet.packet
    assert packet is not None
    plain = packet.as_json()
    assert "until_ms" not in plain["gates"][0]["checks"][0]["choices"][0]
    assert packet_from(plain).hash == packet.hash


# --- Compiled from the crib ------------------------------------------------------------------------------------------

STANDS = Tool(
    "t-s1", "S1", ToolKind.STANDS, "Tall", rating=3_000_000, rating_basis="each", due_on=date(2026, 12, 1)
)  # fmt: skip


def checks_of(here: Workshop, gate: str) -> dict[str, Check]:
    packet: Packet = here.sheet(here.opens()).packet
    found = next(one for one in packet.gates if one.id == gate)
    return {check.id: check for check in found.checks}


def test_a_crib_without_stands_asks_for_no_tag() -> None:
    assert "stands_tag" not in checks_of(an_office(), "stands:front")


def test_the_stands_of_the_crib_are_asked_for_by_tag() -> None:
    """Front 900 kg, half of it a side, and 25 % margin: at least 562.5 kg a stand; a pair of 800 kg bears 400 each."""
    here = an_office()
    weak = replace(STANDS, id="t-s2", tag="S2", rating=800_000, rating_basis="pair")
    here.add("tools", STANDS, weak)

    check = checks_of(here, "stands:front")["stands_tag"]

    assert [(one.key, one.passes) for one in check.choices] == [("S1", True), ("S2", False), ("-", False)]
    assert "too weak, its label says 800 kg, the pair" in check.choices[1].words
    assert check.otherwise.endswith("In the crib these would do: S1 (until 1 Dec 2026).")
    assert VEHICLE.front.mass_g == 900_000


def test_the_day_ends_where_the_shop_is() -> None:
    """Helsinki is two hours ahead in winter: 1 December ends at 22:00 UTC."""
    here = an_office()
    here.add("tools", STANDS)
    until = checks_of(here, "stands:front")["stands_tag"].choices[0].until_ms
    assert until == ms(BEGAN.replace(year=2026, month=12, day=1, hour=0) + timedelta(hours=22))
