"""Helical compression springs of round wire: rate, geometry, stress, and the force and energy at the stored-force gate.

What belongs here: sums about one coil spring by itself. What a vehicle's weight puts on a spring is in
`loads`. Every result that leans on a measured or assumed figure says how far it may be off and what was
assumed: a person decides by these numbers whether a compressor is strong enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from app.trade.gravity import GRAVITY
from app.trade.problems import InputMissing, OutOfRange
from app.trade.quantity import Dimension, Quantity, from_si, need

# Shear modulus of spring steel when nobody knows the wire. Print runs from 77.2 GPa (oil-tempered alloy) to
# 84 GPa: Jindal ex. 8-2 and 8-6 (77.2, 80.7), Shigley (79.3 and 81.7), Bhandari ch. 10 (81.37), Sadhu Singh
# ch. 8 (84). 80.7 lies in the middle and ±4 % reaches both ends to within half a percent.
ASSUMED_MODULUS = Quantity(Dimension.PRESSURE, 80_700_000_000)
MODULUS_SPREAD = Quantity(Dimension.RATIO, 40_000)

# How far off a reading in the bay may be when nobody says. House rules (no source): a caliper over paint, a
# mean coil diameter taken as outside less wire, a count of active coils by eye, a tape held against a coil.
ASSUMED_WIRE_WITHIN = Quantity(Dimension.LENGTH, 50)
ASSUMED_COIL_WITHIN = Quantity(Dimension.LENGTH, 500)
ASSUMED_COILS_WITHIN = Quantity(Dimension.RATIO, 250_000)
ASSUMED_LENGTH_WITHIN = Quantity(Dimension.LENGTH, 3_000)
# A rate of unknown origin. House rule (no source): twice and a half the spread of the modulus.
ASSUMED_RATE_SPREAD = Quantity(Dimension.RATIO, 100_000)
# How much more than the highest likely force a compressor should be rated for. House rule (no source); the
# maker of the compressor and of the vehicle may ask for more, and then they are right.
COMPRESSOR_MARGIN = Quantity(Dimension.RATIO, 1_500_000)

_LEAST_INDEX = 3.0


class Ends(StrEnum):
    """How the ends of the coil are finished. It decides how many coils do not work and where the spring goes solid."""

    PLAIN = "plain"
    PLAIN_GROUND = "plain_ground"
    SQUARED = "squared"
    SQUARED_GROUND = "squared_ground"


class Grade(StrEnum):
    """How well a result is known, from its spread. House rule: up to 5 % close, up to 15 % fair, beyond that rough."""

    CLOSE = "close"
    FAIR = "fair"
    ROUGH = "rough"


@dataclass(frozen=True, slots=True)
class Certainty:
    """How far a result may be off (the larger side, as a part of the result) and which inputs were assumed."""

    spread: Quantity
    grade: Grade
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rate:
    """A computed spring rate: the likely value, the two ends it may lie between, and the coil's index."""

    rate: Quantity
    low: Quantity
    high: Quantity
    index: Quantity
    certainty: Certainty


@dataclass(frozen=True, slots=True)
class Coil:
    """The counted geometry of a spring. `free_length` is None when no pitch was given; `rule` names the table row."""

    active_coils: Quantity
    dead_coils: Quantity
    total_coils: Quantity
    solid_length: Quantity
    free_length: Quantity | None
    rule: str


@dataclass(frozen=True, slots=True)
class Lifting:
    """An energy as something a person can picture: a mass lifted by one metre. `whole_kg` is for the sentence."""

    mass: Quantity
    height: Quantity
    whole_kg: int


@dataclass(frozen=True, slots=True)
class Stored:
    """Force before and after, and the energy put in between (negative: given back)."""

    force_before: Quantity
    force: Quantity
    energy: Quantity
    lifting: Lifting


@dataclass(frozen=True, slots=True)
class GateForce:
    """What the stored-force gate shows.

    `force` and `energy` are the likely values, `force_high` and `energy_high` the most the inputs allow;
    `compressor_needs` is `force_high` times `margin`: the least rating a compressor may carry here.
    """

    force: Quantity
    force_high: Quantity
    energy: Quantity
    energy_high: Quantity
    lifting: Lifting
    compressor_needs: Quantity
    margin: Quantity
    certainty: Certainty


@dataclass(frozen=True, slots=True)
class SpringFacts:
    """What is known of a spring when it is compared with another. None: not known."""

    rate: Quantity | None = None
    free_length: Quantity | None = None
    wire: Quantity | None = None


