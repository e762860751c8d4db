"""What is measured at a step is drawn beside its fields, at both ends alike: heights, alignment, shims."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.joining import CLOSING_LINE
from app.domain.packet import Axle, Line, Step
from app.domain.view_parts import Look
from app.web.reckoner.heights import SHIMS
from app.web.reckoner.reading import reckon
from tests.builders import ADA, Play, a_measure, a_packet, a_step
from tests.twin_view import by_python, by_script
from tests.unit.test_view import scene, see

CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
ANGLES = ("camber_left", "camber_right", "toe_left", "toe_right", "caster_left", "caster_right")
LINES = (
    Line("l1", "control_arm", 1, "Control arm", Axle.FRONT),
    Line(CLOSING_LINE, "closing", 1, "Closing", Axle.BOTH),
)


def heights(step_id: str, line: str = "l1", prefix: str = "") -> Step:
    asks = {one: f"{one.replace('_', ' ').capitalize()}, ground to the stated point" for one in CORNERS}
    return a_step(step_id, line=line, axle=Axle.BOTH, measures=tuple(
        a_measure(f"{prefix}{one}", ask=ask, low=None, high=None, must=False) for one, ask in asks.items()
    ))  # fmt: skip


def alignment(step_id: str, line: str = "l1", axle: Axle = Axle.FRONT) -> Step:
    return a_step(step_id, line=line, key=f"alignment_{step_id}", axle=axle, measures=tuple(
        a_measure(one, ask=one, dimension="angle", unit="°", low=None, high=None, must=False) for one in ANGLES
    ))  # fmt: skip


def shims(step_id: str, corner: str = "left") -> Step:
    packs = [
        a_measure(f"{end}_{what}", ask=f"{end.capitalize()} bolt, {what}", low=None, high=None, must=False,
                  dimension="length" if what == "pack" else "ratio", unit="mm" if what == "pack" else "1")
        for end in ("front", "rear") for what in ("count", "pack")
    ]  # fmt: skip
    return a_step(step_id, corner=corner, measures=tuple(packs))


def a_job(now: Step | None = None) -> Play:
    made_now = now or alignment("now", CLOSING_LINE)
    return Play(a_packet(
        heights("before"), heights("inspected", prefix="height_"), alignment("was"), alignment("rear", axle=Axle.REAR),
        shims("noted"), shims("noted_right", "right"), shims("back"),
        heights("after", CLOSING_LINE), made_now, lines=LINES,
    ))  # fmt: skip


def read(play: Play, step: str, **values: str) -> Play:
    for measure, typed in values.items():
        assert play.measures(typed, step=step, measure=measure).accepted
    return play


def count(play: Play, step: str, measure: str, number: int) -> None:
    """A number of shims, which has no unit: a count is kept in millionths."""
    reading = e.Reading(number * 1_000_000, text=str(number), unit="")
    assert play.does(ADA, e.ReadingTaken(step=step, measure=measure, reading=reading)).accepted


def drawn(play: Play, step: str) -> dict[str, Any]:
    """What is drawn at a step, the same at both ends."""
    at = scene(play, look=Look(step=step))
    assert by_script(at) == by_python(at)
    found: dict[str, Any] = see(play, look=Look(step=step))["hand"]["measures"]["compared"]
    return found


def test_nothing_is_drawn_before_anything_was_measured_nor_where_nothing_is_to_be():
    play = a_job()
    assert drawn(play, "before")["shown"] is False
    assert drawn(Play(a_packet(a_step(measures=(a_measure(),)))), "work")["shown"] is False


def test_heights_are_drawn_at_their_steps_before_and_after_with_the_sides_told():
    play = read(a_job(), "before", front_left="343 mm", front_right="351 mm", rear_left="360 mm")
    at = drawn(play, "after")
    assert [one["name"] for one in at["picture"]["corners"]] == ["Front left", "Front right", "Rear left"]
    assert {one["after"]["shown"] for one in at["picture"]["corners"]} == {False}
    assert at["lines"][0] == "Left less right, front: −8.0 mm before."

    read(play, "after", front_left="350 mm", front_right="351 mm")
    at = drawn(play, "after")
    left = at["picture"]["corners"][0]
    assert (left["before"]["text"], left["after"]["text"]) == ("343 mm", "350 mm")
    assert at["lines"] == [
        "Left less right, front: −8.0 mm before, −1.0 mm after.",
        "How far left and right may differ is the maker's to say; it is not judged here.",
    ]
    assert "Front left: 343 mm before, 350 mm after" in at["words"]
    assert drawn(play, "before") == at


def test_heights_of_an_inspection_are_from_before_and_the_last_reading_counts():
    play = read(a_job(), "before", front_left="343 mm")
    read(play, "inspected", height_front_left="13.5 in")
    (corner,) = drawn(play, "after")["picture"]["corners"]

    assert corner["before"]["text"] == "13.5 in"


def test_alignment_is_drawn_for_the_axle_of_the_step_alone():
    play = read(a_job(), "was", camber_left="-1.5 °", toe_right="0.1 °")
    read(play, "rear", camber_left="2 °")
    read(play, "now", camber_left="-0.5 °", caster_left="5 °")
    at = drawn(play, "now")

    left = at["picture"]["camber"][0]
    assert (left["before_text"], left["after_text"]) == ("-1.5 °", "-0.5 °")
    # From behind, a left wheel whose top leans in turns with the clock; ten times as far as it is.
    assert (left["before_turn"], left["after_turn"]) == ("15.000", "5.000")
    assert at["picture"]["toe"][0]["before_text"] == "–"
    assert at["picture"]["has_caster"] is True
    assert at["lines"] == []
    assert drawn(play, "rear")["picture"]["camber"][0]["before_text"] == "2 °"


def test_shims_are_drawn_as_found_and_as_put_back_at_the_same_corner():
    play = read(a_job(), "noted", front_pack="4.5 mm", rear_pack="3 mm")
    count(play, "noted", "front_count", 3)
    read(play, "noted_right", front_pack="9 mm")
    at = drawn(play, "noted")
    front, rear = at["shims"]["stacks"]
    assert [len(row["plates"]) for row in front["rows"]] == [3]
    assert front["rows"][0]["words"] == "Before: 3 shims, 4.5 mm"
    assert len(rear["rows"]) == 1
    assert at["lines"] == []

    read(play, "back", front_pack="4.5 mm", rear_pack="2.5 mm")
    at = drawn(play, "back")
    assert [[row["words"] for row in one["rows"]] for one in at["shims"]["stacks"]] == [
        ["Before: 3 shims, 4.5 mm", "After: 4.5 mm"], ["Before: 3 mm", "After: 2.5 mm"],
    ]  # fmt: skip
    assert at["lines"] == [
        "Front bolt: as thick as it was found.",
        "Rear bolt: put back −0.5 mm against what was found.",
    ]


def test_a_bolt_without_shims_says_so_and_one_not_measured_says_nothing():
    play = read(a_job(), "noted", front_pack="0 mm")
    (front,) = drawn(play, "noted")["shims"]["stacks"]

    assert [(row["words"], row["plates"]) for row in front["rows"]] == [("Before: no shims", [])]


def outside(**over: Any) -> Step:
    """An alignment step whose camber has a window, -1° to 0°, and whose caster has one, 3° to 5°."""
    limits = {"camber": (-1_000, 0), "caster": (3_000, 5_000)}
    asked = tuple(
        replace(one, low=limits[one.id.split("_")[0]][0], high=limits[one.id.split("_")[0]][1])
        if one.id.split("_")[0] in limits else one
        for one in alignment("now", CLOSING_LINE).measures
    )  # fmt: skip
    return replace(alignment("now", CLOSING_LINE), measures=asked, **over)


def test_outside_its_window_the_sum_for_shims_is_offered_with_what_is_known():
    """The change to the middle of the window, and what is fitted; the maker's table stays to be typed."""
    play = Play(a_packet(shims("noted"), shims("back"), outside(), lines=LINES))
    read(play, "noted", front_pack="9 mm")
    read(play, "back", front_pack="4.5 mm", rear_pack="0 mm")
    count(play, "back", "front_count", 3)
    read(play, "now", camber_left="0.85 °", caster_left="4 °", camber_right="-0.5 °")
    (one,) = drawn(play, "now")["proposals"]

    assert one["words"] == "Which shims for the left wheel (camber −1.35°)?"
    asked = dict(parse_qsl(one["link"].partition("?")[2]))
    assert asked == {
        "want_camber": "−1.35°", "want_caster": "0.00°",
        "fitted-1-bolt": "Front bolt", "fitted-1-thickness": "1.50 mm", "fitted-1-count": "3",
    }  # fmt: skip
    # The Reckoner reads them; what it still wants is the maker's.
    outcome = reckon(SHIMS, asked)
    assert {problem.field for problem in outcome.problems} <= {"effects-1-bolt", "effects-1-thickness", "effects"}


