"""Sums about where a vehicle's weight goes: axles, corners, stands and their labels."""

from __future__ import annotations

from app.language.speech import _
from app.trade import loads
from app.trade.problems import InputMissing
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.web.reckoner.sums import Example, Given, Line, Pick, Result, Sign, Sum, amount
from app.web.reckoner.wording import number, percent, signed, worded

L, M, R = Dimension.LENGTH, Dimension.MASS, Dimension.RATIO
UNDER_A_VEHICLE = (
    "Put stands only where the vehicle's maker says, on hard level ground, and set the weight down before "
    "anyone goes under. "
    "A vehicle held by a jack alone falls.",
)
_FRONT = amount("front", "Mass on the front axle", M, "kg", "820 kg")
_REAR = amount("rear", "Mass on the rear axle", M, "kg", "640 kg")
_BASE = amount("wheelbase", "Wheelbase", L, "mm", "2750 mm", "L")


def _split(given: Given) -> Result:
    base = given.amount("wheelbase")
    lines: list[Line] = []
    drawing: dict[str, str | int] = dict(_CAR)
    if given.has("mass"):
        axles = loads.axle_split(given.amount("mass"), base, given.amount("cg"))
        lines += [
            Line(_("Front axle"), worded(axles.front, given.amount("mass"))),
            Line(_("Rear axle"), worded(axles.rear, given.amount("mass"))),
            Line(_("Weight on the front axle"), worded(loads.weight(axles.front))),
            Line(_("Weight on the rear axle"), worded(loads.weight(axles.rear))),
        ]
        drawing |= {
            "cg": _along(given.amount("cg"), base),
            "front": show(axles.front, "kg", 0),
            "rear": show(axles.rear, "kg", 0),
        }
    if given.has("load"):
        added = loads.load_split(given.amount("load"), base, given.amount("load_at"))
        like = given.amount("load")
        lines += [
            Line(_("The load adds to the front axle"), signed(added.front, worded(added.front, like, 2))),
            Line(_("and to the rear axle"), signed(added.rear, worded(added.rear, like, 2))),
        ]
    if not lines:
        raise InputMissing("mass", "needs the vehicle's mass, or a load", reason="mass_or_load")
    return Result(tuple(lines), drawing=drawing)


def _along(position: Quantity, base: Quantity) -> int:
    """A place along the vehicle in the picture: axles at 110 and 370."""
    return min(450, max(30, 110 + round(260 * position.value / base.value)))


_CAR: dict[str, str | int] = {
    "cg": 222,
    "front": "",
    "rear": "",
    "front_stands": 0,
    "rear_stands": 0,
    "front_up": 0,
    "rear_up": 0,
}

SPLIT = Sum(
    slug="axle-split",
    title="Axle loads",
    asks="What does each axle carry, and what does a load add to it?",
    inputs=(
        _BASE,
        amount("mass", "Mass of the vehicle", M, "kg", "1500 kg", "m", optional=True),
        amount("cg", "Centre of gravity behind the front axle", L, "mm", "1200 mm", "b", optional=True, sign=Sign.ANY),
        amount("load", "A load in or on it", M, "kg", "100 kg", optional=True, sign=Sign.NOT_NEGATIVE),
        amount(
            "load_at",
            "The load lies behind the front axle by",
            L,
            "mm",
            "3000 mm",
            optional=True,
            sign=Sign.ANY,
            hint="Negative if ahead of it.",
        ),
    ),
    reckon=_split,
    formula=("front = m · (L − b) / L", "rear = m · b / L"),
    valid="Standing level. A load behind the rear axle takes weight off the front.",
    sources=(
        "Moments about an axle; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1 (from memory)",
        "A truck maker's body-builder manual, fig. B-2 p. 77 (inputs; it prints a slip)",
    ),
    picture="car",
    drawing=_CAR,
    arguments={"cg_behind_front": "cg", "behind_front": "load_at"},
    example=Example(
        {"mass": "1530 kg", "wheelbase": "2.7 m", "cg": "1.15 m"},
        "8616.45 N and 6392.85 N on the axles",
        "a published exercise, its two answers the right way round",
    ),
)


