"""The places of the spec book: what a figure can be about besides a joint to tighten, and which readings it judges.

A joint's place comes from the procedures (`offering.figure_keys`); the others are listed here. A place says its
dimension, what its figure has to have, the bounds of what can be (house rule: a value outside is a slip of the finger),
and the measures of the sheets, by `family/measure id`, whose window it is. `{axle}` in a measure stands for its axle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from app.domain.offering import FigurePlace, figure_keys
from app.domain.packet import Axle
from app.domain.procedure import Book
from app.domain.records import FigureKind
from app.trade.quantity import Dimension


class Ends(StrEnum):
    """What a place's figure has to have, as sources print it."""

    TORQUE = "torque"  # one figure, a range, or stages
    WINDOW = "window"  # from and to, with or without a figure between them; or a figure and its tolerance
    MOST = "most"  # a limit not to be passed
    VALUE = "value"  # one figure; a tolerance where one is printed


@dataclass(frozen=True, slots=True)
class SpecPlace:
    """One thing a figure can be given for. `bounds` are in the small unit of the dimension.

    reach: how far, in the small unit, neighbours may lie apart before it is asked about; 0: their ratio is looked at.
    side:  `left`, `right`, or "" for both: a side's own figure comes before the one for both.
    """

    key: str
    kind: FigureKind
    words: str
    dimension: Dimension
    unit: str
    ends: Ends
    bounds: tuple[int, int]
    axles: tuple[Axle, ...] = (Axle.FRONT, Axle.REAR)
    measures: tuple[str, ...] = ()
    needs_tyre: bool = False
    side: str = ""
    reach: int = 0
    one_time: bool = False
    critical: bool = False
    procedures: tuple[str, ...] = field(default=())


_EACH = (("", ""), ("left", ", left"), ("right", ", right"))
_SIDES = ("left", "right")
ALIGNMENT_REACH = 2_000  # mdeg: house rule
PLAY_REACH = 1_500  # µm: house rule


def _heights() -> list[SpecPlace]:
    return [
        SpecPlace(
            _sided("ride_height", side), FigureKind.RIDE_HEIGHT, f"ride height{words}, ground to the stated point",
            Dimension.LENGTH, "mm", Ends.WINDOW, (50_000, 1_500_000), needs_tyre=True, side=side,
            measures=tuple(
                measure
                for one in ((side,) if side else _SIDES)
                for measure in (
                    f"opening/{{axle}}_{one}", f"closing/{{axle}}_{one}", f"inspection/height_{{axle}}_{one}",
                )
            ),
        )
        for side, words in _EACH
    ]  # fmt: skip


def _angles() -> list[SpecPlace]:
    front = (Axle.FRONT,)
    found = [
        _angle(_sided(name, side), f"{words}{side_words}", limit, axles, side, *(
            f"{family}/{name}_{one}" for family in ("opening", "closing") for one in ((side,) if side else _SIDES)
        ))
        for name, words, limit, axles in (
            ("camber", "camber", 15_000, (Axle.FRONT, Axle.REAR)),
            ("caster", "caster", 20_000, front),
            ("toe", "toe of one wheel", 5_000, (Axle.FRONT, Axle.REAR)),
        )
        for side, side_words in _EACH
    ]  # fmt: skip
    both = ("opening", "closing")
    return [
        *found,
        _angle("camber_cross", "camber, left less right", 5_000, (Axle.FRONT, Axle.REAR), "",
               *(f"{one}/camber_cross" for one in both)),
        _angle("caster_cross", "caster, left less right", 5_000, front, "", *(f"{one}/caster_cross" for one in both)),
        _angle("toe_total", "toe of both wheels together", 10_000, (Axle.FRONT, Axle.REAR), "",
               *(f"{one}/toe_total" for one in both)),
        _angle("steering_wheel", "steering wheel off straight", 20_000, front, "",
               *(f"{one}/steering_wheel" for one in both)),
    ]  # fmt: skip


def _angle(key: str, words: str, limit: int, axles: tuple[Axle, ...], side: str, *measures: str) -> SpecPlace:
    return SpecPlace(
        key, FigureKind.ALIGNMENT, words, Dimension.ANGLE, "°", Ends.WINDOW, (-limit, limit), axles, tuple(measures),
        side=side, reach=ALIGNMENT_REACH,
    )  # fmt: skip


