"""Every sum there is, in the order of the list."""

from __future__ import annotations

from collections.abc import Iterator

from app.web.reckoner import bolts, dampers, heights, prices, springs, vehicle, weights
from app.web.reckoner.sums import Asked, Group, Pick, Rows, Sum

GROUPS = (
    Group("Units, tyres, the vehicle's number", vehicle.SUMS),
    Group("Bolts", bolts.SUMS),
    Group("Torque wrenches and nuts", bolts.WRENCH_SUMS),
    Group("Springs", springs.SUMS),
    Group("Dampers and ride", dampers.SUMS),
    Group("Weight and stands", weights.SUMS),
    Group("Height and joints", heights.SUMS),
    Group("Wheel angles and shims", heights.ANGLE_SUMS),
    Group("Price", prices.SUMS),
)
SUMS: dict[str, Sum] = {one.slug: one for group in GROUPS for one in group.sums}


def texts() -> Iterator[str]:
    """What the sums say of themselves, for the catalogue of texts. Sources are named as they are printed."""
    for group in GROUPS:
        yield group.title
        for one in group.sums:
            yield from (one.title, one.asks, one.valid, one.example.figure, *one.cautions, *one.formula)
            for asked in one.inputs:
                yield from _asked(asked)


def _asked(asked: Asked) -> Iterator[str]:
    yield from (asked.label, asked.hint, asked.assumed)
    if isinstance(asked, Pick):
        yield from (said for _, said in asked.options)
    if isinstance(asked, Rows):
        yield asked.row
        for column in asked.columns:
            yield from _asked(column)
