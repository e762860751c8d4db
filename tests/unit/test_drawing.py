"""The drawing of the axle: in every layout and every way to hold it, what bears where and the way of the weight.

Where stands bear and which joint carries the spring: the layouts' own table (`shared/layouts.yaml`), read here as the
house's judgement of common practice. That the places themselves are a good likeness is looked at, not tested.
"""

from __future__ import annotations

import html
from itertools import combinations, pairwise, product

import pytest

from app.domain.drawing import (
    LETTER,
    LONGEST,
    NUTS,
    Asked,
    _held,
    _spring_marks,
    load_path,
    passes_joint,
    path_parts,
    picture_of,
    star_order,
    top_view,
)
from app.domain.drawing_layouts import axle_of
from app.domain.drawing_pen import DROP, WIDE, Pen
from app.domain.packet import Support
from app.domain.procedure import load_book
from app.texts import WORDS
from app.web.rendering import environment
from tests.builders import ROOT

BOOK = load_book(ROOT / "shared")
PLACES = tuple(key for key, one in BOOK.layouts.items() if one.kind != "air")
LAYOUTS = (*((key, key) for key in PLACES), *(("air", key) for key in PLACES))
HANGING = (Support.LIFT_FRAME, Support.STANDS_FRAME)
EVERY = tuple(product(LAYOUTS, ("front", "rear"), Support))
ON_BOTH_WHEELS = (Support.ON_WHEELS, Support.ON_RAMP)
# What the table calls the part the spring bears on, and what the drawing calls what a stand bears under.
UNDER = {
    "lower_arm": "lower_arm",
    "upper_arm": "lower_arm",
    "strut": "lower_arm",
    "axle": "axle",
    "beam": "beam",
    "link": "link",
}
NAMES = {"lower": "lower_joint", "upper": "upper_joint", "link_outer": "link_joint", "none": "", "axle": "lower_joint"}


def word(group: str, key: str) -> str:
    return WORDS[f"{group}.{key}"]


def asked(
    layout: str, place: str, support: Support, axle: str = "front", corner: str = "right", load: str = "412 kg"
) -> Asked:
    return Asked(layout, place, axle, False, corner, str(support), load)


def drawn(layout: str, place: str, axle: str, support: Support):
    """The axle with its pen, what holds it, and the way of the weight."""
    kind = {"air": "air", "torsion_bar_lower": "torsion_bar", "torsion_bar_upper": "torsion_bar"}.get(layout, "coil")
    kind = "leaf" if layout == "solid_leaf" else kind
    pen = Pen(DROP if support in HANGING else 0)
    found = axle_of(place, kind, axle == "front", pen)
    held = _held(support, found)
    return found, held, load_path(support, found, held), pen


def places(points: str) -> list[tuple[int, int]]:
    return [(int(x), int(y)) for x, _, y in (one.partition(",") for one in points.split())]


def test_every_layout_of_the_table_is_drawn():
    assert len(PLACES) >= 10
    for layout, place in LAYOUTS:
        assert picture_of(asked(layout, place, Support.ON_WHEELS), word)["shown"]


def test_an_air_spring_whose_place_is_not_known_is_not_drawn():
    """The table gives it no place of its own: a drawing would be a guess."""
    assert picture_of(asked("air", "", Support.ON_WHEELS), word) == {"shown": False}


# --- What bears where ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_stand_under_an_arm_bears_under_the_part_that_carries_the_spring(layout):
    """The lower arm or the link that carries the coil, well outboard; with the coil higher up, the lower arm."""
    axle, held, legs, _ = drawn(*layout, "front", Support.STANDS_ARM)

    assert held.bears_under == UNDER[BOOK.layouts[layout[1]].spring_on]
    assert legs[0].part == "stand"
    assert legs[0].run[-1] == held.under == axle.under
    assert legs[1].part == held.bears_under
    if held.bears_under in ("lower_arm", "link"):
        outer = dict(axle.joints)["link_joint" if held.bears_under == "link" else "lower_joint"]
        assert 200 < held.under[0] < outer[0]
        assert 0 < held.under[1] - outer[1] < 25


@pytest.mark.parametrize("layout", [one for one in LAYOUTS if BOOK.layouts[one[1]].spring_on in ("axle", "beam")])
def test_a_stand_under_the_axle_bears_under_the_axle_or_the_beam(layout):
    _, held, legs, pen = drawn(*layout, "front", Support.STANDS_AXLE)

    assert held.bears_under == BOOK.layouts[layout[1]].spring_on
    assert legs[1].part == held.bears_under
    assert touches_from_below(pen.unsprung, held.under)


