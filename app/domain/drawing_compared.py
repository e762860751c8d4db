"""Drawings that put before beside after: heights at four corners, an axle's alignment. Whole numbers only. Pure.

Angles are drawn ten times as large as they are and never beyond 20 degrees, or nobody would see them; the bars of the
heights begin a little below the lowest. Both say so. Left is left: seen from behind, and from above with the front up.
Signs as in SAE J670 (from memory): camber positive with the top outward, toe-in positive.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

Word: TypeAlias = Callable[[str, str], str]
LARGER = 10
MOST_MDEG = 20_000
_BAR_SHORTEST, _BAR_SPAN = 26, 54
_CORNERS = {
    "front_left": (20, 20),
    "front_right": (420, 20),
    "rear_left": (20, 190),
    "rear_right": (420, 190),
}


@dataclass(frozen=True, slots=True)
class Pair:
    """Before and after in the small unit (None where it was not measured), and as typed."""

    before: int | None
    after: int | None
    before_text: str
    after_text: str


def heights_picture(pairs: Mapping[str, Pair], label: Mapping[str, str]) -> dict[str, Any]:
    """Four corners round the vehicle from above, two bars each; only corners that were measured. label: `labels_of`."""
    values = [one for pair in pairs.values() for one in (pair.before, pair.after) if one is not None]
    low, high = min(values, default=0), max(values, default=0)

    def bar(value: int | None) -> int:
        if value is None:
            return 0
        return _BAR_SHORTEST + ((value - low) * _BAR_SPAN // (high - low) if high > low else _BAR_SPAN // 2)

    def of_time(value: int | None, text: str, x: int, base: int) -> dict[str, Any]:
        high = bar(value)
        return {"shown": high > 0, "text_x": x, "x": x + 14, "y": base - high, "high": high, "text": text}

    return {
        "view_box": "0 0 640 340",
        "corners": [
            {
                "key": key,
                "name": label[key],
                "x": x,
                "y": y,
                "base": y + 100,
                "end_x": x + 200,
                "label_y": y + 119,
                "text_y": y + 137,
                "before": of_time(pairs[key].before, pairs[key].before_text, x, y + 100),
                "after": of_time(pairs[key].after, pairs[key].after_text, x + 108, y + 100),
            }
            for key, (x, y) in _CORNERS.items()
            if key in pairs
        ],
    }


def alignment_picture(pairs: Mapping[str, Pair], label: Mapping[str, str]) -> dict[str, Any]:
    """An axle's wheels from behind (camber) and from above (toe): before dashed, after in full. label: `labels_of`."""
    sides = ("left", "right")
    return {
        "view_box": "0 0 640 400",
        "camber": [_wheel(pairs.get(f"camber_{side}"), side, label, outward=True) for side in sides],
        "toe": [_wheel(pairs.get(f"toe_{side}"), side, label, outward=False) for side in sides],
        "caster": [_texts(pairs.get(f"caster_{side}"), side, label) for side in sides],
        "has_caster": any(f"caster_{side}" in pairs for side in ("left", "right")),
    }


# What stands beside the drawings, by its word.
_LABELS = (
    "front_left", "front_right", "rear_left", "rear_right", "left", "right", "before", "after", "camber", "toe",
    "caster",
)  # fmt: skip


def compared_view(heights: bool, pairs: Mapping[str, Pair], names: Mapping[str, str], word: Word) -> dict[str, Any]:
    """What a template needs to draw a comparison, and what it says in words; `names`: of what each pair is."""
    said = {key: word("compared", key) for key in ("none", "before", "after")}
    label = labels_of(word)
    words = ". ".join(
        f"{names[key]}: {pair.before_text or said['none']} {said['before']}, {pair.after_text or said['none']} "
        f"{said['after']}"
        for key, pair in pairs.items()
    )
    return {
        "is_heights": heights,
        "picture": heights_picture(pairs, label) if heights else alignment_picture(pairs, label),
        "label": label,
        "words": words,
    }