class Fit(StrEnum):
    MATCHES = "matches"
    DIFFERS = "differs"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True)
class Difference:
    """New less old for one property, and the most it may be."""

    what: str
    difference: Quantity
    allowed: Quantity
    fit: Fit


@dataclass(frozen=True, slots=True)
class Match:
    """Whether a replacement matches. `not_compared` names what was unknown on either side."""

    fit: Fit
    differences: tuple[Difference, ...]
    not_compared: tuple[str, ...]


# Rate, index and stress -------------------------------------------------------------------------------------


def rate(
    wire: Quantity,
    mean_coil: Quantity,
    active_coils: Quantity,
    modulus: Quantity | None = None,
    *,
    modulus_spread: Quantity | None = None,
    wire_within: Quantity | None = None,
    coil_within: Quantity | None = None,
    coils_within: Quantity | None = None,
) -> Rate:
    """Give the rate of a coil spring from its wire, its mean coil diameter and its active coils: k = G·d⁴/(8·D³·Na).

    Units:  lengths, a pressure for the modulus, coils as a plain number (7.5 coils is a ratio of 7.5). The
            `_within` arguments are how far each reading may be off, either way; what is not given is assumed
            and named. Active coils divide as a real number: 7.5 coils are not 7.
    Range:  round wire, index D/d of 3 or more, small pitch angle; no account of coils that touch early (a
            progressive spring has no single rate).
    Raises: InputMissing, WrongDimension, OutOfRange (zero or negative; index below 3, naming `mean_coil`).
    Source: V. B. Bhandari, Design of Machine Elements, ch. 10; Shigley, Mechanical Engineering Design, eq.
            10-9.
    """
    d = need(wire, Dimension.LENGTH, "wire", positive=True)
    coil = need(mean_coil, Dimension.LENGTH, "mean_coil", positive=True)
    coils = need(active_coils, Dimension.RATIO, "active_coils", positive=True)
    coil_index = _index(d, coil)
    assumed: list[str] = []
    g = need(_or(modulus, ASSUMED_MODULUS, "modulus", assumed), Dimension.PRESSURE, "modulus", positive=True)
    dg = need(modulus_spread or MODULUS_SPREAD, Dimension.RATIO, "modulus_spread", at_least_zero=True)
    dd = _reading_within(wire_within, ASSUMED_WIRE_WITHIN, "wire_within", d, assumed)
    dcoil = _reading_within(coil_within, ASSUMED_COIL_WITHIN, "coil_within", coil, assumed)
    dcoils = _reading_within(coils_within, ASSUMED_COILS_WITHIN, "coils_within", coils, assumed)
    likely = _rate(g, d, coil, coils)
    low = _rate(g * (1 - dg), d - dd, coil + dcoil, coils + dcoils)
    high = _rate(g * (1 + dg), d + dd, coil - dcoil, coils - dcoils)
    return Rate(
        from_si(Dimension.RATE, likely),
        from_si(Dimension.RATE, low),
        from_si(Dimension.RATE, high),
        from_si(Dimension.RATIO, coil_index),
        _certainty(likely, low, high, assumed),
    )


def rate_between(load_a: Quantity, length_a: Quantity, load_b: Quantity, length_b: Quantity) -> Quantity:
    """Give the rate from two loads and the lengths the spring had under them: (Fb − Fa)/(la − lb).

    Raises: OutOfRange if the lengths are equal, or the greater load goes with the greater length.
    """
    fa = need(load_a, Dimension.FORCE, "load_a", at_least_zero=True)
    fb = need(load_b, Dimension.FORCE, "load_b", at_least_zero=True)
    la = need(length_a, Dimension.LENGTH, "length_a", positive=True)
    lb = need(length_b, Dimension.LENGTH, "length_b", positive=True)
    if la == lb:
        raise OutOfRange("length_b", "must differ from the first length; measure at two loads", reason="same_length")
    found = (fb - fa) / (la - lb)
    if found <= 0:
        raise OutOfRange(
            "length_b",
            "a compression spring is shorter under the greater load; check which is which",
            reason="lengths_swapped",
        )
    return from_si(Dimension.RATE, found)


def index(wire: Quantity, mean_coil: Quantity) -> Quantity:
    """Give the spring index C = D/d.

    Raises: OutOfRange below 3: such a coil cannot be wound, so one of the two was misread (outside for
            mean?).
    """
    return from_si(
        Dimension.RATIO,
        _index(
            need(wire, Dimension.LENGTH, "wire", positive=True),
            need(mean_coil, Dimension.LENGTH, "mean_coil", positive=True),
        ),
    )


