"""Sums about coil springs: rate, force and energy, replacement, and what stands behind one in the car."""

from __future__ import annotations

from app.language.speech import _
from app.trade import loads, spring
from app.trade.problems import InputMissing
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.web.reckoner.sums import Example, Given, Line, Pick, Result, Sign, Sum, amount
from app.web.reckoner.wording import number, percent, signed, worded

L, F, R, M, K, P, E = (
    Dimension.LENGTH,
    Dimension.FORCE,
    Dimension.RATIO,
    Dimension.MASS,
    Dimension.RATE,
    Dimension.PRESSURE,
    Dimension.ENERGY,
)
A_SPRING_KILLS = (
    "A coil spring under load can kill. Use the compressor its maker made for this kind of spring, by its "
    "instructions and "
    "the vehicle maker's. Look the compressor over before each use.",
    "The figures say what may be there. They do not say that anything is safe.",
)
_GRADE = {
    "close": "known closely",
    "fair": "known fairly",
    "rough": "known roughly: measure more closely before you lean on it",
}
_WORDS = {
    "modulus": "the modulus of the steel, 80.7 GPa ± 4 %",
    "wire_within": "wire read to ±0.05 mm",
    "coil_within": "coil read to ±0.5 mm",
    "coils_within": "coils counted to ±¼",
    "rate_spread": "the rate to ±10 %",
    "length_within": "each length to ±3 mm",
    "force_spread": "the force to ±10 %",
}


def _certain(certainty: spring.Certainty) -> str:
    return _("{what}, within {percent}", what=_GRADE[certainty.grade], percent=percent(certainty.spread, 0))


def _taken(certainty: spring.Certainty) -> tuple[str, ...]:
    return tuple(_WORDS[name] for name in certainty.assumed if name in _WORDS)


_ENDS = (
    ("squared_ground", "closed and ground"),
    ("squared", "closed, not ground"),
    ("plain_ground", "open, ground"),
    ("plain", "open, not ground"),
)
_WIRE = amount("wire", "Wire", L, "mm", "12 mm", "d")
_COIL = amount("mean_coil", "Coil, mean diameter", L, "mm", "110 mm", "D", hint="Outside diameter less one wire.")


def _rate(given: Given) -> Result:
    coil = None
    if given.has("ends"):
        ends = spring.Ends(given.text("ends"))
        if given.has("total_coils"):
            coil = spring.coil_from_total(ends, given.amount("total_coils"), given.amount("wire"))
        elif given.has("active_coils"):
            coil = spring.coil_from_active(ends, given.amount("active_coils"), given.amount("wire"))
    active = given.maybe("active_coils") or (coil.active_coils if coil is not None else None)
    if active is None:
        raise InputMissing("active_coils", "needs the active coils, or all coils and the ends", reason="coils")
    facts = given.amount("wire"), given.amount("mean_coil"), active
    found = spring.rate(
        *facts,
        given.maybe("modulus"),
        wire_within=given.maybe("wire_within"),
        coil_within=given.maybe("coil_within"),
        coils_within=given.maybe("coils_within"),
    )
    lines = [
        Line(_("Rate"), worded(found.rate), _certain(found.certainty)),
        Line(_("It may lie from"), worded(found.low)),
        Line("to", worded(found.high)),
        Line(_("Index D/d"), number(found.index)),
        Line(_("Wahl's factor"), number(spring.wahl(found.index), 3), _("stress at the inside of the coil")),
        Line(_("Bergsträsser's factor"), number(spring.bergstraesser(found.index), 3)),
    ]
    if coil is not None:
        lines.append(
            Line(
                _("Solid length"),
                worded(coil.solid_length),
                _("{number} coils in all", number=number(coil.total_coils)),
            )
        )
        lines.append(Line(_("Active coils"), number(coil.active_coils)))
    return Result(tuple(lines), assumed=_taken(found.certainty))


