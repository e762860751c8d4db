"""What the code on a tyre says, and what it means for the height of the car.

Belongs here: the size code, its geometry, load index and speed symbol. Does not belong here: ride height itself
(`ride_height`), pressure, tread. All figures are of the new, unloaded tyre; a real one may differ by its maker's
tolerance (`diameter_band`), and stands lower under load.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from app.trade.problems import InputMissing, NotUnderstood, OutOfRange
from app.trade.quantity import Dimension, Quantity, from_si, need
from app.trade.units import quantity_of

MM_PER_INCH = Fraction(254, 10)


class TyreKind(StrEnum):
    """What the letters before (or after) the size say."""

    METRIC = "metric"
    PASSENGER = "passenger"  # P: passenger car, by the United States practice
    LIGHT_TRUCK = "light_truck"  # LT
    COMMERCIAL = "commercial"  # C after a metric size
    TEMPORARY = "temporary"  # T or S: temporary spare
    FLOTATION = "flotation"  # overall diameter x section width, in inches


class Construction(StrEnum):
    RADIAL = "radial"
    DIAGONAL = "diagonal"
    BIAS_BELTED = "bias_belted"


@dataclass(frozen=True, slots=True)
class TyreSize:
    """A tyre's size code, taken apart. Exact: nothing is rounded before `section_height` and its kin ask for it.

    text:         as typed.
    width_mm:     nominal section width (a flotation size gives it in inches).
    aspect:       section height in percent of the width; None where the code does not say it.
    overall_inch: overall diameter of a flotation size; None for the others.
    rim_code:     rim diameter code, in inches (22.5 is possible).
    """

    text: str
    kind: TyreKind
    width_mm: Fraction
    aspect: int | None
    overall_inch: Fraction | None
    construction: Construction
    rim_code: Fraction
    load_index: int | None = None
    load_index_dual: int | None = None
    speed_symbol: str = ""
    load_range: str = ""
    extra_load: bool = False

    @staticmethod
    def parse(text: str, *, argument: str = "size") -> TyreSize:
        """Give the size that was typed.

        Understands: "205/55R16 91V", "P215/65R15XL 95H", "LT235/85R16C", "T145/80D18 103M", "31x10.50R15LT 109Q",
        "385/65 R 22.5 160J", "195/70R15C 104/102R".
        Raises: InputMissing for nothing; NotUnderstood for anything that is no size code, naming the part;
                OutOfRange for a size no tyre has.
        Source: the size-code samples of vehicle owners' manuals (manualzilla.com/doc/5739313, read 2026-11-25) and of
                the EU tyre-label register (eprel.ec.europa.eu, read 2026-11-25).
        """
        return _parse(text, argument)

    @property
    def section_width(self) -> Quantity:
        return quantity_of(self.width_mm, Dimension.LENGTH, "mm")

    @property
    def load_capacity(self) -> Quantity | None:
        """The mass one tyre may carry by its load index; None where the code does not say it, or says one too large."""
        known = self.load_index is not None and 0 <= self.load_index - _FIRST_LOAD_INDEX < len(_LOADS_KG)
        return load_of_index(self.load_index) if known and self.load_index is not None else None

    @property
    def speed_limit(self) -> Quantity | None:
        """The speed its symbol stands for; None where the code does not say it."""
        return speed_of_symbol(self.speed_symbol) if self.speed_symbol else None

    @property
    def short(self) -> str:
        """The size alone, in one spelling, for comparing: "205/55R16"."""
        middle = {"radial": "R", "diagonal": "D", "bias_belted": "B"}[self.construction]
        if self.overall_inch is not None:
            return f"{_plain(self.overall_inch)}x{_plain(self.width_mm / MM_PER_INCH)}{middle}{_plain(self.rim_code)}"
        aspect = f"/{self.aspect}" if self.aspect is not None else ""
        return f"{_plain(self.width_mm)}{aspect}{middle}{_plain(self.rim_code)}"


# -----------------------------------------------------------------------------------------------------------
# Geometry


def section_height(size: TyreSize) -> Quantity:
    """Give the height of the section from rim to tread, unrounded.

    Raises: InputMissing if the code does not say the aspect ratio (82 is usual, and is not assumed here).
    """
    return quantity_of(_height_mm(size), Dimension.LENGTH, "mm")


def overall_diameter(size: TyreSize) -> Quantity:
    """Give the overall diameter by plain geometry: rim plus twice the section height, nothing rounded on the way.

    Source: geometry; ISO 4000-1 gives the section height as width times aspect ratio.
    """
    return quantity_of(_diameter_mm(size), Dimension.LENGTH, "mm")


def overall_diameter_by_standard(size: TyreSize) -> Quantity:
    """Give the overall diameter by the standards' rounding: d + 2H, H to the nearest millimetre, ties upwards.

    Source: ISO 4000-1 and UN Regulation 30, paragraph 2 and 6.1.2 (from memory; agrees with 15 -> 381, 16 -> 406).
    """
    return quantity_of(_standard_diameter_mm(size), Dimension.LENGTH, "mm")


def conventional_rim_diameter(rim_code: int | Fraction) -> Quantity:
    """Give the conventional diameter in whole millimetres that the standards set for a rim code.

    Source: UN Regulation 30, paragraph 2, table of nominal rim diameters (from memory). The table equals 25.4 mm
    per unit of the code, rounded to the nearest millimetre with ties upwards (22.5 -> 572).
    """
    return quantity_of(_half_up(Fraction(rim_code) * MM_PER_INCH), Dimension.LENGTH, "mm")


@dataclass(frozen=True, slots=True)
class DiameterBand:
    """Between what diameters a new tyre of a size may come."""

    smallest: Quantity
    largest: Quantity


def diameter_band(size: TyreSize) -> DiameterBand:
    """Give the overall diameters permitted for a new radial car tyre: d + 2H·0.97 to d + 2H·1.04.

    Source: UN Regulation 30, paragraph 6.1.4 (from memory; winter tyres may be a little larger).
    """
    rim = _half_up(size.rim_code * MM_PER_INCH)
    height = _half_up(_height_mm(size))
    return DiameterBand(
        quantity_of(rim + 2 * height * Fraction(97, 100), Dimension.LENGTH, "mm"),
        quantity_of(rim + 2 * height * Fraction(104, 100), Dimension.LENGTH, "mm"),
    )


def revolutions_per_mile(size: TyreSize, loaded_by: Quantity | None = None) -> Quantity:
    """Give the turns over one mile (a pure number), by the unloaded diameter.

    loaded_by: how much lower the rolling diameter is under load, for example 3 %. Without it the figure is low by
    about 3 % and cannot be had exactly from the size alone.
    Source: geometry, 63 360 inches to the mile; the 3 % from tigersunited.com (one author uses 3.1 %).
    """
    return _revolutions(size, 1_609_344.0, loaded_by)


def revolutions_per_km(size: TyreSize, loaded_by: Quantity | None = None) -> Quantity:
    """Give the turns over one kilometre (a pure number). See `revolutions_per_mile`."""
    return _revolutions(size, 1_000_000.0, loaded_by)


def height_change(fitted: TyreSize, placard: TyreSize) -> Quantity:
    """Say how much higher the axle sits on the fitted tyres than on those of the placard; negative is lower.

    Half the difference of the unloaded diameters by plain geometry. Wear and pressure come on top.
    """
    return quantity_of((_diameter_mm(fitted) - _diameter_mm(placard)) / 2, Dimension.LENGTH, "mm")


def true_speed(shown: Quantity, fitted: TyreSize, placard: TyreSize) -> Quantity:
    """Give the speed driven when the speedometer, right on the placard's tyres, shows `shown`.

    Raises: WrongDimension unless `shown` is a speed; OutOfRange if it is negative.
    """
    speed = need(shown, Dimension.SPEED, "shown", at_least_zero=True)
    return from_si(Dimension.SPEED, speed * float(_diameter_mm(fitted) / _diameter_mm(placard)))


def section_width_on_rim(size: TyreSize, rim_width: Quantity, measuring_rim_width: Quantity) -> Quantity:
    """Give the section width on a rim that is wider or narrower than the measuring rim: S + 0.4·(A - A1).

    Raises: WrongDimension, OutOfRange for rim widths that are no positive lengths.
    Source: UN Regulations 30 and 54, paragraph 6.1.1 (lawinsider.com/clause/amend-to-read, read 2026-11-25).
    """
    rim = need(rim_width, Dimension.LENGTH, "rim_width", positive=True)
    measuring = need(measuring_rim_width, Dimension.LENGTH, "measuring_rim_width", positive=True)
    return from_si(Dimension.LENGTH, float(size.width_mm) / 1000 + 0.4 * (rim - measuring))


# -----------------------------------------------------------------------------------------------------------
# Load index and speed symbol

# Source: ISO 4000-1 / UN Regulation 30 annex 4, as printed for 71 to 110 at barretire.com/Tires/tiresizes.htm and
# for 90 to 125 in a public program (both read 2026-11-25); 60 to 70 and 126 to 130 from memory.
_FIRST_LOAD_INDEX = 60
_LOADS_KG = (
    *(250, 257, 265, 272, 280, 290, 300, 307, 315, 325),
    *(335, 345, 355, 365, 375, 387, 400, 412, 425, 437),
    *(450, 462, 475, 487, 500, 515, 530, 545, 560, 580),
    *(600, 615, 630, 650, 670, 690, 710, 730, 750, 775),
    *(800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030),
    *(1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360),
    *(1400, 1450, 1500, 1550, 1600, 1650, 1700, 1750, 1800, 1850, 1900),
)

# Source: EU tyre-label register sheets for J, S, T, H, V, Y (read 2026-11-25); barretire.com for Q, S, T, U, H, V, W, Y
# (read 2026-11-25); the others from memory of UN Regulation 30 paragraph 2.
_SPEEDS_KMH = dict(
    zip(
        "FGJKLMNPQRSTUHVWY",
        (80, 90, 100, 110, 120, 130, 140, 150, 160, 170, 180, 190, 200, 210, 240, 270, 300),
        strict=True,
    )
)


def load_of_index(index: int) -> Quantity:
    """Give the mass one tyre may carry by its load index.

    Validity: indices 60 to 130, which cover cars and vans.
    Raises: OutOfRange outside them.
    """
    place = index - _FIRST_LOAD_INDEX
    if not 0 <= place < len(_LOADS_KG):
        last = _FIRST_LOAD_INDEX + len(_LOADS_KG) - 1
        raise OutOfRange("load_index", f"is known from {_FIRST_LOAD_INDEX} to {last}, got {index}", typed=str(index))
    return quantity_of(_LOADS_KG[place], Dimension.MASS, "kg")


def speed_of_symbol(symbol: str) -> Quantity:
    """Give the speed a symbol stands for.

    Raises: NotUnderstood for a letter that is no speed symbol.
    """
    speed = _SPEEDS_KMH.get(symbol.upper())
    if speed is None:
        raise NotUnderstood("speed_symbol", f"{symbol!r} is no speed symbol", typed=symbol, reason="speed_symbol")
    return quantity_of(speed, Dimension.SPEED, "km/h")


# -----------------------------------------------------------------------------------------------------------
# Parsing

_LONGEST_TEXT = 64
_RIM = r"(?P<rim>[0-9]{1,2}(?:[.,][05])?)(?![0-9])"
_BUILD = r" *(?P<build>ZR|R|D|B|-) *"
_METRIC = re.compile(
    rf"(?P<letters>P|LT|T|S)? *(?P<width>[0-9]{{3}})(?: */ *(?P<aspect>[0-9]{{2,3}}))?{_BUILD}{_RIM}(?P<rest>.*)"
)
_FLOTATION = re.compile(
    rf"(?P<letters>LT)? *(?P<overall>[0-9]{{2}}(?:[.,][0-9]{{1,2}})?)"
    rf" *[X×] *(?P<width>[0-9]{{1,2}}(?:[.,][0-9]{{1,2}})?)"
    rf"{_BUILD}{_RIM}(?P<rest>.*)"
)
_SERVICE = re.compile(r"\(?(?P<load>[0-9]{2,3})(?:/(?P<dual>[0-9]{2,3}))? *(?P<speed>[A-Z])?\)?(?![A-Z0-9])")
_EXTRA_LOAD = re.compile(r"(?:XL|EXTRA LOAD|REINFORCED|REINF\.?|RF)(?![A-Z])")
_LIGHT_TRUCK = re.compile(r"LT(?![A-Z])")
_LOAD_RANGE = re.compile(r"(?:LOAD RANGE *|LR *|/ *)?(?P<range>[B-HLN])(?![A-Z0-9])")
_PASSED_OVER = re.compile(r"(?:M ?[+&/] ?S|3PMSF|TL|TT|TUBELESS)(?![A-Z])")
_BUILDS = {
    "R": Construction.RADIAL,
    "ZR": Construction.RADIAL,
    "D": Construction.DIAGONAL,
    "-": Construction.DIAGONAL,
    "B": Construction.BIAS_BELTED,
}
_KINDS = {
    "P": TyreKind.PASSENGER,
    "LT": TyreKind.LIGHT_TRUCK,
    "T": TyreKind.TEMPORARY,
    "S": TyreKind.TEMPORARY,
    "": TyreKind.METRIC,
}


@dataclass(slots=True)
class _Marks:
    load_index: int | None = None
    load_index_dual: int | None = None
    speed_symbol: str = ""
    load_range: str = ""
    extra_load: bool = False
    light_truck: bool = False


def _parse(text: str, argument: str) -> TyreSize:
    typed = text.strip()
    if not typed:
        raise InputMissing(argument, "needs a tyre size, for example 205/55R16 91V")
    if len(typed) > _LONGEST_TEXT:
        raise NotUnderstood(argument, "is too long for a size", typed=typed[:_LONGEST_TEXT], reason="too_long")
    plain = " ".join(typed.upper().split())
    match = _METRIC.fullmatch(plain) or _FLOTATION.fullmatch(plain)
    if match is None:
        raise NotUnderstood(argument, f"{typed!r} is no tyre size like 205/55R16", typed=typed, reason="size")
    marks = _marks(match["rest"], typed, argument)
    size = _flotation(match, typed, marks) if "overall" in match.re.groupindex else _metric(match, typed, marks)
    _check(size, argument)
    return size


def _metric(match: re.Match[str], typed: str, marks: _Marks) -> TyreSize:
    kind = _KINDS[match["letters"] or ""]
    commercial = kind is TyreKind.METRIC and marks.load_range == "C"
    if marks.light_truck:
        kind = TyreKind.LIGHT_TRUCK
    return TyreSize(
        text=typed,
        kind=TyreKind.COMMERCIAL if commercial else kind,
        width_mm=Fraction(match["width"]),
        aspect=int(match["aspect"]) if match["aspect"] else None,
        overall_inch=None,
        construction=_BUILDS[match["build"]],
        rim_code=_number(match["rim"]),
        load_index=marks.load_index,
        load_index_dual=marks.load_index_dual,
        speed_symbol=marks.speed_symbol,
        load_range="" if commercial else marks.load_range,
        extra_load=marks.extra_load,
    )


def _flotation(match: re.Match[str], typed: str, marks: _Marks) -> TyreSize:
    return TyreSize(
        text=typed,
        kind=TyreKind.FLOTATION,
        width_mm=_number(match["width"]) * MM_PER_INCH,
        aspect=None,
        overall_inch=_number(match["overall"]),
        construction=_BUILDS[match["build"]],
        rim_code=_number(match["rim"]),
        load_index=marks.load_index,
        load_index_dual=marks.load_index_dual,
        speed_symbol=marks.speed_symbol,
        load_range=marks.load_range,
        extra_load=marks.extra_load,
    )


def _marks(rest: str, typed: str, argument: str) -> _Marks:
    """Read what stands behind the rim code, in whatever order; refuse what is not known."""
    marks = _Marks()
    left = rest.strip()
    while left:
        if match := _EXTRA_LOAD.match(left):
            marks.extra_load = True
        elif match := _LIGHT_TRUCK.match(left):
            marks.light_truck = True
        elif match := _PASSED_OVER.match(left):
            pass
        elif marks.load_index is None and (match := _SERVICE.match(left)):
            marks.load_index = int(match["load"])
            marks.load_index_dual = int(match["dual"]) if match["dual"] else None
            marks.speed_symbol = match["speed"] or ""
        elif not marks.load_range and (match := _LOAD_RANGE.match(left)):
            marks.load_range = match["range"]
        else:
            raise NotUnderstood(
                argument, f"{left!r} in {typed!r} is not understood", typed=typed, part=left, reason="part"
            )
        left = left[match.end() :].strip()
    if marks.speed_symbol and marks.speed_symbol not in _SPEEDS_KMH:
        raise NotUnderstood(
            argument,
            f"{marks.speed_symbol!r} is no speed symbol",
            typed=typed,
            part=marks.speed_symbol,
            reason="speed_symbol",
        )
    return marks


def _check(size: TyreSize, argument: str) -> None:
    """Refuse a size no road tyre has. The bounds are wide on purpose: house rule."""
    out = ""
    if not 8 <= size.rim_code <= 30:
        out = f"rim code {_plain(size.rim_code)}"
    elif not 100 <= size.width_mm <= 460:
        out = f"width {_plain(size.width_mm)}"
    elif size.aspect is not None and not 20 <= size.aspect <= 105:
        out = f"aspect ratio {size.aspect}"
    elif size.overall_inch is not None and not size.rim_code < size.overall_inch <= 60:
        out = f"overall diameter {_plain(size.overall_inch)}"
    if out:
        raise OutOfRange(argument, f"no road tyre has the {out} of {size.text!r}", typed=size.text, part=out)


# -----------------------------------------------------------------------------------------------------------
# Inside


def _height_mm(size: TyreSize) -> Fraction:
    if size.overall_inch is not None:
        return (size.overall_inch - size.rim_code) * MM_PER_INCH / 2
    if size.aspect is None:
        raise InputMissing("aspect", f"{size.text!r} does not say its aspect ratio", typed=size.text, usual="82")
    return size.width_mm * size.aspect / 100


def _diameter_mm(size: TyreSize) -> Fraction:
    return size.rim_code * MM_PER_INCH + 2 * _height_mm(size)


def _standard_diameter_mm(size: TyreSize) -> int:
    if size.overall_inch is not None:
        return _half_up(size.overall_inch * MM_PER_INCH)
    return _half_up(size.rim_code * MM_PER_INCH) + 2 * _half_up(_height_mm(size))


def _revolutions(size: TyreSize, distance_mm: float, loaded_by: Quantity | None) -> Quantity:
    share = need(loaded_by, Dimension.RATIO, "loaded_by", at_least_zero=True) if loaded_by else 0.0
    if share > 0.1:
        raise OutOfRange("loaded_by", "a tyre under load is not more than a tenth lower")
    return from_si(Dimension.RATIO, distance_mm / (math.pi * float(_diameter_mm(size)) * (1 - share)))


def _half_up(value: Fraction) -> int:
    """Round to the nearest whole, a tie upwards, as the tyre standards do (Python's own goes to the even one)."""
    return math.floor(value + Fraction(1, 2))


def _number(text: str) -> Fraction:
    return Fraction(text.replace(",", "."))


def _plain(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.2f}".rstrip("0")