def _stands(given: Given) -> Result:
    axles = loads.AxleMasses(given.amount("front"), given.amount("rear"), given.amount("wheelbase"))
    front_at, rear_at = given.maybe("front_stands_at"), given.maybe("rear_stands_at")
    found = loads.stand_load(
        axles, front_stands_at=front_at, rear_stands_at=rear_at, left_share=given.maybe("left_share")
    )
    like = given.amount("front")
    rows = (
        (_("Each stand under the front"), found.front_left, found.front_right),
        (_("Each stand under the rear"), found.rear_left, found.rear_right),
    )
    lines = [Line(_("Choose the stands by"), worded(found.heaviest, like), _("the heaviest load on one stand"))]
    for label, left, right in rows:
        if left is not None and right is not None:
            lines += _pair(label, left, right, like)
    wheels = ((_("On the front wheels"), found.front_wheels), (_("On the rear wheels"), found.rear_wheels))
    lines += [
        Line(_("Left {what}", what=label.lower()), worded(mass, like)) for label, mass in wheels if mass is not None
    ]
    more = (
        _("more than that axle did: the stands are inboard")
        if found.over_axle.value > 0
        else _("beside what that axle did")
    )
    lines.append(Line(_("That pair carries"), signed(found.over_axle, worded(found.over_axle, like)), more))
    lines.append(
        Line(
            _("To tipping"),
            worded(found.to_tipping, given.amount("wheelbase"), 0),
            _("how far the centre of gravity may lie from where it is taken to be"),
        )
    )
    return Result(tuple(lines), drawing=_stands_drawing(axles, found, front_at, rear_at))


def _pair(label: str, left: Quantity, right: Quantity, like: Quantity) -> list[Line]:
    if abs(left.value - right.value) <= 1:
        return [Line(label, worded(left, like))]
    return [
        Line(_("{label}, left", label=label), worded(left, like)),
        Line(_("{label}, right", label=label), worded(right, like)),
    ]


def _stands_drawing(
    axles: loads.AxleMasses, found: loads.StandLoad, front_at: Quantity | None, rear_at: Quantity | None
) -> dict[str, str | int]:
    base = axles.wheelbase

    def heavier(left: Quantity | None, right: Quantity | None) -> str:
        there = [one for one in (left, right) if one is not None]
        return show(max(there, key=lambda one: one.value), "kg", 0) if there else ""

    return {
        "cg": _along(loads.cg_behind_front(axles), base),
        "front_stands": _along(front_at, base) if front_at else 0,
        "rear_stands": _along(rear_at, base) if rear_at else 0,
        "front_up": 1 if front_at else 0,
        "rear_up": 1 if rear_at else 0,
        "front": heavier(found.front_left, found.front_right)
        or (show(found.front_wheels, "kg", 0) if found.front_wheels else ""),
        "rear": heavier(found.rear_left, found.rear_right)
        or (show(found.rear_wheels, "kg", 0) if found.rear_wheels else ""),
    }


STANDS = Sum(
    slug="stand-load",
    title="Load on each stand",
    asks="What does each stand carry, where I put them?",
    inputs=(
        _FRONT,
        _REAR,
        _BASE,
        amount(
            "front_stands_at",
            "Front stands, behind the front axle",
            L,
            "mm",
            "600 mm",
            "a",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
            hint="Leave it empty if the front stays on its wheels.",
        ),
        amount(
            "rear_stands_at",
            "Rear stands, behind the front axle",
            L,
            "mm",
            "2250 mm",
            "c",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
            hint="Leave it empty if the rear stays on its wheels.",
        ),
        amount("left_share", "Part on the left stand", R, "%", "52 %", sign=Sign.NOT_NEGATIVE, assumed="half"),
    ),
    reckon=_stands,
    formula=(
        "front end up: R = m · (distance of the weight from the rear wheels) / (distance of the stands from them)",
        "both ends up: moments about the other pair",
    ),
    valid="About level, a rigid body, stands between the axles. Stands set inboard carry more than the axle "
    "did. Refused when "
    "the weight lies nearer than a twentieth of the wheelbase to a line of stands.",
    sources=("Moments about the other support", "The twentieth of the wheelbase: house rule, no source"),
    picture="car",
    drawing=_CAR | {"front_up": 1, "front_stands": 160},
    cautions=UNDER_A_VEHICLE,
    danger="crush",
    arguments={"axles.front": "front", "axles.rear": "rear", "axles.wheelbase": "wheelbase"},
    example=Example(
        {"front": "833.333 kg", "rear": "666.667 kg", "wheelbase": "2700 mm", "front_stands_at": "600 mm"},
        "536 kg on one stand",
        "moments about the rear wheels, worked by hand: 1500 · 1500/2100 / 2",
    ),
)