RATE = Sum(
    slug="spring-rate",
    title="Spring rate from its size",
    asks="How stiff is this coil?",
    inputs=(
        _WIRE,
        _COIL,
        amount(
            "active_coils", "Active coils", R, "1", "7.5", "n", optional=True, hint="Those that move. 7½ are not 7."
        ),
        amount(
            "total_coils", "All coils", R, "1", "9.5", optional=True, hint="In place of the active ones, with the ends."
        ),
        Pick(name="ends", label="Ends", optional=True, options=_ENDS),
        amount(
            "modulus",
            "Shear modulus of the steel",
            P,
            "GPa",
            "79.3 GPa",
            "G",
            optional=True,
            hint="Where the maker gives it; else it is assumed.",
        ),
        amount("wire_within", "Wire read to within", L, "mm", "0.05 mm", optional=True, sign=Sign.NOT_NEGATIVE),
        amount("coil_within", "Coil read to within", L, "mm", "0.5 mm", optional=True, sign=Sign.NOT_NEGATIVE),
        amount("coils_within", "Coils counted to within", R, "1", "0.25", optional=True, sign=Sign.NOT_NEGATIVE),
    ),
    reckon=_rate,
    formula=("k = G · d⁴ / (8 · D³ · n)", "C = D / d,  K = (4C − 1)/(4C − 4) + 0.615/C"),
    valid="Round wire, index 3 and above, coils that all move: a progressive spring has no single rate. A wire "
    "misread by 1 % "
    "changes the rate by 4 %.",
    sources=(
        "V. B. Bhandari, Design of Machine Elements, ch. 10",
        "Shigley, Mechanical Engineering Design, eq. 10-9 and table 10-1 (ends; from memory)",
        "Modulus 77.2 to 84 GPa: Jindal ex. 8-2 and 8-6, Shigley, Bhandari, Sadhu Singh ch. 8",
    ),
    picture="coil",
    cautions=A_SPRING_KILLS,
    danger="stored_energy",
    example=Example(
        {"wire": "12.7 mm", "mean_coil": "120 mm", "active_coils": "7.73", "modulus": "79.3 GPa"},
        "19.3 N/mm",
        "Barton and Fieldhouse, Automotive Chassis Engineering, p. 213",
    ),
)


def _two_loads(given: Given) -> Result:
    found = spring.rate_between(
        given.amount("load_a"), given.amount("length_a"), given.amount("load_b"), given.amount("length_b")
    )
    return Result((Line(_("Rate"), worded(found)),))


TWO_LOADS = Sum(
    slug="spring-rate-measured",
    title="Spring rate from two loads",
    asks="How stiff is this coil, measured on a tester?",
    inputs=(
        amount("load_a", "First load", F, "N", "250 N", "F₁", sign=Sign.NOT_NEGATIVE),
        amount("length_a", "Length under it", L, "mm", "84 mm", "l₁"),
        amount("load_b", "Second load", F, "N", "300 N", "F₂", sign=Sign.NOT_NEGATIVE),
        amount("length_b", "Length under it", L, "mm", "76 mm", "l₂"),
    ),
    reckon=_two_loads,
    formula=("k = (F₂ − F₁) / (l₁ − l₂)",),
    valid="Between the two lengths. On a progressive spring the rate elsewhere differs.",
    sources=("Sadhu Singh, Machine Design I, ch. 8",),
    picture="coil",
    cautions=A_SPRING_KILLS,
    danger="stored_energy",
    example=Example(
        {"load_a": "250 N", "length_a": "84 mm", "load_b": "300 N", "length_b": "76 mm"},
        "6.25 N/mm",
        "Sadhu Singh, Machine Design I, ex. 8.1 p. 227",
    ),
)


def _stored(given: Given) -> Result:
    rate, free = given.amount("rate"), given.amount("free_length")
    shortest, solid = given.amount("shortest"), given.maybe("solid_length")
    held = spring.force_at_gate(
        rate,
        free_length=free,
        compressed_length=shortest,
        solid_length=solid,
        rate_spread=given.maybe("rate_spread"),
        length_within=given.maybe("length_within"),
        margin=_margin(given),
    )
    certain = _certain(held.certainty)
    lines = [
        Line(
            _("Force at the shortest length"),
            worded(held.force),
            _("at most {worded}; {certain}", worded=worded(held.force_high), certain=certain),
        ),
        Line(_("Energy in it"), worded(held.energy), _("at most {worded}", worded=worded(held.energy_high))),
        Line(_("That would lift"), worded(held.lifting.mass, places=1), _("by one metre")),
        Line(
            _("A compressor has to be rated for"),
            worded(held.compressor_needs),
            _("the most force times {number}", number=number(held.margin)),
        ),
    ]
    if (start := given.maybe("from_length")) is not None:
        spring.load_at_length(rate, free, start, solid)
        more = spring.stored(rate, _less(free, start), _less(free, shortest))
        verb = _("put in") if more.energy.value >= 0 else _("given back")
        lines.insert(
            2,
            Line(
                _("Energy {verb} on the way", verb=verb),
                worded(more.energy),
                _("from {show} to {show_2}", show=show(start), show_2=show(shortest)),
            ),
        )
        lines.insert(2, Line(_("Force at the first length"), worded(more.force_before)))
    said: tuple[str, ...] = ()
    if (rating := given.maybe("rating")) is not None:
        reaches = spring.compressor_within(held, rating)
        said = (
            _("The compressor's rating reaches that figure. Its condition and its maker's instructions still decide.")
            if reaches
            else _("The compressor's rating does not reach that figure. Do not use it on this spring."),
        )
    return Result(tuple(lines), said, _taken(held.certainty))