def wahl(spring_index: Quantity) -> Quantity:
    """Give Wahl's factor for curvature and direct shear: (4C − 1)/(4C − 4) + 0.615/C.

    Raises: OutOfRange for an index below 3.
    Source: Bhandari ex. 10.3 (table of eight values); Sadhu Singh ex. 8.1 and 8.3.
    """
    c = _given_index(spring_index)
    return from_si(Dimension.RATIO, _wahl(c))


def bergstraesser(spring_index: Quantity) -> Quantity:
    """Give Bergsträsser's factor (4C + 2)/(4C − 3), within 1 % of Wahl's.

    Raises: OutOfRange for an index below 3.
    Source: Shigley eq. 10-5 (from memory).
    """
    c = _given_index(spring_index)
    return from_si(Dimension.RATIO, (4 * c + 2) / (4 * c - 3))


def direct_shear(spring_index: Quantity) -> Quantity:
    """Give the factor for direct shear alone, 1 + 0.5/C: for loads that do not repeat.

    Raises: OutOfRange for an index below 3.
    Source: Sadhu Singh ex. 8.2.
    """
    c = _given_index(spring_index)
    return from_si(Dimension.RATIO, 1 + 0.5 / c)


def shear_stress(load: Quantity, wire: Quantity, mean_coil: Quantity) -> Quantity:
    """Give the highest shear stress in the wire under a load, with Wahl's factor: Kw·8·F·D/(π·d³).

    Raises: OutOfRange for an index below 3, a negative load, or a size of zero.
    Source: Sadhu Singh ex. 8.3; Bhandari ex. 10.19.
    """
    force = need(load, Dimension.FORCE, "load", at_least_zero=True)
    d = need(wire, Dimension.LENGTH, "wire", positive=True)
    coil = need(mean_coil, Dimension.LENGTH, "mean_coil", positive=True)
    factor = _wahl(_index(d, coil))
    return from_si(Dimension.PRESSURE, factor * 8 * force * coil / (math.pi * d**3))


# Ends, solid and free length --------------------------------------------------------------------------------

# dead coils, then solid length as coils of wire beyond the total, then free length as pitches of total coils
# beyond the active ones and as thicknesses of wire. Source: Shigley table 10-1, after the Spring
# Manufacturers Institute (from memory). The row for squared and ground ends agrees with Bhandari ex. 10.1 and
# 10.2 and Sadhu Singh ex. 8.1, which were read. Jindal ex. 8-6 takes one thickness less; sources differ, so
# the result names its rule.
_ENDS: dict[Ends, tuple[int, int, int, int]] = {
    Ends.PLAIN: (0, 1, 0, 1),
    Ends.PLAIN_GROUND: (1, 0, 1, 0),
    Ends.SQUARED: (2, 1, 0, 3),
    Ends.SQUARED_GROUND: (2, 0, 0, 2),
}


def coil_from_active(ends: Ends, active_coils: Quantity, wire: Quantity, pitch: Quantity | None = None) -> Coil:
    """Give total coils, solid length and (with a pitch) free length from the active coils.

    Raises: OutOfRange for zero or negative inputs, or a pitch below the wire's own thickness.
    Source: see the table of ends above.
    """
    coils = need(active_coils, Dimension.RATIO, "active_coils", positive=True)
    d = need(wire, Dimension.LENGTH, "wire", positive=True)
    dead, more_solid, more_pitches, more_wire = _ENDS[ends]
    free = None
    if pitch is not None:
        p = need(pitch, Dimension.LENGTH, "pitch", positive=True)
        if p < d:
            raise OutOfRange("pitch", "cannot be less than the wire is thick; measure centre to centre")
        free = from_si(Dimension.LENGTH, p * (coils + more_pitches) + d * more_wire)
    return Coil(
        active_coils,
        from_si(Dimension.RATIO, dead),
        from_si(Dimension.RATIO, coils + dead),
        from_si(Dimension.LENGTH, d * (coils + dead + more_solid)),
        free,
        f"{ends}: {dead} dead, solid at {'total + 1' if more_solid else 'total'} thicknesses (Shigley 10-1)",
    )


