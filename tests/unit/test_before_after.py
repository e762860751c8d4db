"""Before beside after: what is of the same thing, what is left out, and that the drawings show it the right way."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.drawing_compared import MOST_MDEG, Pair, alignment_picture, heights_picture, labels_of
from app.domain.packet import Axle, Measure, Packet
from app.domain.sheet import Sheet, StepNow, Taken
from app.mail.render import write_letter
from app.texts import word
from app.use_cases.before_after import ALIGNMENT, HEIGHTS, change_words, compared, said_twice
from app.use_cases.handback_letter import as_typed, handback_facts
from app.web.rendering import environment
from tests.unit.mail_cast import CUSTOMER, JOB, PACKET, SHOP, VEHICLE, a_closed_sheet, a_step, mark


def a_height(corner: str) -> Measure:
    return Measure(id=corner, ask=f"{corner}, ground to the stated point", dimension="length", unit="mm")


def an_angle(key: str) -> Measure:
    return Measure(id=key, ask=key, dimension="angle", unit="°")


BEFORE = a_step("ride_height", "opening", "Before", measures=(a_height("front_left"), a_height("rear_left")))
STATED = a_height("height_stated")
INSPECTED = a_step("ride_height", "l1", "Inspected", measures=(a_height("height_front_left"), STATED))
AFTER = a_step("ride_height", "closing", "After", measures=(a_height("front_left"), a_height("front_right")))
ANGLES = ("camber_left", "toe_left", "caster_left")
ALIGNED_BEFORE = a_step("alignment_before", "opening", "Before", measures=tuple(map(an_angle, ANGLES)))
ALIGNED = a_step("alignment_after", "closing", "After", measures=tuple(map(an_angle, ANGLES)))


def packet_with(*steps: object) -> Packet:
    return replace(PACKET, steps=(*PACKET.steps, *steps))  # type: ignore[arg-type]


def sheet_with(packet: Packet, **read: dict[str, tuple[int, int]]) -> Sheet:
    """Readings by step (dots as double underscores): measure -> (value in the small unit, minutes after the start)."""
    sheet = replace(a_closed_sheet(), packet=packet)
    for key, values in read.items():
        readings = {
            name: Taken(mark("Tomas", at), value, f"{value / 1_000:g}", "mm") for name, (value, at) in values.items()
        }
        sheet = sheet.with_step(key.replace("__", "."), StepNow(readings=readings))
    return sheet


def rows(packet: Packet, sheet: Sheet, kind: str) -> dict[str, tuple[str, str, str]]:
    return {
        row.key: (row.before, row.after, row.change)
        for group in compared(packet, sheet, as_typed)
        if group.kind == kind
        for row in group.rows
    }


def test_a_height_before_and_after_stand_side_by_side_with_the_change() -> None:
    packet = packet_with(BEFORE, AFTER)
    sheet = sheet_with(
        packet,
        opening__ride_height={"front_left": (643_000, 1), "rear_left": (668_000, 2)},
        closing__ride_height={"front_left": (656_500, 3), "front_right": (658_000, 4)},
    )

    assert rows(packet, sheet, HEIGHTS) == {
        "front_left": ("643 mm", "656.5 mm", "+13.5 mm"),
        "front_right": ("", "658 mm", ""),
        "rear_left": ("668 mm", "", ""),
    }


def test_what_an_inspection_measured_is_the_before_and_the_maker_s_height_is_none() -> None:
    packet = packet_with(INSPECTED, AFTER)
    sheet = sheet_with(
        packet,
        l1__ride_height={"height_front_left": (640_000, 1), "height_stated": (655_000, 2)},
        closing__ride_height={"front_left": (655_000, 3)},
    )

    assert rows(packet, sheet, HEIGHTS) == {"front_left": ("640 mm", "655 mm", "+15 mm")}


def test_without_anything_measured_after_the_work_nothing_is_compared() -> None:
    packet = packet_with(BEFORE, AFTER)
    sheet = sheet_with(packet, opening__ride_height={"front_left": (643_000, 1)})

    assert compared(packet, sheet, as_typed) == ()


def test_the_alignment_of_each_axle_is_a_group_of_its_own() -> None:
    rear = replace(ALIGNED, id="closing.rear", axle=Axle.REAR)
    packet = packet_with(ALIGNED_BEFORE, ALIGNED, rear)
    sheet = sheet_with(
        packet,
        opening__alignment_before={"camber_left": (-1_350, 1)},
        closing__alignment_after={"camber_left": (-850, 2)},
        closing__rear={"toe_left": (80, 3)},
    )

    groups = compared(packet, sheet, as_typed)
    assert [(one.kind, one.axle, one.drawing) for one in groups] == [
        (ALIGNMENT, "front", "alignment-front"),
        (ALIGNMENT, "rear", "alignment-rear"),
    ]
    assert groups[0].rows[0].change == "+0.5°"


def test_fault_codes_are_told_before_and_after() -> None:
    assert said_twice(PACKET, a_closed_sheet()) == ()


@pytest.mark.parametrize(
    ("kind", "small", "words"),
    [
        (HEIGHTS, 13_000, "+13 mm"), (HEIGHTS, -250, "−0.3 mm"), (HEIGHTS, 49, "0 mm"), (HEIGHTS, 0, "0 mm"),
        (ALIGNMENT, 500, "+0.5°"), (ALIGNMENT, -1_350, "−1.35°"), (ALIGNMENT, 4, "0°"), (ALIGNMENT, 50, "+0.05°"),
    ],
)  # fmt: skip
def test_a_change_is_told_with_its_sign_to_what_can_be_read_off(kind: str, small: int, words: str) -> None:
    assert change_words(kind, small) == words


# --- The drawings ---------------------------------------------------------------------------------------------------

LABELS = labels_of(lambda group, key: word(f"{group}.{key}"))


def test_the_higher_corner_has_the_longer_bar() -> None:
    pairs = {"front_left": Pair(643_000, 656_000, "", ""), "rear_right": Pair(668_000, None, "", "")}

    picture = heights_picture(pairs, LABELS)
    left, rear = picture["corners"]
    assert 0 < left["before"]["high"] < left["after"]["high"] < rear["before"]["high"]
    assert rear["after"]["shown"] is False


@pytest.mark.parametrize(
    ("key", "mdeg", "turn"),
    [
        # From behind: a left wheel whose top leans out turns against the clock, a right one with it.
        ("camber_left", 1_000, "-10.000"), ("camber_left", -850, "8.500"), ("camber_right", 1_000, "10.000"),
        # From above, the front up: a left wheel that toes in turns with the clock.
        ("toe_left", 80, "0.800"), ("toe_right", 80, "-0.800"), ("toe_right", 0, "0.000"),
        ("camber_right", 9_000, "20.000"),
    ],
)  # fmt: skip
def test_wheels_lean_and_turn_to_the_side_they_do(key: str, mdeg: int, turn: str) -> None:
    picture = alignment_picture({key: Pair(None, mdeg, "", "")}, LABELS)
    kind, _, side = key.partition("_")
    wheel = next(one for one in picture[kind] if one["side"] == side)
    assert wheel["after_turn"] == turn
    assert (wheel["has_before"], wheel["has_after"]) == (False, True)


@given(st.integers(-90_000, 90_000), st.integers(-90_000, 90_000))
def test_nothing_is_drawn_beyond_what_is_said(before: int, after: int) -> None:
    pairs = {"camber_left": Pair(before, after, "", ""), "toe_right": Pair(after, before, "", "")}
    picture = alignment_picture(pairs, LABELS)
    for one in (*picture["camber"], *picture["toe"]):
        for turn in (one["before_turn"], one["after_turn"]):
            assert abs(float(turn)) * 1_000 <= MOST_MDEG


@given(st.dictionaries(st.sampled_from(["front_left", "front_right", "rear_left"]), st.integers(-(10**7), 10**7)))
def test_a_bar_stays_within_its_corner(values: dict[str, int]) -> None:
    picture = heights_picture({key: Pair(value, value, "", "") for key, value in values.items()}, LABELS)
    for one in picture["corners"]:
        assert 0 < one["before"]["high"] <= 80
        assert one["before"]["y"] >= one["y"] + 15


def test_every_drawing_of_a_letter_is_whole_and_says_in_words_what_it_shows() -> None:
    packet = packet_with(BEFORE, AFTER, ALIGNED_BEFORE, ALIGNED)
    sheet = sheet_with(
        packet,
        opening__ride_height={"front_left": (643_000, 1)},
        closing__ride_height={"front_left": (656_000, 3)},
        closing__alignment_after={"camber_left": (-850, 2), "caster_left": (3_000, 5)},
    )
    facts = handback_facts(SHOP, CUSTOMER, VEHICLE, JOB, sheet)
    letter = write_letter(environment(), facts)

    assert {"heights", "alignment-front"} <= {one.name for one in letter.drawings}
    for one in letter.drawings:
        root = ElementTree.fromstring(one.svg)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert one.words.strip()
        assert "var(" not in one.svg
    heights = next(one for one in letter.drawings if one.name == "heights")
    assert "643 mm before, 656 mm after" in heights.words
    assert 'src="cid:heights"' in letter.html
    assert "Ride height" in letter.text
    assert "643 mm before, 656 mm after (+13 mm)" in " ".join(letter.text.split())