@pytest.mark.parametrize(("layout", "support"), tuple(product(LAYOUTS, HANGING)))
def test_stands_and_lift_hold_the_frame_from_below(layout, support):
    _, held, legs, pen = drawn(*layout, "front", support)

    assert held.bears_under == "frame"
    assert [one.part for one in legs] == ["stand" if support is Support.STANDS_FRAME else "lift", "frame", "body"]
    assert touches_from_below([one for one in pen.sprung if one.look == "frame"], held.under)


def touches_from_below(marks, at) -> bool:
    """Whether one of these areas has its lower edge within a line's width of this place."""
    x, y = at
    for mark in marks:
        for (x1, y1), (x2, y2) in zip(mark.run, (*mark.run[1:], mark.run[0]), strict=True):
            if mark.shut and x1 != x2 and min(x1, x2) <= x <= max(x1, x2):
                edge = y1 + (y2 - y1) * (x - x1) // (x2 - x1)
                inside = max(one[1] for one in mark.run) - 1 <= edge + 3
                if abs(edge - y) <= 3 and inside:
                    return True
    return False


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
def test_the_words_name_what_the_drawing_shows_to_bear(layout, axle, support):
    picture = picture_of(asked(*layout, support, axle), word)
    _, held, _, _ = drawn(*layout, axle, support)

    named = {
        "frame": "frame",
        "lower_arm": "lower arm",
        "axle": "axle",
        "beam": "beam",
        "link": "link",
        "wheel": "ramp",
        "": "floor",
    }
    assert named[held.bears_under] in picture["bears"]
    assert ("hangs" in picture["bears"]) is (support in HANGING)


def test_a_stand_said_to_be_where_this_layout_has_nothing_to_bear_on_is_questioned():
    assert "no solid axle here" in picture_of(asked("strut", "strut", Support.STANDS_AXLE), word)["bears"]
    assert "no arm that carries" in picture_of(asked("solid_leaf", "solid_leaf", Support.STANDS_ARM), word)["bears"]
    assert "Look at" not in picture_of(asked("strut", "strut", Support.STANDS_FRAME), word)["bears"]
    assert "Look at" not in picture_of(asked("solid_coil", "solid_coil", Support.STANDS_AXLE), word)["bears"]


# --- The way of the weight ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
def test_the_load_path_is_unbroken_from_the_floor_to_the_body(layout, axle, support):
    _, held, legs, _ = drawn(*layout, axle, support)

    assert legs[0].run[0][1] >= held.floor
    assert all(one.run[-1] == after.run[0] for one, after in pairwise(legs))
    assert legs[-1].part == "body"
    assert all(len(one.run) > 1 for one in legs)


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
def test_the_weight_goes_through_the_spring_unless_the_wheel_hangs(layout, axle, support):
    picture = picture_of(asked(*layout, support, axle), word)
    parts = [one["part"] for one in picture["path"]]

    assert ("spring" in parts) is (support not in HANGING)
    assert bool(picture["spring_words"]) is (support in HANGING)


@pytest.mark.parametrize(("layout", "support"), tuple(product(LAYOUTS, ON_BOTH_WHEELS)))
def test_on_its_wheels_the_weight_goes_through_the_load_joint_of_the_table(layout, support):
    axle, _, legs, _ = drawn(*layout, "front", support)

    assert axle.load_joint == NAMES[str(BOOK.layouts[layout[1]].load_joint)]
    assert passes_joint(axle, legs) is bool(axle.load_joint)
    if axle.load_joint:
        assert axle.load_joint in path_parts(axle, legs)


@pytest.mark.parametrize("layout", [one for one in LAYOUTS if "stands_arm" in BOOK.layouts[one[1]].joint_support])
def test_where_joints_are_felt_on_stands_under_the_arm_the_load_joint_is_free(layout):
    """The table's own reason: stands under the arm take the spring's force off its joint."""
    axle, _, legs, _ = drawn(*layout, "front", Support.STANDS_ARM)

    assert axle.load_joint
    assert not passes_joint(axle, legs)


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
def test_only_the_load_joint_is_ringed(layout, axle, support):
    found, _, _, _ = drawn(*layout, axle, support)
    ring = picture_of(asked(*layout, support, axle), word)["ring"]

    assert ring["shown"] is bool(found.load_joint)
    if found.load_joint:
        assert (ring["x"], ring["y"]) == dict(found.joints)[found.load_joint]


def test_a_rear_solid_axle_does_not_steer_and_has_no_joints():
    axle, _, _, _ = drawn("solid_leaf", "solid_leaf", "rear", Support.ON_WHEELS)

    assert axle.joints == ()