def coil_from_total(ends: Ends, total_coils: Quantity, wire: Quantity, pitch: Quantity | None = None) -> Coil:
    """As `coil_from_active`, from the coils counted on the bench.

    Raises: OutOfRange if no active coil would be left.
    """
    total = need(total_coils, Dimension.RATIO, "total_coils", positive=True)
    dead = _ENDS[ends][0]
    if total <= dead:
        raise OutOfRange("total_coils", f"needs more than the {dead} coils that the ends take; count again")
    return coil_from_active(ends, from_si(Dimension.RATIO, total - dead), wire, pitch)


# Loads, lengths, energy -------------------------------------------------------------------------------------


def load_at_length(
    spring_rate: Quantity, free_length: Quantity, length: Quantity, solid_length: Quantity | None = None
) -> Quantity:
    """Give the force of a spring held at a length: k·(free length − length).

    Raises: OutOfRange if the spring would be solid before that length (naming `length`), or longer than free.
    """
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    return from_si(Dimension.FORCE, k * _deflection(free_length, length, solid_length))


def length_at_load(
    spring_rate: Quantity, free_length: Quantity, load: Quantity, solid_length: Quantity | None = None
) -> Quantity:
    """Give the length of a spring under a load.

    Raises: OutOfRange (naming `load`) if the coils would touch before the spring bears that load.
    """
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    free = need(free_length, Dimension.LENGTH, "free_length", positive=True)
    force = need(load, Dimension.FORCE, "load", at_least_zero=True)
    # In whole micrometres, so that a load that closes the coils exactly is not lost on the last bit of a float.
    length = from_si(Dimension.LENGTH, free - force / k)
    if solid_length is not None:
        need(solid_length, Dimension.LENGTH, "solid_length", positive=True)
    least = 1 if solid_length is None else solid_length.value
    if length.value < least:
        raise OutOfRange("load", "the coils touch (solid) before the spring bears this load; check rate and length")
    return length


def stored(spring_rate: Quantity, from_deflection: Quantity, to_deflection: Quantity) -> Stored:
    """Give force and energy between two states, each a deflection from the free length: ½·k·(x₂² − x₁²).

    The energy between two preloads is *not* ½·k·(x₂ − x₁)²: that slip makes 187.5 J look like 37.5 J.

    Units:  a rate and two lengths. Energy is positive when put in, negative when given back.
    Raises: OutOfRange for a rate of zero or a negative deflection (a compression spring does not pull).
    Source: any mechanics text; Wentzell, Machine Design, ex. 8.6 p. 167.
    """
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    x1 = need(from_deflection, Dimension.LENGTH, "from_deflection", at_least_zero=True)
    x2 = need(to_deflection, Dimension.LENGTH, "to_deflection", at_least_zero=True)
    energy = from_si(Dimension.ENERGY, k * (x2 * x2 - x1 * x1) / 2)
    return Stored(from_si(Dimension.FORCE, k * x1), from_si(Dimension.FORCE, k * x2), energy, as_lifting(energy))


def as_lifting(energy: Quantity) -> Lifting:
    """Give the mass that this energy would lift by one metre, for a sentence people can picture.

    Units:  an energy of either sign; the mass is always positive.
    """
    joules = abs(need(energy, Dimension.ENERGY, "energy"))
    kg = joules / GRAVITY
    return Lifting(from_si(Dimension.MASS, kg), Quantity(Dimension.LENGTH, 1_000_000), round(kg))