_BASES = (("each", "each stand"), ("per_pair", "the pair"), ("unsaid", "the label does not say"))


def _label(given: Given) -> Result:
    basis = loads.Basis(given.text("basis"))
    found = loads.label_margin(given.amount("load"), given.amount("rating"), basis)
    like = given.amount("load")
    lines = (
        Line(
            _("The label reaches the load") if found.within_label else _("The label does not reach the load"),
            _("{number} times", number=number(found.margin)),
            _("what one stand bears over what it carries"),
        ),
        Line(
            _("One stand bears"),
            worded(found.one_bears, like),
            _("as the label says")
            if found.counted_as is loads.Basis.EACH
            else _("half of the label, read as the pair's"),
        ),
        Line(_("Left over"), signed(found.spare, worded(found.spare, like))),
    )
    said = () if found.within_label else (_("Take stands whose label reaches the load."),)
    assumed = (_("The label's figure is the pair's"),) if basis is loads.Basis.UNSAID else ()
    return Result(lines, said, assumed)


LABEL = Sum(
    slug="stand-label",
    title="Label of a stand",
    asks="Does the label of these stands reach the load?",
    inputs=(
        amount("load", "Load on one stand", M, "kg", "540 kg", sign=Sign.NOT_NEGATIVE),
        amount("rating", "Figure on the label", M, "kg", "3000 kg"),
        Pick(name="basis", label="The figure is for", options=_BASES),
    ),
    reckon=_label,
    formula=("one stand bears: the label's figure, or half of it where it is the pair's",),
    valid="The label alone. It says nothing of rust, a bent leg or soft ground.",
    sources=(
        "House rule: a label that does not say is read as the pair's",
        "ASME PASE defines the rating as the largest published load (the standard itself was not read)",
    ),
    picture="stand",
    cautions=UNDER_A_VEHICLE,
    danger="crush",
    example=Example(
        {"load": "540 kg", "rating": "3000 kg", "basis": "unsaid"}, "1500 kg for one stand", "half of the label"
    ),
)


def _corners(given: Given) -> Result:
    corners = loads.Corners(*(given.amount(name) for name in ("front_left", "front_right", "rear_left", "rear_right")))
    found = loads.corner_fractions(corners)
    return Result(
        (
            Line(_("On the front axle"), percent(found.front)),
            Line(_("On the left"), percent(found.left)),
            Line(_("On the diagonal front left to rear right"), percent(found.diagonal)),
        )
    )


CORNERS = Sum(
    slug="corner-weights",
    title="Corner weights",
    asks="How is the weight shared among the four wheels?",
    inputs=tuple(
        amount(name, f"{words}, on the scale", M, "kg", "400 kg", sign=Sign.NOT_NEGATIVE)
        for name, words in (
            ("front_left", "Front left"),
            ("front_right", "Front right"),
            ("rear_left", "Rear left"),
            ("rear_right", "Rear right"),
        )
    ),
    reckon=_corners,
    formula=("front = (fl + fr) / all", "left = (fl + rl) / all", "diagonal = (fl + rr) / all"),
    valid="On level scales, settled, brakes off.",
    sources=("Common practice, no source",),
    picture="corners",
    arguments={"corners": "front_left"},
    example=Example(
        {"front_left": "300 kg", "front_right": "300 kg", "rear_left": "200 kg", "rear_right": "200 kg"},
        "60 % on the front",
        "600 of 1000 by hand",
    ),
)

SUMS = (SPLIT, STANDS, LABEL, CORNERS)