def test_without_a_window_or_without_shims_on_the_axle_no_sum_is_offered():
    play = read(a_job(), "now", camber_left="5 °")
    read(play, "noted", front_pack="3 mm")
    assert drawn(play, "now")["proposals"] == []

    play = Play(a_packet(outside(), lines=LINES))
    read(play, "now", camber_left="5 °")
    assert drawn(play, "now")["proposals"] == []


SMALL = st.integers(-(10**6), 10**6) | st.sampled_from([0, 1, -1, 2**52, -(2**52)])
STEPS = {"before": CORNERS, "inspected": tuple(f"height_{one}" for one in CORNERS), "after": CORNERS, "was": ANGLES,
         "now": ANGLES, "noted": ("front_pack", "front_count", "rear_pack"),
         "back": ("front_pack", "front_count", "rear_pack", "rear_count")}  # fmt: skip


@given(st.lists(st.tuples(st.sampled_from(sorted(STEPS)), st.integers(0, 3), SMALL), max_size=12))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_was_read_is_drawn_alike_at_both_ends(entries: list[tuple[str, int, int]]):
    play = a_job(outside())
    for step, place, value in entries:
        measure = STEPS[step][place % len(STEPS[step])]
        unit = "" if measure.endswith("_count") else "°" if step in ("was", "now") else "mm"
        play.does(ADA, e.ReadingTaken(step=step, measure=measure, reading=e.Reading(value, text="x", unit=unit)))
    for step in STEPS:
        at = scene(play, look=Look(step=step))
        assert json.loads(by_script(at))["hand"]["measures"] == json.loads(by_python(at))["hand"]["measures"]
