"""Sums about amounts, tyres and the vehicle's number."""

from __future__ import annotations

import math

from app.language.speech import _
from app.trade import tyre, vin
from app.trade.problems import NotUnderstood, TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import amount_in, find_unit, parse_quantity, show, unit_symbols
from app.web.reckoner.sums import Example, Given, Line, Pick, Result, Sign, Sum, Word, amount
from app.web.reckoner.wording import number, signed, worded

L, R, S = Dimension.LENGTH, Dimension.RATIO, Dimension.SPEED

# The kinds in the order they are offered, with the word a person would use.
_KINDS = (
    (Dimension.TORQUE, "torque"),
    (Dimension.LENGTH, "length"),
    (Dimension.FORCE, "force"),
    (Dimension.MASS, "mass"),
    (Dimension.PRESSURE, "pressure or stress"),
    (Dimension.RATE, "spring rate"),
    (Dimension.ENERGY, "energy"),
    (Dimension.ANGLE, "angle"),
    (Dimension.SPEED, "speed"),
    (Dimension.FREQUENCY, "frequency"),
    (Dimension.DURATION, "time"),
    (Dimension.TEMPERATURE, "temperature"),
    (Dimension.RATIO, "ratio"),
)


def _convert(given: Given) -> Result:
    text = given.text("amount")
    wanted = given.text("kind")
    # A bare number is a ratio only where somebody says so; else it lacks its unit.
    bare = not wanted and not any(sign in text for sign in ("%", "‰", "ppm"))
    kinds = [(k, word) for k, word in _KINDS if wanted in ("", k.value) and not (bare and k is Dimension.RATIO)]
    found: list[tuple[str, Quantity]] = []
    first: TradeProblem | None = None
    for kind, word in kinds:
        try:
            found.append((word, parse_quantity(text, kind, argument="amount")))
        except TradeProblem as problem:
            if first is None or (problem.code == "not_understood" and first.code == "wrong_dimension"):
                first = problem
    if not found:
        raise first or NotUnderstood("amount", "is no amount", reason="unit_unknown")
    lines = []
    for word, quantity in found:
        head = _("as a {what}, ", what=word) if len(found) > 1 else ""
        lines += [
            Line(_("{head}in {unit}", head=head, unit=unit), show(quantity, unit, _places(quantity, unit)))
            for unit in unit_symbols(quantity.dimension)
        ]
    said = (_("What you typed can be read as more than one kind; choose the kind to see only that."),)
    return Result(tuple(lines), said if len(found) > 1 else ())


def _places(quantity: Quantity, unit: str) -> int:
    """Decimals for six figures, and none that the small unit an amount is kept in would not hold."""
    amount_there = abs(amount_in(quantity, quantity.dimension, unit))
    whole = len(str(int(amount_there))) if amount_there >= 1 else 0
    held = float(find_unit(unit, quantity.dimension).factor)
    return max(0, min(6 - whole, math.ceil(math.log10(held)) if held > 1 else 0))


CONVERSION = Sum(
    slug="units",
    title="An amount in other units",
    asks="What is that in another unit?",
    inputs=(
        Word(name="amount", label="Amount with its unit", example="81 lbf·ft"),
        Pick(
            name="kind",
            label="Kind",
            optional=True,
            hint="Leave it open unless the same words mean two kinds.",
            options=tuple((kind.value, word) for kind, word in _KINDS),
        ),
    ),
    reckon=_convert,
    formula=("amount in the new unit = amount · factor of the old unit / factor of the new unit",),
    valid="Exact fractions, shown rounded. A shown figure is never written back over what you typed. The usual "
    "spellings are read; units that can mean two things (ton, M for milli or mega) are asked about.",
    sources=(
        "NIST SP 811 (2008), appendix B: inch 25.4 mm, pound 0.45359237 kg, standard gravity 9.80665 m/s²",
        "The same factors in the package pint, compared",
    ),
    picture="scale",
    example=Example({"amount": "1 lbf·ft", "kind": "torque"}, "1.355818 N·m", "NIST SP 811 (2008), appendix B.8"),
)


def _tyre(given: Given) -> Result:
    size = tyre.TyreSize.parse(given.text("size"), argument="size")
    loaded = given.maybe("loaded_by")
    lines = [
        Line(
            _("Overall diameter, plain geometry"), worded(tyre.overall_diameter(size)), _("nothing rounded on the way")
        ),
        Line(
            _("Overall diameter by the standard"),
            worded(tyre.overall_diameter_by_standard(size), places=0),
            _("section height rounded to the millimetre, rim from the standard's table"),
        ),
        Line(_("Section height"), worded(tyre.section_height(size), places=2)),
        Line(_("Turns in a mile"), number(tyre.revolutions_per_mile(size, loaded), 1)),
        Line(_("Turns in a kilometre"), number(tyre.revolutions_per_km(size, loaded), 1)),
    ]
    band = tyre.diameter_band(size)
    between = _("{show} to {show_2}", show=show(band.smallest, "mm", 0), show_2=show(band.largest, "mm", 0))
    lines.append(Line(_("A new one may measure"), between, _("the standard's band for a new radial car tyre")))
    if size.load_capacity is not None:
        lines.append(Line(_("Mass one tyre may carry"), worded(size.load_capacity, places=0), _("by its load index")))
    if size.speed_limit is not None:
        lines.append(Line(_("Speed its symbol stands for"), worded(size.speed_limit, places=0)))
    drawing: dict[str, str | int] = {"fitted": size.short, "placard": "", "fitted_r": 90, "placard_r": 0}
    said: tuple[str, ...] = ()
    if given.has("placard"):
        placard = tyre.TyreSize.parse(given.text("placard"), argument="placard")
        more, said = _compared(size, placard, given)
        lines = [*more, *lines]
        ratio = tyre.overall_diameter(placard).value / tyre.overall_diameter(size).value
        drawing |= {"placard": placard.short, "placard_r": round(90 * ratio)}
    assumed = () if loaded else (_("Turns: by the unloaded diameter; a loaded tyre turns about 3 % more often"),)
    return Result(tuple(lines), said, assumed, drawing)


