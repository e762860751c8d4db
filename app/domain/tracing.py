"""What a tightening really was, when its wrench was found out of true or its figure was corrected since. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from app.domain.packet import Stage
from app.domain.uses import Use
from app.trade.torque_tool import AsFound, Place

# Plain texts: an enum's value costs more to reach than the comparison it stands for, tens of thousands of times.
BELOW, WITHIN, ABOVE = Place.BELOW.value, Place.WITHIN.value, Place.ABOVE.value
OUTSIDE = (BELOW, ABOVE)


class Traced(NamedTuple):
    """A use, what it really gave at the fastener (mN·m), and where that lies against its window; "" without one."""

    use: Use
    given: int
    place: str

    @property
    def leaves(self) -> bool:
        return self.place in OUTSIDE

    @property
    def wants_recheck(self) -> bool:
        """Whether it left its window and nothing has been tightened there since."""
        return self.leaves and self.use.replaced_by is None


def with_wrench(uses: Iterable[Use], found: AsFound) -> list[Traced]:
    """What each use really was with the wrench as it was found.

    At the fastener the sum for an extension is in proportion to the reading, so it is off by the same part.
    """
    given = found.given
    traced = []
    for use in uses:
        real = given(use.reading)
        if use.value != use.reading and use.reading:
            real = (2 * use.value * real + use.reading) // (2 * use.reading)
        traced.append(Traced(use, real, place_of(real, use.low, use.high)))
    return traced


def with_figure(uses: Iterable[Use], stages: Mapping[int, Stage]) -> list[Traced]:
    """How each use lies against another edition's stages, by number; a stage it does not have is no window."""

    def judged(use: Use) -> Traced:
        stage = stages.get(use.stage)
        low, high = (stage.low_mnm, stage.high_mnm) if stage is not None else (None, None)
        return Traced(use._replace(low=low, high=high), use.value, place_of(use.value, low, high))

    return [judged(use) for use in uses]


def place_of(value: int, low: int | None, high: int | None) -> str:
    if low is not None and value < low:
        return BELOW
    if high is not None and value > high:
        return ABOVE
    return "" if low is None and high is None else WITHIN