def _less(free: Quantity, length: Quantity) -> Quantity:
    return Quantity(L, free.value - length.value)


def _margin(given: Given) -> Quantity | None:
    return given.maybe("margin")


STORED = Sum(
    slug="spring-energy",
    title="Force and energy in a coil",
    asks="How much force and energy is in this spring, and what compressor does it take?",
    inputs=(
        amount("rate", "Rate", K, "N/mm", "30 N/mm", "k"),
        amount("free_length", "Free length", L, "mm", "380 mm", "L₀"),
        amount("shortest", "Shortest length while anyone is near", L, "mm", "230 mm", "l"),
        amount(
            "from_length",
            "Length it comes from",
            L,
            "mm",
            "280 mm",
            "l₁",
            optional=True,
            hint="For the energy between two lengths.",
        ),
        amount(
            "solid_length",
            "Solid length",
            L,
            "mm",
            "130 mm",
            optional=True,
            hint="To refuse what the coil cannot reach.",
        ),
        amount("rating", "Rating of the compressor", F, "N", "18 kN", optional=True),
        amount("margin", "Margin of the compressor", R, "1", "1.5", assumed="1.5 times the most force, house rule"),
        amount("rate_spread", "Rate known to within", R, "%", "10 %", optional=True, sign=Sign.NOT_NEGATIVE),
        amount("length_within", "Each length known to within", L, "mm", "3 mm", optional=True, sign=Sign.NOT_NEGATIVE),
    ),
    reckon=_stored,
    formula=(
        "F = k · (L₀ − l)",
        "W = ½ · k · (x₂² − x₁²)   with x = L₀ − length",
        "not ½ · k · (x₂ − x₁)²: that slip makes 187.5 J look like 37.5 J",
    ),
    valid="A linear coil between free and solid. No account of a damper's gas or a helper spring.",
    sources=(
        "Force and energy of a linear spring: Wentzell, Machine Design, ex. 8.6 p. 167",
        "Margin, spreads and grades of certainty: house rules, no source",
    ),
    picture="coil",
    cautions=A_SPRING_KILLS,
    danger="stored_energy",
    arguments={
        "length": "shortest",
        "compressed_length": "shortest",
        "spring_rate": "rate",
        "compressor_rating": "rating",
        "from_deflection": "from_length",
    },
    example=Example(
        {"rate": "30 N/mm", "free_length": "400 mm", "from_length": "300 mm", "shortest": "250 mm"},
        "187.5 J on the way",
        "½·30·(150² − 100²) N·mm by hand",
    ),
)

_FACTS = {"rate": "Rate", "free_length": "Free length", "wire": "Wire"}


def _match(given: Given) -> Result:
    old = spring.SpringFacts(given.maybe("old_rate"), given.maybe("old_free_length"), given.maybe("old_wire"))
    new = spring.SpringFacts(given.maybe("new_rate"), given.maybe("new_free_length"), given.maybe("new_wire"))
    found = spring.match(old, new)
    head = {
        spring.Fit.MATCHES: ("matches", _("in what was compared")),
        spring.Fit.DIFFERS: ("differs", ""),
        spring.Fit.CANNOT_TELL: (_("cannot be told"), _("something was not compared")),
    }[found.fit]
    lines = [Line(_("The replacement"), *head)]
    for row in found.differences:
        note = f"{'within' if row.fit is spring.Fit.MATCHES else 'beyond'} ±{worded(row.allowed)}"
        lines.append(
            Line(_("{what}, new less old", what=_FACTS[row.what]), signed(row.difference, worded(row.difference)), note)
        )
    said = tuple(
        _("{what} is not known on both sides and was not compared.", what=_FACTS[name]) for name in found.not_compared
    )
    return Result(tuple(lines), (*said, _("Change springs in pairs. The spring maker's part number decides.")))


def _facts(name: str, who: str) -> tuple[object, ...]:
    return (
        amount(f"{name}_rate", _("{who}: rate", who=who), K, "N/mm", "30 N/mm", optional=True),
        amount(f"{name}_free_length", _("{who}: free length", who=who), L, "mm", "380 mm", optional=True),
        amount(f"{name}_wire", _("{who}: wire", who=who), L, "mm", "12 mm", optional=True),
    )