def _compared(fitted: tyre.TyreSize, placard: tyre.TyreSize, given: Given) -> tuple[list[Line], tuple[str, ...]]:
    change = tyre.height_change(fitted, placard)
    how = "higher" if change.value > 0 else "lower" if change.value < 0 else _("neither higher nor lower")
    lines = [
        Line(
            _("The axle sits by"),
            f"{signed(change, show(change, 'mm', 2))}, {how}",
            _("than on the placard's size; allow for it before a ride height is judged"),
        )
    ]
    if (shown := given.maybe("shown_speed")) is not None:
        true = tyre.true_speed(shown, fitted, placard)
        lines.append(
            Line(
                _("True speed"),
                worded(true, shown, 1),
                _("at {show} on a speedometer right for the placard's size", show=show(shown)),
            )
        )
    said = (
        []
        if fitted.short == placard.short
        else [_("{short} is fitted, the placard says {short_2}.", short=fitted.short, short_2=placard.short)]
    )
    capacities = fitted.load_capacity, placard.load_capacity
    if capacities[0] is not None and capacities[1] is not None and capacities[0].value < capacities[1].value:
        said.append(_("The fitted tyre may carry less than the placard's. Tell the customer and the foreman."))
    return lines, tuple(said)


TYRE = Sum(
    slug="tyre",
    title="Tyre size",
    asks="How big is this tyre, and what does it do to the height of the car?",
    inputs=(
        Word(name="size", label="Size on the tyre", example="205/55R16 91V"),
        Word(
            name="placard",
            label="Size on the vehicle's placard",
            example="195/65R15",
            optional=True,
            hint="Fill it in to compare.",
        ),
        amount(
            "loaded_by", "Rolling diameter lower under load by", R, "%", "3 %", sign=Sign.NOT_NEGATIVE, optional=True
        ),
        amount(
            "shown_speed",
            "Speed shown",
            S,
            "km/h",
            "100 km/h",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
            hint="For the true speed on the fitted tyres.",
        ),
    ),
    reckon=_tyre,
    formula=(
        "H = width · aspect / 100",
        "D = 25.4 mm · rim code + 2 H",
        "turns = distance / (π · D)",
        "height at the axle = (D fitted − D placard) / 2",
    ),
    valid="New and unloaded tyres: metric, P-, LT-, C-, temporary and flotation codes. A worn or loaded tyre "
    "stands lower; "
    "tread, pressure and the maker's own tolerance come on top.",
    sources=(
        "ISO 4000-1 (section height)",
        "UN Regulation 30, paragraphs 2 and 6.1 (rounding, band of diameters; from memory)",
        "Load index and speed symbol: ISO 4000-1, UN Regulation 30 annex 4, as printed by tyre sellers",
    ),
    picture="tyre",
    drawing={"fitted": "", "placard": "", "fitted_r": 90, "placard_r": 0},
    example=Example({"size": "205/55R16"}, "631.90 mm overall diameter", "the formula above, by hand"),
)


def _vin(given: Given) -> Result:
    light = {"yes": True, "no": False}.get(given.text("light"))
    report = vin.examine(given.text("vin"), is_light_vehicle=light)
    check = report.check
    lines = [
        Line(_("Sum of value times weight"), str(check.total)),
        Line(_("Remainder by 11"), str(check.remainder)),
        Line(
            _("Position 9 ought to be"),
            check.expected,
            _("and it is") if check.passes else _("it is {found}", found=check.found),
        ),
        Line(
            _("Model year"),
            " or ".join(str(year) for year in report.years) or _("no year code in position 10"),
            _("if the maker uses position 10 for the year") if report.years else "",
        ),
    ]
    return Result(tuple(lines), tuple(remark.sentence for remark in report.remarks), drawing={"vin": report.vin})


VIN = Sum(
    slug="vin",
    title="Vehicle identification number",
    asks="Was the number read right, and what year may it be?",
    inputs=(
        Word(name="vin", label="Number, 17 characters", example="11111111111111111"),
        Pick(
            name="light",
            label="A passenger car, or a truck of 10 000 lb gross or less?",
            optional=True,
            options=(("yes", "yes"), ("no", "no")),
        ),
    ),
    reckon=_vin,
    formula=("check = (Σ value · weight) mod 11, written X for 10", "weights 8 7 6 5 4 3 2 10 0 9 8 7 6 5 4 3 2"),
    valid="Any 17 characters but I, O and Q. The check digit binds vehicles built for North America only; "
    "elsewhere a number "
    "that fails it may be right.",
    sources=("49 CFR 565.15, tables III, IV and VII", "The package vininfo 1.11.0, compared"),
    picture="vin",
    drawing={"vin": ""},
    example=Example(
        {"vin": "1" * 17},
        "sum 89, remainder 1, position 9 is 1",
        "the sum of the weights, by hand; the package vininfo",
    ),
)

SUMS = (CONVERSION, TYRE, VIN)
