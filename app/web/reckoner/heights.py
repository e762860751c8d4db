"""Sums about how the vehicle stands: ride height, wheel angles, shims, joint play."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from app.domain.drawing_compared import Stack, shims_picture
from app.language.speech import _
from app.texts import word
from app.trade import alignment, limits, play, ride_height
from app.trade.problems import InputMissing
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.web.reckoner.sums import Asked, Example, Given, Line, Pick, Result, Rows, Sign, Sum, Whole, Word, amount
from app.web.reckoner.wording import degrees, mdeg, signed, worded

L, A, R, P = Dimension.LENGTH, Dimension.ANGLE, Dimension.RATIO, Dimension.PRESSURE
YES_NO = (("yes", "yes"), ("no", "no"))
_CORNERS = {
    "front_left": "Front left",
    "front_right": "Front right",
    "rear_left": "Rear left",
    "rear_right": "Rear right",
}
_STANDING = {"below": "below its limits", "within": "within its limits", "above": "above its limits"}
_VERDICT = {
    "sound": ("sound", "all that was given lies within its limits"),
    "watch": ("watch", "look closer before a part is blamed"),
    "replace": ("replace", "a corner stands below its limit"),
    "check_first": ("check first", "the readings cannot carry a verdict yet"),
}
_REASONS = {
    "corner_low": "{at} stands too low.",
    "corner_high": "{at} stands too high.",
    "sides_differ": "Left and right of the {at} axle differ by more than allowed.",
    "rake_off": "The rake lies outside its limits.",
    "pressures_not_set": "The pressures were not set.",
    "not_settled": "The vehicle was not settled: bounce each end and roll it.",
    "not_empty": "The vehicle was not empty.",
}
_FIRST = {
    "pressures": "tyre pressures",
    "tyre_size": "tyre size against the placard",
    "load_and_fuel": "load and fuel",
    "level_floor": "that the floor is level",
    "settled": "that it is settled",
    "bushings_clamped_hanging": "bushings clamped while the wheels hung",
    "spring_seats": "spring seats",
    "torsion_bar_adjuster": "the torsion bar's adjuster",
    "springs": "the springs",
}


def _heights(given: Given) -> Result:
    measured = ride_height.Heights(*(given.amount(name) for name in _CORNERS))
    spec = ride_height.HeightSpec(_limits(given, "front"), _limits(given, "rear"), given.maybe("side_difference"))
    raises = {
        axle: amount_
        for axle, amount_ in (
            (ride_height.Axle.FRONT, given.maybe("raise_front")),
            (ride_height.Axle.REAR, given.maybe("raise_rear")),
        )
        if amount_ is not None
    }
    how = ride_height.Circumstances(
        pressures_set=given.text("pressures_set") == "yes",
        settled=given.text("settled") == "yes",
        empty=given.text("empty") == "yes",
        raises=raises or None,
        torsion_bars=given.text("torsion_bars") == "yes",
    )
    found = ride_height.judge_heights(measured, spec, how)
    like = measured.front_left
    lines = [Line(_("Verdict"), *_VERDICT[found.verdict])]
    for corner, row in found.corners.items():
        off = _(", by {worded}", worded=worded(row.off_by, like)) if row.off_by.value else ""
        lines.append(Line(_CORNERS[corner], worded(row.reading, like), f"{_STANDING[row.standing]}{off}"))
    lines += [
        Line(_("Left less right, {axle}", axle=axle), signed(difference, worded(difference, like)))
        for axle, difference in found.side_difference.items()
    ]
    lines.append(Line(_("Rake, rear less front"), signed(found.rake, worded(found.rake, like))))
    said = [_REASONS[reason].format(at=_CORNERS.get(at, at)) for reason, at in found.reasons]
    if found.check_first:
        said.append(_("Check first: ") + ", ".join(_FIRST[one] for one in found.check_first) + ".")
    drawing = {name: show(getattr(measured, name)) for name in _CORNERS}
    return Result(tuple(lines), tuple(said), drawing=drawing)


def _limits(given: Given, axle: str) -> limits.Limits:
    return limits.around(given.amount(f"{axle}_target"), given.amount(f"{axle}_minus"), given.amount(f"{axle}_plus"))


def _spec(axle: str) -> tuple[Asked, ...]:
    return (
        amount(f"{axle}_target", _("Maker's height, {axle}", axle=axle), L, "mm", "380 mm"),
        amount(f"{axle}_minus", _("Room below it, {axle}", axle=axle), L, "mm", "10 mm", sign=Sign.NOT_NEGATIVE),
        amount(f"{axle}_plus", _("Room above it, {axle}", axle=axle), L, "mm", "15 mm", sign=Sign.NOT_NEGATIVE),
    )


RIDE_HEIGHT = Sum(
    slug="ride-height",
    title="Ride height",
    asks="Does the vehicle stand as its maker says?",
    inputs=(
        *(amount(name, f"{words}, measured", L, "mm", "375 mm") for name, words in _CORNERS.items()),
        *_spec("front"),
        *_spec("rear"),
        amount(
            "side_difference",
            "Most that left and right may differ",
            L,
            "mm",
            "12 mm",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
            hint="Where the maker prints one.",
        ),
        amount(
            "raise_front",
            "Fitted tyres raise the front by",
            L,
            "mm",
            "3 mm",
            optional=True,
            sign=Sign.ANY,
            hint="From the tyre page; negative if they lower it.",
        ),
        amount("raise_rear", "Fitted tyres raise the rear by", L, "mm", "3 mm", optional=True, sign=Sign.ANY),
        Pick(name="pressures_set", label="Pressures set?", options=YES_NO),
        Pick(name="settled", label="Bounced and rolled?", options=YES_NO),
        Pick(name="empty", label="Empty?", options=YES_NO),
        Pick(name="torsion_bars", label="Torsion bars?", optional=True, options=YES_NO),
    ),
    reckon=_heights,
    formula=(
        "height allowed for = measured − what the tyres raise",
        "side difference = left − right",
        "rake = mean of the rear − mean of the front",
    ),
    valid="On level ground, measured where the maker says. Room below and above is kept apart. Wrong pressures, "
    "a load or an "
    "unsettled car are not judged by guesswork.",
    sources=(
        "The maker's limits are the ones that count",
        "COMAR 11.14.05.03 (four corners compared side to side)",
        "Order of what to check first: common practice, no source",
    ),
    picture="heights",
    drawing=dict.fromkeys(_CORNERS, ""),
    arguments={"target": "front_target"},
    example=Example(
        {
            "front_left": "380 mm",
            "front_right": "372 mm",
            "rear_left": "395 mm",
            "rear_right": "395 mm",
            "front_target": "380 mm",
            "front_minus": "10 mm",
            "front_plus": "10 mm",
            "rear_target": "395 mm",
            "rear_minus": "10 mm",
            "rear_plus": "10 mm",
            "pressures_set": "yes",
            "settled": "yes",
            "empty": "yes",
        },
        "8 mm left over right, 19 mm rake",
        "380 − 372 and 395 − 376 by hand",
    ),
)


def _squash(given: Given) -> Result:
    found = ride_height.pressure_allowance(given.amount("squash"), given.amount("placard"), given.amount("actual"))
    note = "higher" if found.value > 0 else "lower" if found.value < 0 else _("no change")
    line = Line(_("The axle sits by"), signed(found, worded(found, given.amount("squash"))), note)
    return Result(
        (line,), (_("An estimate to see whether pressure explains a low corner. Set the pressure and measure."),)
    )


PRESSURE = Sum(
    slug="pressure-and-height",
    title="Pressure and height",
    asks="Can a wrong pressure explain the low corner?",
    inputs=(
        amount(
            "squash",
            "Tyre flattened at its right pressure by",
            L,
            "mm",
            "20 mm",
            "q",
            sign=Sign.NOT_NEGATIVE,
            hint="Free radius less the height of the wheel's centre.",
        ),
        amount("placard", "Pressure on the placard", P, "kPa", "230 kPa", "p"),
        amount("actual", "Pressure found", P, "kPa", "180 kPa", "pₐ"),
    ),
    reckon=_squash,
    formula=("change = q · (1 − p / pₐ)",),
    valid="From half to twice the placard's pressure; the tyre's stiffness taken as going with its pressure.",
    sources=("Common practice, no source",),
    picture="heights",
    drawing=dict.fromkeys(_CORNERS, ""),
    arguments={"squash_at_placard": "squash"},
    example=Example(
        {"squash": "20 mm", "placard": "200 kPa", "actual": "160 kPa"}, "−5 mm", "20 · (1 − 200/160) by hand"
    ),
)


# -----------------------------------------------------------------------------------------------------------
# Angles


def _angle(given: Given) -> Result:
    angle = given.amount("angle")
    return Result(
        (
            Line(_("In degrees"), show(angle, "°", 3)),
            Line(_("In degrees and minutes"), degrees(angle).split(" (")[1][:-1]),
            Line(_("In minutes"), show(angle, "′", 1)),
        )
    )


MINUTES = Sum(
    slug="degrees-and-minutes",
    title="Degrees and minutes",
    asks="What is this angle in decimals, or in minutes?",
    inputs=(amount("angle", "Angle", A, "°", "-0°45'", sign=Sign.ANY, hint="1°30′, 1.5°, 90′: all the same."),),
    reckon=_angle,
    formula=("decimal = degrees + minutes / 60, the sign for the whole",),
    valid="Kept to a thousandth of a degree, which is 0.06′.",
    sources=("Definition; the sign of −0°45′ belongs to the whole",),
    picture="wheel",
    drawing={"tilt": 6},
    example=Example({"angle": "-0°45'"}, "−0.75°", "45/60 by hand"),
)

_MEASURES = (
    ("front_to_rear_edge", "front edge to rear edge, over the whole diameter"),
    ("front_edge_to_centre", "front edge to the wheel's centre, over half of it"),
)


def _toe(given: Given) -> Result:
    measure = alignment.ToeMeasure(given.text("measure"))
    diameter = given.amount("diameter")
    length, angle = given.maybe("length"), given.maybe("angle")
    lines = []
    if length is not None:
        found = alignment.toe_angle(length, diameter, measure)
        lines.append(
            Line(
                _("Toe angle of the wheel"),
                degrees(found, 3),
                _("from {show} at {show_2}", show=show(length), show_2=show(diameter)),
            )
        )
        angle_drawn = found
    if angle is not None:
        made = alignment.toe_length(angle, diameter, measure)
        lines.append(
            Line(_("Toe length at that diameter"), worded(made, length, 2), _("from {show}", show=show(angle)))
        )
        angle_drawn = angle
    if not lines:
        raise InputMissing("length", "needs the toe as a length or as an angle", reason="toe")
    return Result(
        tuple(lines),
        (_("For one wheel. The total toe of an axle is left plus right."),),
        drawing={"toe": max(-20, min(20, 6 * mdeg(angle_drawn) or (3 if angle_drawn.value > 0 else -3)))},
    )


TOE = Sum(
    slug="toe",
    title="Toe as length and angle",
    asks="What angle is this toe length, or the other way round?",
    inputs=(
        amount(
            "diameter",
            "Diameter it is measured at",
            L,
            "mm",
            "400 mm",
            "D",
            hint="Of the points measured, not the tyre's by habit.",
        ),
        Pick(name="measure", label="The length is measured from", options=_MEASURES),
        amount(
            "length",
            "Toe of one wheel, as a length",
            L,
            "mm",
            "2 mm",
            "t",
            optional=True,
            sign=Sign.ANY,
            hint="Toe-in positive.",
        ),
        amount("angle", "Toe of one wheel, as an angle", A, "°", "0.2°", "θ", optional=True, sign=Sign.ANY),
    ),
    reckon=_toe,
    formula=("front to rear edge: t = D · sin θ", "front edge to centre: t = D/2 · sin θ"),
    valid="The two ways of measuring differ by a factor of two, so neither is taken for granted.",
    sources=("Sine of the right triangle; an owners' forum post with an example (1974396790)",),
    picture="toe",
    drawing={"toe": 8},
    example=Example(
        {"length": "2 mm", "diameter": "406.4 mm", "measure": "front_to_rear_edge"}, "0.282°", "arcsin(2/406.4) by hand"
    ),
)


def _thrust(given: Given) -> Result:
    lines: list[Line] = []
    front, rear = (
        (given.maybe("front_left"), given.maybe("front_right")),
        (given.maybe("rear_left"), given.maybe("rear_right")),
    )
    if rear[0] is not None and rear[1] is not None:
        angle = alignment.thrust_angle(rear[0], rear[1])
        side = _("to the right") if angle.value > 0 else _("to the left") if angle.value < 0 else "straight"
        lines += [
            Line(_("Thrust angle"), degrees(angle, 3), side),
            Line(_("Total toe, rear"), degrees(alignment.total_toe(rear[0], rear[1]))),
        ]
    if front[0] is not None and front[1] is not None:
        lines.append(Line(_("Total toe, front"), degrees(alignment.total_toe(front[0], front[1]))))
    for name in ("camber", "caster"):
        left, right = given.maybe(f"{name}_left"), given.maybe(f"{name}_right")
        if left is not None and right is not None:
            lines.append(Line(_("Cross {name}, left less right", name=name), degrees(alignment.cross(left, right))))
    if not lines:
        raise InputMissing("rear_left", "needs both sides of at least one pair", reason="pair")
    said = (_("It pulls to the side of more camber or less caster, if all else is right."),)
    return Result(tuple(lines), said)


_SIDES = (("left", "left"), ("right", "right"))
THRUST = Sum(
    slug="thrust-and-cross",
    title="Thrust, totals and cross values",
    asks="Where does the rear axle point, and how do the sides differ?",
    inputs=tuple(
        amount(f"{name}_{side}", f"{words}, {side}", A, "°", "0.2°", optional=True, sign=Sign.ANY)
        for name, words in (("rear", "Rear toe"), ("front", "Front toe"), ("camber", "Camber"), ("caster", "Caster"))
        for side, _ in _SIDES
    ),
    reckon=_thrust,
    formula=("thrust = (left rear toe − right rear toe) / 2", "total toe = left + right", "cross = left − right"),
    valid="Angles; toe-in positive. A positive thrust angle points to the right.",
    sources=("Signs after SAE J670 (from memory), fixed here", "Bisector of the rear wheels' toe"),
    picture="toe",
    drawing={"toe": 8},
    arguments={"left_rear": "rear_left", "right_rear": "rear_right"},
    example=Example({"rear_left": "0.2°", "rear_right": "0.05°"}, "0.075°", "(0.2 − 0.05)/2 by hand"),
)


def _limit(given: Given) -> Result:
    band = limits.Limits(given.amount("target"), given.amount("low"), given.amount("high"))
    found = limits.judge(given.amount("reading"), band)
    lines = [
        Line(
            _("The reading is"),
            _STANDING[found.standing],
            "" if found.off_by.value else _("an end counts as within"),
        ),
        Line(_("Past the nearer limit by"), degrees(found.off_by)),
        Line(_("From the target"), signed(found.from_target, degrees(found.from_target))),
    ]
    if (factor := given.maybe("factor")) is not None:
        wider = alignment.limit_in_use(band.high, factor)
        lines.append(
            Line(
                _("High limit for a vehicle in use"),
                degrees(wider),
                _("the maker's times the factor of the rule you named"),
            )
        )
    return Result(tuple(lines))


LIMIT = Sum(
    slug="alignment-limits",
    title="An angle beside its limits",
    asks="Is this angle within what its maker prints?",
    inputs=(
        amount("reading", "Reading", A, "°", "0.8°", sign=Sign.ANY),
        amount("target", "Target", A, "°", "0.5°", sign=Sign.ANY),
        amount("low", "Lowest", A, "°", "-1°", sign=Sign.ANY),
        amount("high", "Highest", A, "°", "2°", sign=Sign.ANY),
        amount(
            "factor",
            "Factor for vehicles in use",
            R,
            "1",
            "1.5",
            optional=True,
            hint="Only where a rule of your place gives one: 1.5 in 49 CFR 570.7(d).",
        ),
    ),
    reckon=_limit,
    formula=("within if lowest ≤ reading ≤ highest",),
    valid="Room below and above may differ and is never averaged.",
    sources=("The maker's limits", "49 CFR 570.7(d) for the factor of vehicles in use in one jurisdiction"),
    picture="window",
    drawing={"tick": 0, "reading": "", "low": "lowest", "high": "highest"},
    example=Example(
        {"reading": "-1.2°", "target": "0.5°", "low": "-1°", "high": "2°"},
        "0.2° below",
        "a service manual's limits 0.5° −1.5°/+1.5°, by hand",
    ),
)


# -----------------------------------------------------------------------------------------------------------
# Shims

_ANGLES = ("camber", "caster")


def _shims(given: Given) -> Result:
    effects = [
        alignment.ShimEffect(
            row.text("bolt"), row.amount("thickness"), {name: row.amount(name) for name in _ANGLES if row.has(name)}
        )
        for row in given.rows("effects")
    ]
    wanted = {name: given.amount(f"want_{name}") for name in _ANGLES if given.has(f"want_{name}")}
    stock = [alignment.ShimStock(row.amount("thickness"), row.whole("count")) for row in given.rows("stock")]
    fitted = [
        alignment.ShimMove(row.text("bolt"), row.amount("thickness"), row.whole("count"))
        for row in given.rows("fitted")
    ]
    most = given.whole("most_per_bolt") if given.has("most_per_bolt") else 4
    plan = alignment.solve_shims(effects, wanted, stock, fitted=fitted, most_per_bolt=most)
    lines = [
        Line(_("At {bolt}", bolt=move.bolt), f"{_handled(move)} × {worded(move.thickness, effects[0].thickness, 3)}")
        for move in plan.moves
    ] or [Line(_("Shims"), _("leave them as they are"), _("no set in stock brings it nearer"))]
    for name in sorted(wanted):
        change = plan.changes[name]
        lines.append(
            Line(
                _("{capitalize} changes by", capitalize=name.capitalize()),
                signed(change, degrees(change)),
                _("of {degrees} wanted", degrees=degrees(wanted[name])),
            )
        )
        lines.append(Line(_("{capitalize}, what remains", capitalize=name.capitalize()), degrees(plan.remains[name])))
    return Result(
        tuple(lines),
        (_("Measure again after fitting: the table is the maker's, the car is itself."),),
        shims=_stacks([one.bolt for one in effects], fitted, plan.moves, effects[0].thickness),
    )


def _stacks(
    bolts: list[str], fitted: list[alignment.ShimMove], moves: Sequence[alignment.ShimMove], like: Quantity
) -> Mapping[str, Any]:
    """The plates at each bolt of the table, before and once the moves are made."""
    stacks = []
    for bolt in dict.fromkeys(bolts):
        before: Counter[int] = Counter()
        for one in (one for one in fitted if one.bolt == bolt):
            before[one.thickness.value] += one.count
        after = before.copy()
        for one in (one for one in moves if one.bolt == bolt):
            after[one.thickness.value] += one.count
        stacks.append(
            Stack(bolt, tuple(before.elements()), tuple(after.elements()), _plates(before, like), _plates(after, like))
        )
    return shims_picture(stacks, lambda group, key: word(f"{group}.{key}"))


def _plates(plates: Counter[int], like: Quantity) -> str:
    return ", ".join(
        f"{count} × {worded(Quantity(L, thick), like, 3)}" for thick, count in sorted(plates.items()) if count > 0
    )


def _handled(move: alignment.ShimMove) -> str:
    return f"{'put in' if move.count > 0 else 'take out'} {abs(move.count)}"


SHIMS = Sum(
    slug="shims",
    title="Shims for camber and caster",
    asks="Which shims go where?",
    inputs=(
        Rows(
            name="effects",
            label="Maker's table: what one shim at one bolt changes",
            row="Bolt",
            at_most=4,
            at_least=1,
            columns=(
                Word(name="bolt", label="name", example="front bolt"),
                amount("thickness", "shim", L, "mm", "3 mm"),
                amount("camber", "camber changes by", A, "°", "0.5°", sign=Sign.ANY, optional=True),
                amount("caster", "caster changes by", A, "°", "0.6°", sign=Sign.ANY, optional=True),
            ),
        ),
        amount(
            "want_camber",
            "Camber has to change by",
            A,
            "°",
            "0.5°",
            sign=Sign.ANY,
            optional=True,
            hint="The change, not the angle to reach; 0 if it is to stay.",
        ),
        amount("want_caster", "Caster has to change by", A, "°", "0°", sign=Sign.ANY, optional=True),
        Rows(
            name="stock",
            label="Shims on the shelf",
            row="Shim",
            at_most=4,
            columns=(
                amount("thickness", "thickness", L, "mm", "3 mm"),
                Whole(name="count", label="how many", example="4"),
            ),
        ),
        Rows(
            name="fitted",
            label="Shims there now",
            row="Place",
            at_most=4,
            columns=(
                Word(name="bolt", label="bolt", example="front bolt"),
                amount("thickness", "thickness", L, "mm", "3 mm"),
                Whole(name="count", label="how many", example="1"),
            ),
        ),
        Whole(name="most_per_bolt", label="Most shims at one bolt", example="4", optional=True, assumed="4"),
    ),
    reckon=_shims,
    formula=(
        "change = Σ number · thickness / thickness of the table · change of the table",
        "every whole set in stock is tried",
    ),
    valid="A linear table: half the thickness changes half, taking out reverses the sign. Shims come whole, and "
    "only those there are.",
    sources=("TM 9-2320-280-34, table 20-3: combinations of additions and subtractions add up",),
    picture="shims",
    arguments={"wanted": "want_camber", "stock.count": "stock", "stock.thickness": "stock"},
    example=Example(
        {
            "effects-1-bolt": "front bolt",
            "effects-1-thickness": "0.12 in",
            "effects-1-camber": "0.5°",
            "effects-1-caster": "0.6°",
            "effects-2-bolt": "rear bolt",
            "effects-2-thickness": "0.12 in",
            "effects-2-camber": "0°",
            "effects-2-caster": "-0.6°",
            "want_camber": "0.5°",
            "want_caster": "0°",
            "stock-1-thickness": "0.12 in",
            "stock-1-count": "4",
        },
        "0.5° of camber, no caster, with one at each bolt",
        "TM 9-2320-280-34, table 20-3, the row of both bolts",
    ),
)


# -----------------------------------------------------------------------------------------------------------
# Joint play

_PLAY_REASONS = {
    "axial_over": "Axial play is over the maker's limit.",
    "radial_over": "Radial play is over the maker's limit.",
    "axial_near": "Axial play is near the maker's limit.",
    "radial_near": "Radial play is near the maker's limit.",
    "follower_moves": "A follower joint moves, and no limit was given that allows it.",
    "indicator_flush": "The wear indicator is flush.",
    "indicator_sunk": "The wear indicator is sunk.",
    "boot_split": "The boot is split: the joint follows.",
    "boot_greasy": "The boot is greasy: look where it comes from.",
}


def _play(given: Given) -> Result:
    reading = play.JointReading(
        weight_on=given.text("weight_on") == "yes",
        axial=given.maybe("axial"),
        radial=given.maybe("radial"),
        indicator=play.Indicator(given.text("indicator") or "none"),
        boot=play.Boot(given.text("boot") or "not_looked_at"),
    )
    found = play.judge_joint(
        play.Role(given.text("role")), reading, _play_limit(given, "axial"), _play_limit(given, "radial")
    )
    reasons = tuple(_PLAY_REASONS[reason] for reason in found.reasons)
    return Result(
        (Line(_("Verdict"), found.verdict.value),), reasons or (_("Nothing that was given speaks against it."),)
    )


def _play_limit(given: Given, direction: str) -> play.PlayLimit | None:
    most = given.maybe(f"{direction}_limit")
    return None if most is None else play.PlayLimit(most, given.text("replace_at") == "yes")


def _direction(name: str, words: str) -> tuple[Asked, ...]:
    return (
        amount(
            name, _("{words} play, measured", words=words), L, "mm", "0.8 mm", optional=True, sign=Sign.NOT_NEGATIVE
        ),
        amount(
            f"{name}_limit",
            _("{words} play, maker's limit", words=words),
            L,
            "mm",
            "1.5 mm",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
        ),
    )


JOINT = Sum(
    slug="joint-play",
    title="Play in a ball joint",
    asks="Is this joint sound?",
    inputs=(
        Pick(
            name="role",
            label="The joint",
            options=(("load", "carries the load"), ("follower", "only guides (follower)")),
        ),
        Pick(name="weight_on", label="Weight on the joint while measuring?", options=YES_NO),
        *_direction("axial", "Axial"),
        *_direction("radial", "Radial"),
        Pick(
            name="replace_at",
            label="The maker says to replace",
            optional=True,
            options=(("no", "over the limit"), ("yes", "at the limit")),
        ),
        Pick(
            name="indicator",
            label="Wear indicator",
            optional=True,
            options=(("none", "has none"), ("proud", "stands proud"), ("flush", "flush"), ("sunk", "sunk")),
        ),
        Pick(
            name="boot",
            label="Boot",
            optional=True,
            options=(("sound", "sound"), ("split", "split"), ("greasy", "greasy"), ("not_looked_at", "not looked at")),
        ),
    ),
    reckon=_play,
    formula=(
        "replace: play > limit, indicator flush or sunk, a follower that moves without a limit",
        "watch: from four fifths of the limit on, or a boot split or greasy",
    ),
    valid="Held the right way: an indicator is read with the weight on, play is felt with the weight off. "
    "Limits are the maker's.",
    sources=(
        "Utah R714-160-10(1) (indicators, boots, unloading)",
        "Near the limit at four fifths: house rule, no source",
        "A follower without visible play: common practice, no source",
    ),
    picture="joint",
    example=Example({"role": "load", "weight_on": "yes", "indicator": "flush"}, "replace", "Utah R714-160-10(1)"),
)

SUMS = (RIDE_HEIGHT, PRESSURE, JOINT)
ANGLE_SUMS = (MINUTES, TOE, THRUST, LIMIT, SHIMS)