def force_at_gate(
    spring_rate: Quantity,
    *,
    free_length: Quantity | None = None,
    compressed_length: Quantity | None = None,
    solid_length: Quantity | None = None,
    force_now: Quantity | None = None,
    further: Quantity | None = None,
    rate_spread: Quantity | None = None,
    length_within: Quantity | None = None,
    force_spread: Quantity | None = None,
    margin: Quantity | None = None,
) -> GateForce:
    """Give what stands behind a spring at the gate: force, energy, the compressor it takes, and how sure that is.

    Two ways in, by what is known. From lengths: `free_length` and `compressed_length` (the shortest the
    spring will be while anyone is near it). From the vehicle: `force_now` (see `loads.spring_forces`) and how
    much `further` it will be compressed. When both are given the lengths are used.

    Units:  `rate_spread` and `force_spread` are parts of the value, either way; `length_within` is how far
            *each* length may be off. What is not given is assumed and named in `certainty.assumed`. `margin`
            is a ratio.
    Raises: InputMissing naming what neither way has; OutOfRange for solid before the length, a length beyond
            free, a margin below 1.
    Source: force and energy of a linear spring; margin and grades are house rules (no source). The
            compressor's own label and its maker's instructions decide.
    """
    k = need(spring_rate, Dimension.RATE, "spring_rate", positive=True)
    assumed: list[str] = []
    dk = _part(_or(rate_spread, ASSUMED_RATE_SPREAD, "rate_spread", assumed), "rate_spread")
    dx = need(
        _or(length_within, ASSUMED_LENGTH_WITHIN, "length_within", assumed),
        Dimension.LENGTH,
        "length_within",
        at_least_zero=True,
    )
    times = need(margin or COMPRESSOR_MARGIN, Dimension.RATIO, "margin", positive=True)
    if times < 1:
        raise OutOfRange("margin", "cannot be below 1: a compressor must bear more than the spring gives")
    if free_length is not None or compressed_length is not None:
        if free_length is None:
            raise InputMissing("free_length", "needs the spring's free length beside its compressed length")
        if compressed_length is None:
            raise InputMissing("compressed_length", "needs the shortest length the spring will have")
        x = _deflection(free_length, compressed_length, solid_length)
        likely, low, high = _states_from_lengths(k, x, dk, 2 * dx)
    else:
        if force_now is None:
            raise InputMissing("force_now", "needs the force now, or else the free and the compressed length")
        if further is None:
            raise InputMissing("further", "needs how much further the spring will be compressed; zero if not at all")
        f = need(force_now, Dimension.FORCE, "force_now", at_least_zero=True)
        c = need(further, Dimension.LENGTH, "further", at_least_zero=True)
        df = _part(_or(force_spread, ASSUMED_RATE_SPREAD, "force_spread", assumed), "force_spread")
        likely, low, high = _states_from_force(k, f, c, dk, df, dx)
    energy = from_si(Dimension.ENERGY, likely[1])
    return GateForce(
        from_si(Dimension.FORCE, likely[0]),
        from_si(Dimension.FORCE, high[0]),
        energy,
        from_si(Dimension.ENERGY, high[1]),
        as_lifting(energy),
        from_si(Dimension.FORCE, high[0] * times),
        from_si(Dimension.RATIO, times),
        _certainty(likely[0], low[0], high[0], assumed),
    )


def compressor_within(gate: GateForce, compressor_rating: Quantity) -> bool:
    """Say whether a compressor's printed rating reaches what the gate asks for. It says nothing about its condition.

    Raises: WrongDimension or OutOfRange for a rating that is no positive force.
    """
    need(compressor_rating, Dimension.FORCE, "compressor_rating", positive=True)
    return compressor_rating.value >= gate.compressor_needs.value


# Replacement ------------------------------------------------------------------------------------------------

# House rules (no source): the spread a shop would notice at ride height. The spring maker's part number
# decides.
MATCH_RATE = Quantity(Dimension.RATIO, 50_000)
MATCH_FREE_LENGTH = Quantity(Dimension.LENGTH, 6_000)
MATCH_WIRE = Quantity(Dimension.LENGTH, 250)


def match(
    old: SpringFacts,
    new: SpringFacts,
    *,
    rate_part: Quantity = MATCH_RATE,
    free_length_by: Quantity = MATCH_FREE_LENGTH,
    wire_by: Quantity = MATCH_WIRE,
) -> Match:
    """Compare a replacement with the spring it stands for, by rate, free length and wire.

    A worn spring has sagged: compare with its *stated* free length where there is one. What is unknown on
    either side is not compared and is named; anything not compared makes the answer CANNOT_TELL unless
    something differs.

    Raises: WrongDimension or OutOfRange naming the fact at fault.
    """
    rows = (
        ("rate", Dimension.RATE, old.rate, new.rate, rate_part),
        ("free_length", Dimension.LENGTH, old.free_length, new.free_length, free_length_by),
        ("wire", Dimension.LENGTH, old.wire, new.wire, wire_by),
    )
    differences: list[Difference] = []
    missing: list[str] = []
    for what, dimension, before, after, allowed in rows:
        if before is None or after is None:
            missing.append(what)
            continue
        need(before, dimension, f"old.{what}", positive=True)
        need(after, dimension, f"new.{what}", positive=True)
        most = allowed
        if dimension is Dimension.RATE:
            most = from_si(dimension, before.si * need(allowed, Dimension.RATIO, "rate_part", at_least_zero=True))
        need(most, dimension, f"{what} allowed", at_least_zero=True)
        difference = Quantity(dimension, after.value - before.value)
        fit = Fit.MATCHES if abs(difference.value) <= most.value else Fit.DIFFERS
        differences.append(Difference(what, difference, most, fit))
    if any(row.fit is Fit.DIFFERS for row in differences):
        fit = Fit.DIFFERS
    else:
        fit = Fit.CANNOT_TELL if missing else Fit.MATCHES
    return Match(fit, tuple(differences), tuple(missing))