def _play() -> list[SpecPlace]:
    return [
        SpecPlace(
            key, FigureKind.PLAY, words, Dimension.LENGTH, "mm", Ends.MOST, (0, 50_000),
            measures=(f"inspection/{measure}",), reach=PLAY_REACH,
        )
        for key, words, measure in (
            ("load_joint_axial", "play of the load joint, axial", "load_axial"),
            ("load_joint_radial", "play of the load joint, radial", "load_radial"),
            ("follower_joint_axial", "play of the follower joint, axial", "follower_axial"),
            ("follower_joint_radial", "play of the follower joint, radial", "follower_radial"),
            ("axle_joint_axial", "play of king pin or axle joint, axial", "axle_joint_axial"),
            ("axle_joint_radial", "play of king pin or axle joint, radial", "axle_joint_radial"),
            ("wheel_bearing_rim", "play of the wheel bearing, at the rim", "rim_play"),
            ("steering_free_play", "free play of the steering wheel, at its rim", "free_play"),
        )
    ]  # fmt: skip


def _springs() -> list[SpecPlace]:
    lengths = (
        ("spring_free_length", "coil, free length", (50_000, 1_500_000), ("coil_spring/new_free",)),
        ("spring_installed_length", "coil, length at ride height", (30_000, 1_500_000), ()),
        ("spring_hanging_length", "coil, length with the wheel hanging", (30_000, 1_500_000), ()),
        ("spring_wire", "coil, wire", (2_000, 60_000), ("coil_spring/new_wire",)),
        ("torsion_bar_diameter", "torsion bar, diameter", (5_000, 120_000), ("coil_spring/new_diameter",)),
    )
    return [
        SpecPlace(
            "spring_rate", FigureKind.SPRING, "coil, rate", Dimension.RATE, "N/mm", Ends.VALUE, (1_000, 2_000_000)
        ),
        *(
            SpecPlace(key, FigureKind.SPRING, words, Dimension.LENGTH, "mm", Ends.VALUE, bounds, measures=measures)
            for key, words, bounds, measures in lengths
        ),
    ]


def _rest() -> list[SpecPlace]:
    waits = (
        ("airbag_wait", "waiting time after the battery is off"),
        ("high_voltage_wait", "waiting time after isolating the high voltage"),
    )
    return [
        SpecPlace(
            "axle_mass", FigureKind.MASS, "mass on the axle", Dimension.MASS, "kg", Ends.VALUE, (50_000, 20_000_000)
        ),
        *(
            SpecPlace(
                key, FigureKind.WAIT, words, Dimension.DURATION, "min", Ends.VALUE, (1_000, 24 * 3_600_000),
                (Axle.BOTH,),
            )
            for key, words in waits
        ),
    ]  # fmt: skip


def _sided(name: str, side: str) -> str:
    return f"{name}_{side}" if side else name


OTHER_PLACES: Mapping[str, SpecPlace] = {
    one.key: one for one in (*_heights(), *_angles(), *_play(), *_springs(), *_rest())
}


def spec_places(book: Book) -> dict[str, SpecPlace]:
    """Every place a figure can be given for, by key: the joints of the book's procedures, then the others."""
    return {one.key: _joint(one) for one in figure_keys(book)} | dict(OTHER_PLACES)


def _joint(one: FigurePlace) -> SpecPlace:
    return SpecPlace(
        one.key, FigureKind.FASTENER, one.place, Dimension.TORQUE, "N·m", Ends.TORQUE, (100, 2_000_000),
        one_time=one.one_time, critical=one.critical, procedures=one.procedures,
    )  # fmt: skip


def window_keys(place: SpecPlace, axle: Axle) -> tuple[str, ...]:
    """The keys of `Order.windows` that this place's figure of this axle fills.

    A height names its axle in the measure, and is asked in steps of the other axle or of both as well.
    """
    found: list[str] = []
    for measure in place.measures:
        steps = (Axle.FRONT, Axle.REAR, Axle.BOTH) if "{axle}" in measure else (axle,)
        found += [f"{step.value}/{measure.format(axle=axle.value)}" for step in steps]
    return tuple(found)


def tyre_key(text: str) -> str:
    """A tyre's size as it is compared: without blanks, in one case."""
    return "".join(text.casefold().split())
