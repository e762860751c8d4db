"""What was read off a torque wrench at a joint: one row for each stage, made from an accepted entry. Pure.

A copy of what the ledger and the sheet say, in a shape that can be asked by wrench, by figure and by job at once. A
named tuple, not a dataclass: a recall reads tens of thousands of them, and making one costs a third.
"""

from __future__ import annotations

from typing import NamedTuple

from app.domain.entry import Countersigned, Heard, Kind, SignedOff
from app.domain.sheet import Sheet


class Use(NamedTuple):
    """`order` is the entry's place in the ledger. Torques in mN·m.

    reading:     what the wrench said, as typed in `text`. value: at the fastener, after the sum for an extension.
    low, high:   the window it was signed against; figure: the edition that window came from.
    replaced_by: the order number of a later sign-off at the same joint; None while this one stands.
    """

    order: int
    stage: int
    kind: str
    job: str
    step: str
    fastener: str
    place: str
    tool: str
    name: str
    heard_at_ms: int
    reading: int
    text: str
    value: int
    low: int | None
    high: int | None
    figure: str
    replaced_by: int | None = None

    @property
    def is_first(self) -> bool:
        """Whether it is the sign-off itself and not a second reading."""
        return self.kind == Kind.SIGNED_OFF

    def replaces(self, other: Use) -> bool:
        """Whether this is a later sign-off of the same joint that nothing else has replaced yet."""
        same = (self.job, self.step, self.fastener, self.kind) == (other.job, other.step, other.fastener, other.kind)
        return self.is_first and same and other.replaced_by is None and other.order < self.order


def uses_of(sheet: Sheet, heard: Heard) -> tuple[Use, ...]:
    """The uses an accepted entry makes known. `sheet` is the state after it. A turn is not read off the wrench."""
    if heard.entry.kind not in (Kind.SIGNED_OFF, Kind.COUNTERSIGNED) or sheet.packet is None:
        return ()
    body = heard.body
    if not isinstance(body, SignedOff | Countersigned) or not body.wrench or not body.fastener:
        return ()
    now = sheet.step(body.step)
    signature = (now.signatures if isinstance(body, SignedOff) else now.counters).get(body.fastener)
    step = sheet.packet.step_by_id.get(body.step)
    fastener = next((one for one in step.fasteners if one.id == body.fastener), None) if step else None
    figure = fastener.figure if fastener else None
    if signature is None or fastener is None or figure is None:
        return ()
    side = f"{step.axle} {step.corner}" if step is not None and step.corner in ("left", "right") else ""
    place = fastener.place if not side or side in fastener.place else f"{fastener.place}, {side}"
    return tuple(
        Use(
            heard.order, number, str(heard.entry.kind), heard.entry.job, body.step, body.fastener, place,
            body.wrench, heard.name, heard.heard_at_ms, reading.value, reading.typed, value, stage.low_mnm,
            stage.high_mnm, figure.id,
        )
        for number, (stage, reading, value) in enumerate(
            zip(figure.stages, body.readings, signature.values, strict=False)
        )
        if stage.target_mdeg is None
    )  # fmt: skip