# Inside -----------------------------------------------------------------------------------------------------


def _rate(g: float, d: float, coil: float, coils: float) -> float:
    return g * d**4 / (8 * coil**3 * coils)


def _wahl(c: float) -> float:
    return (4 * c - 1) / (4 * c - 4) + 0.615 / c


def _index(d: float, coil: float) -> float:
    c = coil / d
    if c < _LEAST_INDEX:
        raise OutOfRange(
            "mean_coil",
            f"gives an index of {c:.2f}, below 3: no such spring is wound; check wire and mean (not inside) diameter",
            index=f"{c:.2f}",
        )
    return c


def _given_index(spring_index: Quantity) -> float:
    c = need(spring_index, Dimension.RATIO, "spring_index", positive=True)
    if c < _LEAST_INDEX:
        raise OutOfRange("spring_index", f"is {c:.2f}, below 3: no such spring is wound", index=f"{c:.2f}")
    return c


def _deflection(free_length: Quantity, length: Quantity, solid_length: Quantity | None) -> float:
    free = need(free_length, Dimension.LENGTH, "free_length", positive=True)
    now = need(length, Dimension.LENGTH, "length", positive=True)
    if now > free:
        raise OutOfRange(
            "length",
            "is longer than the spring's free length: it bears nothing there; measure again",
            reason="beyond_free",
        )
    if solid_length is not None:
        solid = need(solid_length, Dimension.LENGTH, "solid_length", positive=True)
        if solid > free:
            raise OutOfRange("solid_length", "is longer than the free length; check coils and wire")
        if now < solid:
            raise OutOfRange("length", "cannot be reached: the coils touch (solid) before it", reason="solid")
    return free - now


def _states_from_lengths(
    k: float, x: float, dk: float, dx: float
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    least, most = max(x - dx, 0.0), x + dx
    low, high = k * (1 - dk), k * (1 + dk)
    return (k * x, k * x * x / 2), (low * least, low * least**2 / 2), (high * most, high * most**2 / 2)


def _states_from_force(
    k: float, f: float, c: float, dk: float, df: float, dx: float
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    # A softer spring that bears the same force is compressed further and holds more energy, so the energy is
    # looked for at both ends of the rate while the force is highest at the stiff end.
    def energy(force: float, stiffness: float) -> float:
        return force * force / (2 * stiffness)

    soft, stiff = k * (1 - dk), k * (1 + dk)
    least_c = max(c - dx, 0.0) if c else 0.0
    most_c = c + dx if c else 0.0
    low_force, high_force = f * (1 - df) + soft * least_c, f * (1 + df) + stiff * most_c
    soft_force = f * (1 + df) + soft * most_c
    high_energy = max(energy(high_force, stiff), energy(soft_force, soft))
    likely = f + k * c
    return (likely, energy(likely, k)), (low_force, energy(low_force, stiff)), (high_force, high_energy)


def _certainty(likely: float, low: float, high: float, assumed: list[str]) -> Certainty:
    spread = max(high - likely, likely - low) / likely if likely else 0.0
    grade = Grade.CLOSE if spread <= 0.05 else Grade.FAIR if spread <= 0.15 else Grade.ROUGH
    return Certainty(from_si(Dimension.RATIO, spread), grade, tuple(assumed))


def _or(given: Quantity | None, assumption: Quantity, argument: str, assumed: list[str]) -> Quantity:
    if given is None:
        assumed.append(argument)
        return assumption
    return given


def _part(quantity: Quantity, argument: str) -> float:
    part = need(quantity, Dimension.RATIO, argument, at_least_zero=True)
    if part >= 1:
        raise OutOfRange(argument, "must be below 1 (100 %); give it as a part of the value", reason="whole_part")
    return part


def _reading_within(
    within: Quantity | None, assumption: Quantity, argument: str, reading: float, assumed: list[str]
) -> float:
    amount = need(_or(within, assumption, argument, assumed), assumption.dimension, argument, at_least_zero=True)
    if amount >= reading:
        raise OutOfRange(argument, "is as large as the reading itself; measure more closely", reason="as_large")
    return amount
