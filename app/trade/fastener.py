"""What a threaded fastener bears, what torque gives what preload, and whether a typed torque fits its bolt.

Belongs here: threads, strength classes, torque and preload, and the questions a torque figure raises. Does not belong
here: the wrench (`torque_tool`), and any torque to use. Nothing here proposes a torque: the vehicle maker's figure is
the only one, and these sums are for doubting it when it was mistyped.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from app.trade.problems import InputMissing, NotUnderstood, OutOfRange
from app.trade.quantity import Dimension, Quantity, from_si, need
from app.trade.units import TABLE, amount_in, show, small_of

# -----------------------------------------------------------------------------------------------------------
# Threads

# Source: ISO 261 coarse pitches, as printed at usefastener.com/knowledge/404 and optimas (read 2026-11-25).
_COARSE_PITCH = {
    Fraction(diameter): Fraction(pitch)
    for pitch, diameters in {
        "0.5": (3,),
        "0.7": (4,),
        "0.8": (5,),
        "1": (6, 7),
        "1.25": (8,),
        "1.5": (10,),
        "1.75": (12,),
        "2": (14, 16),
        "2.5": (18, 20, 22),
        "3": (24, 27),
        "3.5": (30, 33),
        "4": (36, 39),
    }.items()
    for diameter in diameters
}
# Source: unified coarse and fine threads, as printed at formulafactory.tools and boltport.com/threads/unf
# (read 2026-11-25); above 1 inch coarse from memory.
_INCH_SIXTEENTHS = (4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24)
_INCH_SIZES = tuple(Fraction(sixteenths, 16) for sixteenths in _INCH_SIXTEENTHS)
_COARSE_PER_INCH = dict(zip(_INCH_SIZES, (20, 18, 16, 14, 13, 12, 11, 10, 9, 8, 7, 7, 6, 6), strict=True))
_FINE_PER_INCH = dict(zip(_INCH_SIZES, (28, 24, 24, 20, 20, 18, 18, 16, 14, 12, 12, 12, 12, 12), strict=True))
_MM_PER_INCH = Fraction(254, 10)


@dataclass(frozen=True, slots=True)
class Thread:
    """A metric or unified thread, exact. Validity: M3 to M52, 1/4 to 1 1/2 inch.

    name:        in one spelling: "M12x1.25", "1/2-20".
    diameter_mm: nominal (major) diameter.
    pitch_mm:    distance from crest to crest.
    is_inch:     a unified thread, whose strength goes by SAE J429.
    """

    name: str
    diameter_mm: Fraction
    pitch_mm: Fraction
    is_inch: bool

    @staticmethod
    def parse(text: str, *, argument: str = "thread") -> Thread:
        """Give the thread that was typed: "M12", "M12x1.25", "M 12 × 1,25", "1/2-13", "1/2 UNF", "1 1/8-12".

        A metric size without a pitch is the coarse one (ISO 261 leaves it out). An inch size needs its threads per
        inch, or UNC or UNF.
        Raises: InputMissing for nothing; NotUnderstood if it is no thread; OutOfRange for one that is not made.
        """
        return _parse_thread(text, argument)

    @property
    def diameter(self) -> Quantity:
        return Quantity(Dimension.LENGTH, round(small_of(self.diameter_mm, Dimension.LENGTH, "mm")))

    @property
    def pitch(self) -> Quantity:
        return Quantity(Dimension.LENGTH, round(small_of(self.pitch_mm, Dimension.LENGTH, "mm")))


@dataclass(frozen=True, slots=True)
class Area:
    """A cross-section in whole square micrometres."""

    um2: int

    @property
    def mm2(self) -> float:
        return self.um2 / 1e6


def stress_area(thread: Thread) -> Area:
    """Give the tensile stress area: a circle of the mean of pitch and root diameter.

    Source: ISO 898-1, clause 9.1.6.1: As = pi/4·((d2 + d3)/2)², d2 = d - 0.649519 P, d3 = d - 1.226869 P (from memory;
    reproduces every printed area). For unified threads the same with 0.9743/n: At = 0.7854·(d - 0.9743/n)² (SAE J429,
    from memory).
    """
    return Area(round(_stress_area_m2(thread) * 1e12))


# -----------------------------------------------------------------------------------------------------------
# Strength


@dataclass(frozen=True, slots=True)
class Strength:
    """Proof stress, yield and tensile strength of a class within a range of diameters, in megapascals."""

    proof_mpa: float
    yield_mpa: float
    tensile_mpa: float


@dataclass(frozen=True, slots=True)
class _Row:
    up_to_mm: float
    strength: Strength


def _psi(proof: float, yields: float, tensile: float) -> Strength:
    ksi = 6.894757293168361
    return Strength(proof * ksi, yields * ksi, tensile * ksi)


# Source: ISO 898-1 proof loads as printed by optimas (read 2026-11-25) divided by the area; yield and tensile strengths
# from memory of its table 3; tensile strengths also divide out of usefastener.com/knowledge/404 (read 2026-11-25).
_METRIC_CLASSES: dict[str, tuple[_Row, ...]] = {
    "4.6": (_Row(39, Strength(225, 240, 400)),),
    "5.6": (_Row(39, Strength(280, 300, 500)),),
    "5.8": (_Row(39, Strength(380, 420, 520)),),
    "6.8": (_Row(39, Strength(440, 480, 600)),),
    "8.8": (_Row(16, Strength(580, 640, 800)), _Row(39, Strength(600, 660, 830))),
    "9.8": (_Row(16, Strength(650, 720, 900)),),
    "10.9": (_Row(39, Strength(830, 940, 1040)),),
    "12.9": (_Row(39, Strength(970, 1100, 1220)),),
}
# Source: SAE J429, as printed at china-bolts.com/sae-j429-... and, after Shigley and Mischke (1989) p. 341, at
# mst.edu/~jthomas (both read 2026-11-25).
_INCH_GRADES: dict[str, tuple[_Row, ...]] = {
    "1": (_Row(38.1, _psi(33, 36, 60)),),
    "2": (_Row(19.05, _psi(55, 57, 74)), _Row(38.1, _psi(33, 36, 60))),
    "5": (_Row(25.4, _psi(85, 92, 120)), _Row(38.1, _psi(74, 81, 105))),
    "8": (_Row(38.1, _psi(120, 130, 150)),),
}
METRIC_CLASSES = tuple(_METRIC_CLASSES)
INCH_GRADES = tuple(_INCH_GRADES)


def strength_of(thread: Thread, strength_class: str) -> Strength:
    """Give the strength of a class for this thread: "8.8", "10.9", "12.9" metric; "5", "8" inch.

    Validity: steel bolts, screws and studs at room temperature, metric to M39, inch to 1 1/2.
    Raises: InputMissing for nothing; NotUnderstood for a class that is not known for this kind of thread;
            OutOfRange for a diameter beyond the class.
    """
    wanted = strength_class.strip().lower().removeprefix("grade").removeprefix("class").strip()
    classes = _INCH_GRADES if thread.is_inch else _METRIC_CLASSES
    if not wanted:
        raise InputMissing("strength_class", f"needs one of {', '.join(classes)}")
    rows = classes.get(wanted)
    if rows is None:
        raise NotUnderstood(
            "strength_class",
            f"{strength_class!r} is no class of {'an inch' if thread.is_inch else 'a metric'} bolt",
            typed=strength_class[:20],
            known=", ".join(classes),
            reason="strength_class",
        )
    for row in rows:
        if thread.diameter_mm <= Fraction(str(row.up_to_mm)):
            return row.strength
    raise OutOfRange("strength_class", f"class {wanted} is not made in {thread.name}", typed=strength_class)


def proof_load(thread: Thread, strength_class: str) -> Quantity:
    """Give the pull a bolt must take without lasting stretch: proof stress times stress area. Source: ISO 898-1."""
    return from_si(Dimension.FORCE, strength_of(thread, strength_class).proof_mpa * 1e6 * _stress_area_m2(thread))


def yield_load(thread: Thread, strength_class: str) -> Quantity:
    """Give the pull at which a bolt yields: yield (0.2 % proof) strength times stress area. Source: ISO 898-1."""
    return from_si(Dimension.FORCE, strength_of(thread, strength_class).yield_mpa * 1e6 * _stress_area_m2(thread))


def ultimate_load(thread: Thread, strength_class: str) -> Quantity:
    """Give the least pull at which a bolt may break: tensile strength times stress area. Source: ISO 898-1."""
    return from_si(Dimension.FORCE, strength_of(thread, strength_class).tensile_mpa * 1e6 * _stress_area_m2(thread))


def stress_in_bolt(load: Quantity, thread: Thread) -> Quantity:
    """Give the stress a pull makes in the thread: load over stress area."""
    return from_si(
        Dimension.PRESSURE, need(load, Dimension.FORCE, "load", at_least_zero=True) / _stress_area_m2(thread)
    )


def joint_share(bolt_rate: Quantity, joint_rate: Quantity) -> Quantity:
    """Give the part of an outside pull that the bolt itself takes: C = kb/(kb + km).

    Source: Shigley, *Mechanical Engineering Design*, chapter 8, joint constant (from memory).
    """
    bolt = need(bolt_rate, Dimension.RATE, "bolt_rate", positive=True)
    joint = need(joint_rate, Dimension.RATE, "joint_rate", positive=True)
    return from_si(Dimension.RATIO, bolt / (bolt + joint))


# -----------------------------------------------------------------------------------------------------------
# Torque and preload

# Two honest tables for the same bolt differ by 17 %, so a nut factor is a guide and never more.
# Source: Shigley table 8-15 (from memory); 0.15 lubricated and 0.20 dry read at
# mechanical-design-handbook.blogspot.com/2007/10/fasteners.html (2026-11-25).
NUT_FACTORS: Mapping[str, Quantity] = {
    "black_dry": Quantity(Dimension.RATIO, 300_000),
    "zinc": Quantity(Dimension.RATIO, 200_000),
    "dry": Quantity(Dimension.RATIO, 200_000),
    "lubricated": Quantity(Dimension.RATIO, 180_000),
    "cadmium": Quantity(Dimension.RATIO, 160_000),
    "anti_seize": Quantity(Dimension.RATIO, 120_000),
}


def nut_factor(condition: str) -> Quantity:
    """Give the nut factor of a named condition of the thread.

    Raises: InputMissing for nothing; NotUnderstood for a condition that has no figure.
    """
    if not condition.strip():
        raise InputMissing("condition", f"needs one of {', '.join(NUT_FACTORS)}")
    if condition not in NUT_FACTORS:
        raise NotUnderstood(
            "condition",
            f"{condition!r} has no nut factor",
            typed=condition[:40],
            known=", ".join(NUT_FACTORS),
            reason="condition",
        )
    return NUT_FACTORS[condition]


def torque_from_preload(preload: Quantity, thread: Thread, factor: Quantity) -> Quantity:
    """Give the torque for a preload by the short form: T = K·F·d.

    Units: preload a force, factor a ratio (`nut_factor`). Validity: 0.05 to 0.6; a guide, ±30 % in practice.
    Source: Wentzell, *Machine Design*, equation of example 6.1, p. 120; Shigley eq. 8-27 (from memory).
    """
    force = need(preload, Dimension.FORCE, "preload", at_least_zero=True)
    return from_si(Dimension.TORQUE, _nut_factor(factor) * force * _diameter_m(thread))


def preload_from_torque(torque: Quantity, thread: Thread, factor: Quantity) -> Quantity:
    """Give the preload a torque makes by the short form: F = T/(K·d). The inverse of `torque_from_preload`."""
    moment = need(torque, Dimension.TORQUE, "torque", at_least_zero=True)
    return from_si(Dimension.FORCE, moment / (_nut_factor(factor) * _diameter_m(thread)))


def torque_long_form(
    preload: Quantity,
    thread: Thread,
    thread_friction: Quantity,
    bearing_friction: Quantity,
    bearing_diameter: Quantity,
) -> Quantity:
    """Give the torque for a preload by the power-screw form, thread and bearing face apart.

    bearing_diameter: mean diameter on which the head or nut rubs (1.25·d where nothing else is known).
    Raises: WrongDimension, OutOfRange; a thread so slippery or steep that the form fails is out of range.
    Source: Shigley eq. 8-26 with half thread angle 30° (from memory).
    """
    force = need(preload, Dimension.FORCE, "preload", at_least_zero=True)
    f = _friction(thread_friction, "thread_friction")
    fc = _friction(bearing_friction, "bearing_friction")
    collar = need(bearing_diameter, Dimension.LENGTH, "bearing_diameter", positive=True)
    mean = _pitch_diameter_m(thread)
    lead = _pitch_m(thread)
    rubbing = f / math.cos(math.radians(30))
    turning = (lead + math.pi * rubbing * mean) / (math.pi * mean - rubbing * lead)
    return from_si(Dimension.TORQUE, force * (mean / 2 * turning + fc * collar / 2))


def torque_by_vdi(
    preload: Quantity,
    thread: Thread,
    thread_friction: Quantity,
    bearing_friction: Quantity,
    bearing_diameter: Quantity,
) -> Quantity:
    """Give the torque for a preload: M = F·(0.16 P + 0.58 d2·µG + DKm/2·µK).

    bearing_diameter: DKm, the mean of bearing face and hole.
    Source: VDI 2230 part 1 (from memory); agrees within 0.5 % with its printed tables.
    """
    force = need(preload, Dimension.FORCE, "preload", at_least_zero=True)
    mu_thread = _friction(thread_friction, "thread_friction")
    mu_bearing = _friction(bearing_friction, "bearing_friction")
    collar = need(bearing_diameter, Dimension.LENGTH, "bearing_diameter", positive=True)
    arm = 0.16 * _pitch_m(thread) + 0.58 * _pitch_diameter_m(thread) * mu_thread + collar / 2 * mu_bearing
    return from_si(Dimension.TORQUE, force * arm)


def assembly_preload(thread: Thread, strength_class: str, thread_friction: Quantity, utilisation: Quantity) -> Quantity:
    """Give the preload at which pull and twist together use that part of the yield strength (commonly 90 %).

    Source: VDI 2230 part 1: F = v·Rp0.2·As / sqrt(1 + 3·[3/2·d2/d0·(P/(pi·d2) + 1.155 µG)]²) (from memory); agrees
    with its printed tables to their last figure.
    """
    share = need(utilisation, Dimension.RATIO, "utilisation", positive=True)
    if share > 1:
        raise OutOfRange("utilisation", "cannot be above 100 % of the yield strength")
    mu = _friction(thread_friction, "thread_friction")
    d2, pitch = _pitch_diameter_m(thread), _pitch_m(thread)
    d0 = _stress_diameter_m(thread)
    twist = 1.5 * d2 / d0 * (pitch / (math.pi * d2) + 1.155 * mu)
    yields = strength_of(thread, strength_class).yield_mpa * 1e6
    return from_si(Dimension.FORCE, share * yields * _stress_area_m2(thread) / math.sqrt(1 + 3 * twist * twist))


def turn_angle(preload: Quantity, thread: Thread, length: Quantity, modulus: Quantity) -> Quantity:
    """Give the turn from snug that stretches the bolt to a preload: 360°·F·L/(A·E·P).

    length: the length under load. modulus: Young's modulus as a pressure (about 206 GPa for steel).
    The give of the joint itself is left out, so the real turn is larger; the maker's angle always wins.
    Source: Wentzell, *Machine Design*, examples 6.2 and 6.3, p. 121.
    """
    stretch = _stretch_m(preload, thread, length, modulus)
    return from_si(Dimension.ANGLE, 360 * stretch / _pitch_m(thread))


def stretch(preload: Quantity, thread: Thread, length: Quantity, modulus: Quantity) -> Quantity:
    """Give how much a preload lengthens the bolt: F·L/(A·E). Source: as `turn_angle`."""
    return from_si(Dimension.LENGTH, _stretch_m(preload, thread, length, modulus))


# -----------------------------------------------------------------------------------------------------------
# Questioning a typed torque


class QuestionKind(StrEnum):
    """DOUBT asks about the figure; GAP says that something missing kept it from being compared."""

    DOUBT = "doubt"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Spec:
    """A torque as entered, with what is known of its bolt. None or "" where nobody said.

    torque:    the target, or the upper end of a range.
    condition: a key of `NUT_FACTORS`.
    is_yield_tightened: a torque-to-yield fastener (torque plus angle): it goes beyond proof load by intent.
    is_kept: whether it is fitted again after it was undone; None where nobody said.
    """

    torque: Quantity
    thread: Thread | None = None
    strength_class: str = ""
    condition: str = ""
    is_yield_tightened: bool = False
    is_kept: bool | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """One question to the person who entered the figure: stable code, blanks, and the sentence."""

    code: str
    kind: QuestionKind
    sentence: str
    details: Mapping[str, str] = field(default_factory=dict)


# House rules, decided here: how far a figure may stray before it is asked about. Usual is 75 % of proof load, common
# practice for a joint that is taken apart again (Shigley eq. 8-31, from memory), with a thread between oiled and dry.
_USUAL_SHARE = 0.75
_USUAL_FACTORS = (0.15, 0.20)
_ASSUMED_CONDITION = "dry"
_FAR = 0.15  # the typed figure is farther outside the usual torques than this (natural logarithm of the ratio)
_CLOSE = 0.10  # and in another unit it would be inside them, or no farther outside than this
_FAR_BELOW = 0.35  # less than this part of the lowest usual torque is asked about in any case
_UNITS_MIXED_UP = ("N·m", "lbf·ft", "lbf·in", "kgf·m", "kgf·cm")


def question(spec: Spec) -> tuple[Question, ...]:
    """Say why a typed torque may not fit its bolt. Empty means that nothing speaks against it, not that it is right.

    Asks when the torque would load the bolt beyond its proof load; when it is far from what such a bolt usually gets
    and the same number in another unit would be close; when it is far below; and when a bolt that is turned on after
    its torque is to be fitted again. Without thread or class it says that the figure could not be compared. It never
    proposes a torque.
    Raises: InputMissing, WrongDimension, OutOfRange for a torque that is none; as `strength_of` for the class.
    Source: house rule (thresholds above) on T = K·F·d and ISO 898-1 or SAE J429 proof loads.
    """
    torque = need(spec.torque, Dimension.TORQUE, "torque", positive=True)
    return (*_turned_and_kept(spec), *_about_the_bolt(spec, torque))


def _turned_and_kept(spec: Spec) -> tuple[Question, ...]:
    """A bolt tightened into yield has been stretched for good. Common practice, no source: it is new every time."""
    if not spec.is_yield_tightened or spec.is_kept is not True:
        return ()
    return (
        Question(
            "turned_and_kept",
            QuestionKind.DOUBT,
            "A bolt that is turned on after its torque has as a rule been stretched for good, and is new every time. "
            "Does the source let this one be used again?",
        ),
    )


def _about_the_bolt(spec: Spec, torque: float) -> tuple[Question, ...]:
    if spec.thread is None:
        return (_gap("thread_unknown", "The thread is not known, so the torque was not compared with its bolt."),)
    if not spec.strength_class:
        strongest = "8" if spec.thread.is_inch else "12.9"
        beyond = _beyond(spec, torque, strongest, "beyond_any_bolt")
        return beyond or (
            _gap("strength_unknown", "The strength class is not known, so the torque was not compared with its bolt."),
        )
    asked = _other_unit(spec, torque)
    if not spec.is_yield_tightened:
        asked += _beyond(spec, torque, spec.strength_class, "beyond_proof")
    if not asked and torque < _FAR_BELOW * _usual_torques(spec)[0]:
        asked = (_far_below(spec),)
    return asked


def _other_unit(spec: Spec, torque: float) -> tuple[Question, ...]:
    """Ask about the unit if the same number in another one would be a usual torque, and this is not."""
    usual = _usual_torques(spec)
    if _outside(torque, usual) <= _FAR:
        return ()
    typed_unit = spec.torque.unit or TABLE[Dimension.TORQUE].default
    number = amount_in(spec.torque, Dimension.TORQUE, typed_unit)
    fitting = []
    for unit in _UNITS_MIXED_UP:
        strays = _outside(float(small_of(number, Dimension.TORQUE, unit)) / 1000, usual)
        if unit != typed_unit and strays <= _CLOSE:
            fitting.append((strays, unit))
    if not fitting:
        return ()
    unit = min(fitting)[1]
    return (
        Question(
            "perhaps_other_unit",
            QuestionKind.DOUBT,
            f"{show(spec.torque)} is far from what a bolt {_bolt(spec)} usually gets; the same number in {unit} would "
            "be close. Which unit does the source print?",
            {"typed": show(spec.torque), "typed_unit": typed_unit, "perhaps": unit, "bolt": _bolt(spec)},
        ),
    )


def _beyond(spec: Spec, torque: float, strength_class: str, code: str) -> tuple[Question, ...]:
    limit = _proof_torque(spec, strength_class)
    if torque <= limit:
        return ()
    at_most = show(from_si(Dimension.TORQUE, limit), spec.torque.unit or "N·m")
    which = "even the strongest bolt" if code == "beyond_any_bolt" else "a bolt"
    assumed = "" if spec.condition else " with a dry thread (assumed: nobody said)"
    return (
        Question(
            code,
            QuestionKind.DOUBT,
            f"{show(spec.torque)} would stretch {which} {_bolt(spec)} for good: it reaches its proof load at about "
            f"{at_most}{assumed}. Compare with the source again.",
            {
                "typed": show(spec.torque),
                "bolt": _bolt(spec),
                "limit": at_most,
                "condition": spec.condition or _ASSUMED_CONDITION,
                "is_assumed": "no" if spec.condition else "yes",
            },
        ),
    )


def _far_below(spec: Spec) -> Question:
    return Question(
        "far_below",
        QuestionKind.DOUBT,
        f"{show(spec.torque)} is little for a bolt {_bolt(spec)}. That can be right for a joint with rubber or a taper "
        "in it. Compare with the source again.",
        {"typed": show(spec.torque), "bolt": _bolt(spec)},
    )


def _gap(code: str, sentence: str) -> Question:
    return Question(code, QuestionKind.GAP, sentence)


def _proof_torque(spec: Spec, strength_class: str) -> float:
    """The torque at which the bolt reaches its proof load in the condition said, or dry."""
    return _nut_factor(nut_factor(spec.condition or _ASSUMED_CONDITION)) * _proof_moment(spec, strength_class)


def _usual_torques(spec: Spec) -> tuple[float, float]:
    """The lowest and highest torque that such a bolt usually gets; one value where the condition is known."""
    moment = _USUAL_SHARE * _proof_moment(spec, spec.strength_class)
    low, high = _USUAL_FACTORS
    if spec.condition:
        low = high = _nut_factor(nut_factor(spec.condition))
    return low * moment, high * moment


def _proof_moment(spec: Spec, strength_class: str) -> float:
    assert spec.thread is not None  # question() has asked
    proof = strength_of(spec.thread, strength_class).proof_mpa * 1e6 * _stress_area_m2(spec.thread)
    return proof * _diameter_m(spec.thread)


def _outside(torque: float, usual: tuple[float, float]) -> float:
    """How far a torque lies outside a range, as the natural logarithm of the ratio; 0 inside."""
    low, high = usual
    return max(0.0, math.log(low / torque), math.log(torque / high))


def _bolt(spec: Spec) -> str:
    return f"{spec.thread.name if spec.thread else ''} {spec.strength_class}".strip()


# -----------------------------------------------------------------------------------------------------------
# Inside

_METRIC_NAME = re.compile(r"M *(?P<d>[0-9]{1,2}(?:[.,]5)?)(?: *[X×*-] *(?P<p>[0-9](?:[.,][0-9]{1,2})?))?")
_INCH_NAME = re.compile(
    r"(?P<d>(?:1[ -])?[0-9]{1,2}/[0-9]{1,2}|1)(?: *(?:IN|\"))?"
    r"(?:(?: *- *| +)(?P<n>[0-9]{1,2}))?(?: *-? *(?P<series>UNC|UNF|UNEF|UN|NC|NF))?"
)
_LONGEST_TEXT = 32


def _parse_thread(text: str, argument: str) -> Thread:
    typed = text.strip()
    if not typed:
        raise InputMissing(argument, "needs a thread, for example M12x1.25 or 1/2-20")
    plain = " ".join(typed[: _LONGEST_TEXT + 1].upper().replace("½", "1/2").split())
    if len(typed) <= _LONGEST_TEXT and (match := _METRIC_NAME.fullmatch(plain)):
        return _metric_thread(match, typed, argument)
    if len(typed) <= _LONGEST_TEXT and (match := _INCH_NAME.fullmatch(plain)):
        return _inch_thread(match, typed, argument)
    raise NotUnderstood(
        argument,
        f"{typed[:_LONGEST_TEXT]!r} is no thread like M12x1.25 or 1/2-20",
        typed=typed[:_LONGEST_TEXT],
        reason="thread",
    )


def _metric_thread(match: re.Match[str], typed: str, argument: str) -> Thread:
    diameter = Fraction(match["d"].replace(",", "."))
    pitch = Fraction(match["p"].replace(",", ".")) if match["p"] else _COARSE_PITCH.get(diameter)
    if pitch is None:
        raise NotUnderstood(argument, f"needs the pitch of {typed!r}", typed=typed, reason="pitch")
    if not 3 <= diameter <= 52 or not diameter / 20 < pitch <= diameter / 5:
        raise OutOfRange(argument, f"no such thread is made: {typed!r}", typed=typed)
    name = f"M{_plain(diameter)}" + ("" if pitch == _COARSE_PITCH.get(diameter) else f"x{_plain(pitch)}")
    return Thread(name, diameter, pitch, is_inch=False)


def _inch_thread(match: re.Match[str], typed: str, argument: str) -> Thread:
    whole, _, part = match["d"].replace("-", " ").rpartition(" ")
    diameter = Fraction(int(whole or 0)) + Fraction(_checked_fraction(part, typed, argument))
    series = match["series"] or ""
    table = _FINE_PER_INCH if series in ("UNF", "NF") else _COARSE_PER_INCH if series in ("UNC", "NC") else {}
    per_inch = int(match["n"]) if match["n"] else table.get(diameter)
    if per_inch is None:
        raise NotUnderstood(argument, f"needs the threads per inch of {typed!r}", typed=typed, reason="pitch")
    if not Fraction(1, 4) <= diameter <= Fraction(3, 2) or not 6 <= per_inch <= 36 or per_inch * diameter < 4:
        raise OutOfRange(argument, f"no such thread is made: {typed!r}", typed=typed)
    size = f"{diameter.numerator // diameter.denominator} {diameter % 1}" if diameter > 1 else str(diameter)
    return Thread(f"{size}-{per_inch}", diameter * _MM_PER_INCH, _MM_PER_INCH / per_inch, is_inch=True)


def _checked_fraction(text: str, typed: str, argument: str) -> Fraction:
    numerator, _, denominator = text.partition("/")
    if denominator and int(denominator) == 0:
        raise NotUnderstood(argument, f"{typed!r} has a fraction that cannot be", typed=typed, reason="fraction")
    return Fraction(int(numerator), int(denominator or 1))


def _plain(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.2f}".rstrip("0")


def _nut_factor(factor: Quantity) -> float:
    k = need(factor, Dimension.RATIO, "factor", positive=True)
    if not 0.05 <= k <= 0.6:
        raise OutOfRange("factor", f"a nut factor lies between 0.05 and 0.6, got {k:g}")
    return k


def _friction(coefficient: Quantity, argument: str) -> float:
    mu = need(coefficient, Dimension.RATIO, argument, positive=True)
    if not 0.02 <= mu <= 1:
        raise OutOfRange(argument, f"a friction coefficient lies between 0.02 and 1, got {mu:g}")
    return mu


def _stretch_m(preload: Quantity, thread: Thread, length: Quantity, modulus: Quantity) -> float:
    force = need(preload, Dimension.FORCE, "preload", at_least_zero=True)
    span = need(length, Dimension.LENGTH, "length", positive=True)
    young = need(modulus, Dimension.PRESSURE, "modulus", positive=True)
    return force * span / (_stress_area_m2(thread) * young)


def _diameter_m(thread: Thread) -> float:
    return float(thread.diameter_mm) / 1000


def _pitch_m(thread: Thread) -> float:
    return float(thread.pitch_mm) / 1000


def _pitch_diameter_m(thread: Thread) -> float:
    return _diameter_m(thread) - 0.649519 * _pitch_m(thread)


def _stress_diameter_m(thread: Thread) -> float:
    if thread.is_inch:
        return _diameter_m(thread) - 0.9743 * _pitch_m(thread)
    return _diameter_m(thread) - (0.649519 + 1.226869) / 2 * _pitch_m(thread)


def _stress_area_m2(thread: Thread) -> float:
    return math.pi / 4 * _stress_diameter_m(thread) ** 2