_OLD, _NEW = _facts("old", "Old spring"), _facts("new", "Replacement")
MATCH = Sum(
    slug="spring-match",
    title="Replacement spring",
    asks="Does this spring replace that one?",
    inputs=(*_OLD, *_NEW),  # type: ignore[arg-type]
    reckon=_match,
    formula=("new − old, against ±5 % of the rate, ±6 mm of free length, ±0.25 mm of wire",),
    valid="A worn spring has sagged: compare with its stated free length where there is one.",
    sources=("House rules, no source: the spread a shop would notice at ride height",),
    picture="coil",
    cautions=A_SPRING_KILLS,
    danger="stored_energy",
    arguments={
        "old.rate": "old_rate",
        "old.free_length": "old_free_length",
        "old.wire": "old_wire",
        "new.rate": "new_rate",
        "new.free_length": "new_free_length",
        "new.wire": "new_wire",
    },
    example=Example(
        {"old_rate": "30 N/mm", "new_rate": "31 N/mm"}, "+1.00 N/mm, within ±1.50 N/mm", "31 − 30 by hand; 5 % of 30"
    ),
)


def _in_car(given: Given) -> Result:
    ratio = given.maybe("ratio")
    if ratio is None:
        spring_travel, wheel_travel = given.maybe("spring_travel"), given.maybe("wheel_travel")
        if spring_travel is None or wheel_travel is None:
            raise InputMissing("ratio", "needs the ratio, or both travels", reason="motion_ratio")
        ratio = loads.motion_ratio(spring_travel, wheel_travel)
    rate = given.amount("rate")
    lines = [
        Line(_("Motion ratio, spring over wheel"), number(ratio, 3)),
        Line(_("Rate at the wheel"), worded(loads.wheel_rate(rate, ratio), rate)),
    ]
    if given.has("corner_mass"):
        forces = loads.spring_forces(
            given.amount("corner_mass"), given.amount("unsprung_mass"), ratio, rate, given.amount("droop")
        )
        hanging = _("it is loose before the wheel hangs") if forces.loose_when_hanging else _("it is still loaded")
        lines = [
            Line(_("Force of the spring at ride height"), worded(forces.at_ride_height)),
            Line(_("Force with the wheel hanging"), worded(forces.hanging), hanging),
            *lines,
        ]
    return Result(tuple(lines))


IN_CAR = Sum(
    slug="spring-in-the-car",
    title="Spring behind the arm",
    asks="What does the spring push with at ride height, and with the wheel hanging?",
    inputs=(
        amount("rate", "Rate of the spring", K, "N/mm", "50 N/mm", "k"),
        amount("ratio", "Motion ratio, spring over wheel", R, "1", "0.6", "r", optional=True),
        amount("spring_travel", "Spring travel", L, "mm", "60 mm", optional=True, hint="In place of the ratio."),
        amount("wheel_travel", "Wheel travel for it", L, "mm", "100 mm", optional=True),
        amount("corner_mass", "Mass on that corner", M, "kg", "400 kg", "m", optional=True),
        amount(
            "unsprung_mass",
            "Unsprung mass of that corner",
            M,
            "kg",
            "40 kg",
            "mᵤ",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
        ),
        amount(
            "droop",
            "Wheel travel from ride height to hanging",
            L,
            "mm",
            "60 mm",
            "s",
            optional=True,
            sign=Sign.NOT_NEGATIVE,
        ),
    ),
    reckon=_in_car,
    formula=("F = (m − mᵤ) · g / r", "F hanging = F − k · r · s", "k at the wheel = k · r²"),
    valid="One coil that carries its whole corner. A stabiliser bar, bushings and gas in a damper are left out: "
    "the hanging "
    "wheel may still be pushed by them.",
    sources=("Barton and Fieldhouse, Automotive Chassis Engineering, eqs. 3.29 to 3.33, p. 179",),
    picture="arm",
    cautions=A_SPRING_KILLS,
    danger="stored_energy",
    arguments={"spring_rate": "rate"},
    example=Example(
        {"corner_mass": "400 kg", "unsprung_mass": "40 kg", "ratio": "0.6", "rate": "50 N/mm", "droop": "60 mm"},
        "5884 N, hanging 4084 N",
        "Barton and Fieldhouse, p. 179, worked by hand",
    ),
)

SUMS = (RATE, TWO_LOADS, STORED, MATCH, IN_CAR)