@pytest.mark.parametrize("layout", LAYOUTS)
def test_each_way_to_hold_it_sends_the_weight_another_way(layout):
    ways = {
        support: tuple(one["points"] for one in picture_of(asked(*layout, support), word)["path"])
        for support in (
            Support.ON_WHEELS,
            Support.ON_RAMP,
            Support.LIFT_FRAME,
            Support.STANDS_FRAME,
            Support.STANDS_ARM,
        )
    }

    assert len(set(ways.values())) == len(ways)


# --- On the sheet of paper ----------------------------------------------------------------------------------------


def tall(picture) -> int:
    left, top, wide, high = (int(one) for one in picture["view_box"].split())
    assert (left, top, wide) == (0, 0, WIDE)
    return high


def boxes(picture) -> dict[str, tuple[int, int, int, int]]:
    """Numbers and the load's figure: left, top, right, bottom."""
    found = {
        one["number"]: (one["x"] - one["r"], one["y"] - one["r"], one["x"] + one["r"], one["y"] + one["r"])
        for one in picture["balloons"]
    }
    load = picture["load"]
    if load["shown"]:
        wide = LETTER * len(load["text"])
        left = load["x"] - wide if load["anchor"] == "end" else load["x"]
        found["load"] = (left, load["y"] - 18, left + wide, load["y"] + 5)
    return found


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
@pytest.mark.parametrize("corner", ["left", "right", ""])
def test_labels_do_not_overlap_nor_leave_the_drawing(layout, axle, support, corner):
    picture = picture_of(asked(*layout, support, axle, corner, load="1,412 lb"), word)
    found = boxes(picture)

    assert len(found) > 3
    for left, top, right, bottom in found.values():
        assert left >= 0
        assert top >= 0
        assert right <= WIDE
        assert bottom <= tall(picture)
    for (one, a), (other, b) in combinations(found.items(), 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (one, a, other, b, picture["legend"])


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
@pytest.mark.parametrize("corner", ["left", "right"])
def test_every_place_is_a_whole_number_inside_the_drawing(layout, axle, support, corner):
    picture = picture_of(asked(*layout, support, axle, corner), word)
    marks = [*picture["back"], *picture["front"]]
    found = [at for one in marks if one["shape"] != "circle" for at in places(one["points"])]
    found += [at for one in picture["path"] for at in places(one["points"])] + places(picture["arrow"])
    for one in (*(mark for mark in marks if mark["shape"] == "circle"), picture["ring"]):
        found += [(one["x"] - one["r"], one["y"] - one["r"]), (one["x"] + one["r"], one["y"] + one["r"])]

    assert len(found) > 80
    assert [at for at in found if not (0 <= at[0] <= WIDE and 0 <= at[1] <= tall(picture))] == []
    assert not list(not_whole(picture))


def not_whole(value):
    """Everything in a view that is neither text, whole number, yes or no, list nor object with text keys."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from not_whole(one) if isinstance(key, str) else [key]
    elif isinstance(value, list):
        for one in value:
            yield from not_whole(one)
    elif type(value) not in (str, int, bool):
        yield value


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_left_side_is_the_right_one_turned_over(layout):
    right = picture_of(asked(*layout, Support.STANDS_ARM, corner="right"), word)
    left = picture_of(asked(*layout, Support.STANDS_ARM, corner="left"), word)

    turned = [[(WIDE - x, y) for x, y in places(one["points"])] for one in right["path"]]
    assert [places(one["points"]) for one in left["path"]] == turned
    assert left["load"]["anchor"] != right["load"]["anchor"]
    assert ("left side" in left["side"], "right side" in right["side"]) == (True, True)


def test_numbers_and_their_names_agree():
    picture = picture_of(asked("wishbone_lower_coil", "wishbone_lower_coil", Support.STANDS_ARM), word)

    assert [one["number"] for one in picture["balloons"]] == [one["number"] for one in picture["legend"]]
    names = [one["words"] for one in picture["legend"]]
    assert "lower joint: carries the spring" in names
    assert "upper joint: follower" in names
    assert "stand: 412 kg" in names


@pytest.mark.parametrize(("load", "shown"), [("412 kg", True), ("", False), ("x" * (LONGEST + 1), False)])
def test_a_load_that_is_not_known_or_too_long_for_the_drawing_is_not_drawn(load, shown):
    picture = picture_of(asked("strut", "strut", Support.STANDS_FRAME, load=load), word)

    assert picture["load"]["shown"] is shown
    assert ("stand" if not load else f"stand: {load}") in [one["words"] for one in picture["legend"]]


@pytest.mark.parametrize("support", [Support.ON_WHEELS, Support.ON_RAMP, Support.LIFT_FRAME])
def test_the_load_on_a_stand_is_not_drawn_where_there_are_no_stands(support):
    picture = picture_of(asked("strut", "strut", support), word)

    assert not picture["load"]["shown"]
    assert "412" not in " ".join(one["words"] for one in picture["legend"])


@pytest.mark.parametrize(("layout", "axle", "support"), EVERY)
def test_the_words_name_every_part_of_the_way_in_order(layout, axle, support):
    picture = picture_of(asked(*layout, support, axle), word)
    said = picture["path_words"].partition(": ")[2].rstrip(".").split(", ")

    assert said[0] == "floor"
    assert said[-1] == "body"
    assert len(said) == len(set(said))


def test_a_leaf_and_a_bar_are_drawn_as_what_they_are():
    """A zigzag says coil."""
    bar, _, _, _ = drawn("torsion_bar_lower", "torsion_bar_lower", "front", Support.ON_WHEELS)
    leaf, _, _, _ = drawn("solid_leaf", "solid_leaf", "rear", Support.ON_WHEELS)

    assert all(one.r for one in _spring_marks(bar, "torsion_bar"))
    assert _spring_marks(leaf, "leaf") == ()


# --- From above ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("axle", "both", "corner", "filled"),
    [
        ("front", False, "left", {"front_left"}),
        ("rear", False, "right", {"rear_right"}),
        ("rear", False, "", {"rear_left", "rear_right"}),
        ("front", True, "", {"front_left", "front_right", "rear_left", "rear_right"}),
    ],
)
def test_the_wheels_at_work_are_filled_and_named(axle, both, corner, filled):
    view = top_view(Asked("strut", "strut", axle, both, corner, "on_wheels"), word)

    assert {one["name"] for one in view["wheels"] if one["look"] == "here"} == filled
    assert all(WORDS[f"drawing_wheel.{name}"] in view["words"] for name in filled)


def test_left_is_left_from_above_with_the_front_up():
    place = {
        one["name"]: (one["x"], one["y"])
        for one in top_view(asked("strut", "strut", Support.ON_WHEELS), word)["wheels"]
    }

    assert place["front_left"][0] < place["front_right"][0]
    assert place["front_left"][1] < place["rear_left"][1]


# --- Wheel nuts ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [4, 5, 6])
def test_the_star_order_takes_every_nut_once_and_crosses_over(count):
    """Straight across where the nuts lie in pairs; with five, never to a neighbour. Common practice, no source."""
    at, order = NUTS[count]
    hops = [(b - a) % count for a, b in pairwise(order)]

    assert sorted(order) == list(range(count))
    assert len(set(at)) == count
    if count % 2:
        assert all(hop not in (1, count - 1) for hop in hops)
    else:
        assert set(hops[::2]) == {count // 2}


@pytest.mark.parametrize("count", [4, 5, 6])
def test_the_star_is_drawn_with_its_numbers_where_the_nuts_are(count):
    view = star_order(count, word)

    assert [one["number"] for one in view["nuts"]] == [str(number) for number in range(1, count + 1)]
    assert places(view["line"]) == [(one["x"], one["y"]) for one in view["nuts"]]
    for x, y in places(view["line"]):
        assert 47 <= ((x - 80) ** 2 + (y - 80) ** 2) ** 0.5 <= 53
    assert not list(not_whole(view))


# --- As the page shows it -----------------------------------------------------------------------------------------


def shown(layout: str, place: str, support: Support, corner: str = "left") -> str:
    drawing = {
        "shown": True, "axle_words": "front axle", "layout_words": "its layout", "support_words": "held so",
        "bears": "", "load_joint_words": "", "loads": [], "stars_shown": False, "stars_words": "", "stars": [],
        "picture": picture_of(asked(layout, place, support, corner=corner), word),
    }  # fmt: skip
    return environment().get_template("tablet/_drawing.html").render(drawing=drawing)


@pytest.mark.parametrize(("layout", "support"), tuple(product(LAYOUTS, Support)))
def test_the_drawing_is_named_and_told_in_words_that_stand_beside_it(layout, support):
    """A text equivalent for who does not see the drawing, and the same words for who does."""
    picture = picture_of(asked(*layout, support, corner="left"), word)
    page = html.unescape(shown(*layout, support))
    inside, _, beside = page.partition("</svg>")

    for words in (picture["bears"], picture["path_words"], picture["joint_words"], picture["spring_words"]):
        assert words in inside
        assert words in beside
    assert all(f"</span> {one['words']}</li>" in beside for one in picture["legend"])
    assert "style=" not in page


def test_an_axle_that_cannot_be_drawn_is_still_told():
    page = shown("air", "", Support.ON_WHEELS)

    assert "<svg" not in page
    assert "front axle" in page
