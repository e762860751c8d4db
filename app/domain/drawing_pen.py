"""The pen of the axle drawing: lines, bars, coils and joints on a sheet of whole-number places.

A place is (x, y), x outboard from the middle of the vehicle, y downwards. Nothing here knows a layout. Everything is
whole numbers, so that another language draws the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

At: TypeAlias = tuple[int, int]
Run: TypeAlias = tuple[At, ...]

# How far a hanging wheel drops below where it rides.
DROP = 34
WIDE = 440
MIDDLE = 24


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing drawn: a run of places, open or shut to an area, or a circle when `r` is not 0. `look`: its line."""

    look: str
    run: Run
    r: int = 0
    shut: bool = False


@dataclass(slots=True)
class Pen:
    """What is drawn so far, back to front. `sprung` stays with the body; the rest moves with the wheel by `drop`."""

    drop: int
    sprung: list[Mark] = field(default_factory=list)
    unsprung: list[Mark] = field(default_factory=list)

    def body(self, look: str, *run: At) -> None:
        self.sprung.append(Mark(look, run, shut=True))

    def body_line(self, look: str, *run: At) -> None:
        self.sprung.append(Mark(look, run))

    def area(self, look: str, *run: At) -> None:
        """An area that moves with the wheel."""
        self.unsprung.append(Mark(look, tuple(self.low(at) for at in run), shut=True))

    def line(self, look: str, *run: At) -> None:
        """A line between places as they are (already dropped where they are to be)."""
        self.unsprung.append(Mark(look, run))

    def disc(self, look: str, at: At, r: int) -> None:
        self.unsprung.append(Mark(look, (at,), r))

    def bar(self, inner: At, outer: At, half_inner: int, half_outer: int) -> None:
        """An arm or a link that lies about level."""
        (xi, yi), (xo, yo) = inner, outer
        run = ((xi, yi - half_inner), (xo, yo - half_outer), (xo, yo + half_outer), (xi, yi + half_inner))
        self.unsprung.append(Mark("part", run, shut=True))

    def post(self, top: At, foot: At, half_top: int, half_foot: int) -> None:
        """A knuckle, a tube or a rod that stands about upright."""
        (xt, yt), (xf, yf) = top, foot
        run = ((xt - half_top, yt), (xt + half_top, yt), (xf + half_foot, yf), (xf - half_foot, yf))
        self.unsprung.append(Mark("part", run, shut=True))

    def low(self, at: At) -> At:
        return (at[0], at[1] + self.drop)


def along(inner: At, outer: At, x: int) -> At:
    """The place at `x` on the straight line between two places that do not stand above one another."""
    (xi, yi), (xo, yo) = inner, outer
    return (x, yi + (yo - yi) * (x - xi) // (xo - xi))


def coil(foot: At, top: At, half: int, turns: int) -> Run:
    """A coil from its lower seat to its upper one: a zigzag, with its ends on the axis."""
    (xf, yf), (xt, yt) = foot, top
    parts = 2 * turns
    run = [foot]
    for part in range(1, parts):
        side = half if part % 2 else -half
        run.append((xf + (xt - xf) * part // parts + side, yf + (yt - yf) * part // parts))
    return (*run, top)


def bellows(foot: At, top: At, half: int) -> Run:
    """The outline of an air spring: three folds between its piston and its upper plate."""
    (x, yf), (_, yt) = foot, top
    step = (yf - yt) // 6
    right = [(x + (half if part % 2 else half * 2 // 3), yf - step * part) for part in range(1, 6)]
    left = [(2 * x - at[0], at[1]) for at in reversed(right)]
    return ((x + half // 2, yf), *right, (x + half // 2, yt), (x - half // 2, yt), *left, (x - half // 2, yf))


def round_bar(middle: At, r: int) -> Run:
    """Three quarters round a bar seen from its end, from its outboard side below it to its upper side."""
    x, y = middle
    near = r * 7 // 10
    return (
        (x + r, y),
        (x + near, y + near),
        (x, y + r),
        (x - near, y + near),
        (x - r, y),
        (x - near, y - near),
        (x, y - r),
    )


def box(left: int, top: int, right: int, bottom: int) -> Run:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def as_text(run: Sequence[At]) -> str:
    return " ".join(f"{x},{y}" for x, y in run)
