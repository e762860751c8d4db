"""The stacks of shims at the bolts: to one scale, before and after, none lost, and the same in words."""

from __future__ import annotations

import html
from itertools import pairwise

from app.domain.drawing_compared import Stack, shims_picture
from app.texts import WORDS
from app.web.rendering import environment

FRONT = Stack("front bolt", (3_000,), (3_000, 3_000, 1_500), "1 × 3 mm", "2 × 3 mm, 1 × 1.5 mm")
REAR = Stack("rear bolt", (1_500,), (), "1 × 1.5 mm", "")


def word(group: str, key: str) -> str:
    return WORDS[f"{group}.{key}"]


def test_every_plate_is_drawn_beside_the_last_one_and_the_shaft_beside_them():
    picture = shims_picture((FRONT, REAR), word)
    for one in picture["stacks"]:
        for row in one["rows"]:
            x = 44
            for plate in row["plates"]:
                assert plate["x"] == x
                x += plate["wide"]
            assert row["shaft_x"] == x
            assert x <= 200, "it runs into its words"
    assert [[len(row["plates"]) for row in one["rows"]] for one in picture["stacks"]] == [[1, 3], [1, 0]]


def test_plates_of_all_bolts_have_one_scale():
    picture = shims_picture((FRONT, REAR), word)
    front, rear = (one["rows"][0]["plates"][0]["wide"] for one in picture["stacks"])

    assert front == 2 * rear


def test_a_plate_thinner_than_a_line_is_still_seen():
    (stack,) = shims_picture((Stack("b", (10_000, 10), (), "", ""),), word)["stacks"]

    assert [one["wide"] for one in stack["rows"][0]["plates"]] == [149, 5]


def test_the_words_say_what_is_drawn():
    picture = shims_picture((FRONT, REAR), word)

    assert picture["words"] == (
        "front bolt: Before: 1 × 3 mm; After: 2 × 3 mm, 1 × 1.5 mm. rear bolt: Before: 1 × 1.5 mm; After: no shims."
    )
    svg = html.unescape(environment().get_template("drawings/_shims.html").render(shims=picture))
    assert picture["words"] in svg
    assert "After: no shims" in svg


def test_rows_do_not_overlap():
    picture = shims_picture((FRONT, REAR, FRONT), word)
    edges = [(row["y"], row["y"] + row["high"]) for one in picture["stacks"] for row in one["rows"]]

    assert all(below[0] > above[1] for above, below in pairwise(edges))
    assert edges[-1][1] <= int(picture["view_box"].split()[3])