def labels_of(word: Word) -> dict[str, str]:
    """The words that stand on the drawings, by key."""
    said = {key: word("compared", key) for key in _LABELS}
    return {**{key: _capital(words) for key, words in said.items()}, "to": word("compared", "to")}


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _wheel(pair: Pair | None, side: str, label: Mapping[str, str], *, outward: bool) -> dict[str, Any]:
    return {
        **_texts(pair, side, label),
        "before_turn": _turn(pair.before if pair else None, side, outward),
        "after_turn": _turn(pair.after if pair else None, side, outward),
        "has_before": pair is not None and pair.before is not None,
        "has_after": pair is not None and pair.after is not None,
    }


def _texts(pair: Pair | None, side: str, label: Mapping[str, str]) -> dict[str, Any]:
    x = 150 if side == "left" else 490
    return {
        "side": side,
        "name": label[side],
        "x": x,
        "edge_x": x - 17,
        "before_text": (pair.before_text if pair else "") or "–",
        "after_text": (pair.after_text if pair else "") or "–",
    }


def _turn(mdeg: int | None, side: str, outward: bool) -> str:
    """How far the wheel is turned on the drawing, clockwise, in degrees as text.

    From behind a left wheel whose top leans out turns against the clock; from above one that toes in turns with it.
    """
    shown = max(-MOST_MDEG, min(MOST_MDEG, (mdeg or 0) * LARGER))
    clockwise = shown if (side == "right") == outward else -shown
    whole, rest = divmod(abs(clockwise), 1_000)
    return f"{'-' if clockwise < 0 else ''}{whole}.{rest:03d}"


# --- Shim stacks --------------------------------------------------------------------------------------------------

_STACK_HIGH, _ROW_HIGH, _FRAME_X, _PLATES_SPAN, _THINNEST = 116, 32, 44, 150, 5


@dataclass(frozen=True, slots=True)
class Stack:
    """The shims at one bolt: thickness in the small unit of each, and all of them as text ("" for none).

    before or after `None`: not counted, and so not drawn.
    """

    bolt: str
    before: tuple[int, ...] | None
    after: tuple[int, ...] | None
    before_text: str
    after_text: str


def shims_picture(stacks: Sequence[Stack], word: Word) -> dict[str, Any]:
    """At each bolt the plates between frame and arm shaft, before and after, all to one scale."""
    highest = max((sum(each) for one in stacks for each in (one.before, one.after) if each is not None), default=0)

    def row(plates: Sequence[int], y: int, text: str, when: str) -> dict[str, Any]:
        x, drawn = _FRAME_X, []
        for thick in sorted(plates, reverse=True):
            wide = max(_THINNEST, thick * _PLATES_SPAN // highest)
            drawn.append({"x": x, "wide": wide})
            x += wide
        return {
            "y": y, "plates": drawn, "shaft_x": x, "shaft_y": y + 4, "words_y": y + 22, "is_after": when == "after",
            "words": f"{_capital(word('compared', when))}: {text or word('compared', 'no_shims')}", "high": _ROW_HIGH,
        }  # fmt: skip

    shown: list[dict[str, Any]] = [
        {
            "bolt": one.bolt,
            "y": nth * _STACK_HIGH + 22,
            "rows": [
                row(plates, nth * _STACK_HIGH + y, text, when)
                for plates, y, text, when in (
                    (one.before, 34, one.before_text, "before"),
                    (one.after, 76, one.after_text, "after"),
                )
                if plates is not None
            ],
        }
        for nth, one in enumerate(stacks)
    ]
    words = " ".join(f"{one['bolt']}: {'; '.join(each['words'] for each in one['rows'])}." for one in shown)
    return {"stacks": shown, "view_box": f"0 0 480 {len(stacks) * _STACK_HIGH + 12}", "words": words}
