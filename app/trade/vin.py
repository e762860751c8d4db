"""What a vehicle identification number says, and what it does not.

Belongs here: the check digit with its working, the model-year candidates, and what cannot be concluded. Does not
belong here: who built the vehicle; no list of makers is kept. Seventeen legal characters are always accepted: the
check digit is a North American requirement, and many numbers from elsewhere carry something else in position 9.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from app.trade.problems import InputMissing, NotUnderstood

LENGTH = 17
CHECK_POSITION = 9
YEAR_POSITION = 10
_CHECK_CHARACTERS = "0123456789X"

# Source: 49 CFR 565.15(c), tables III and IV, as read at pandsauto.ca/do-you-have-valid-vin-number.html (2026-11-25)
# and in the package vininfo 1.11.0.
_VALUES = {digit: int(digit) for digit in "0123456789"} | dict(
    zip("ABCDEFGHJKLMNPRSTUVWXYZ", (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9), strict=True)
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)

# Source: 49 CFR 565.15 table VII, order read in vininfo 1.11.0 (2026-11-25). U, Z and 0 are never year codes.
_YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR = 1980
_YEAR_CYCLE = 30

# Characters that hands and eyes take for one another. House rule, decided from their shapes.
_LOOK_ALIKES = tuple(zip("SBGZDUA1EMKP3VC1", "58620V47FNXR8YGL", strict=True))


@dataclass(frozen=True, slots=True)
class CheckDigit:
    """The check digit's working: sum of value times weight, its remainder by 11, and what position 9 ought to be."""

    total: int
    remainder: int
    expected: str
    found: str

    @property
    def passes(self) -> bool:
        return self.expected == self.found

    @property
    def is_in_use(self) -> bool:
        """Whether position 9 holds something that can be a check digit at all."""
        return self.found in _CHECK_CHARACTERS


@dataclass(frozen=True, slots=True)
class LookAlike:
    """One character that, read as its look-alike, would make the check digit right."""

    position: int
    typed: str
    perhaps: str


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to tell the person: a stable code, what goes in its blanks, and the sentence."""

    code: str
    sentence: str
    details: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class VinReport:
    """What can be said about a number of seventeen legal characters.

    vin:             in capitals, without spaces or hyphens; `text` is as typed.
    years:           both model years of the 30-year cycle that position 10 can stand for; empty if it is no year code.
    year_if_north_american: the one of them that position 7 picks, for a car or light truck built for North America.
    look_alikes:     single misreadings that would make the check digit right (only when it is wrong).
    remarks:         what to tell the person, in order, ending with what cannot be concluded.
    """

    text: str
    vin: str
    check: CheckDigit
    years: tuple[int, ...]
    year_if_north_american: int | None
    is_low_volume_maker: bool
    look_alikes: tuple[LookAlike, ...]
    remarks: tuple[Remark, ...]


def examine(text: str, *, is_light_vehicle: bool | None = None, argument: str = "vin") -> VinReport:
    """Say what a vehicle identification number shows. Accepts every number of 17 legal characters.

    is_light_vehicle: a passenger car, or a truck of 10 000 lb gross or less; None if nobody said.
    Raises: InputMissing for nothing; NotUnderstood for a wrong length or a character that no number has (I, O, Q),
            with the position and what was perhaps meant.
    Source: 49 CFR 565.15 (formerly 565.6); the check digit is required for vehicles sold in North America only.
    """
    vin = _legal(text, argument)
    check = check_digit(vin)
    years = year_candidates(vin[YEAR_POSITION - 1])
    look_alikes = _look_alikes(vin) if check.is_in_use and not check.passes else ()
    picked = _year_by_position_7(vin, years) if is_light_vehicle else None
    return VinReport(
        text=text.strip(),
        vin=vin,
        check=check,
        years=years,
        year_if_north_american=picked,
        is_low_volume_maker=vin[2] == "9",
        look_alikes=look_alikes,
        remarks=tuple(_remarks(vin, check, years, picked, look_alikes)),
    )


def check_digit(vin: str) -> CheckDigit:
    """Give the check digit's working for 17 legal characters in capitals. Position 9 itself weighs nothing."""
    total = sum(_VALUES[character] * weight for character, weight in zip(vin, _WEIGHTS, strict=True))
    remainder = total % 11
    # The whole-number remainder decides. One printed table of it as a decimal is wrong (7/11 as .634).
    return CheckDigit(total, remainder, "X" if remainder == 10 else str(remainder), vin[CHECK_POSITION - 1])


def year_candidates(code: str) -> tuple[int, ...]:
    """Give the model years that the character in position 10 can stand for; none for U, Z and 0."""
    place = _YEAR_CODES.find(code.upper()) if len(code) == 1 else -1
    if place < 0:
        return ()
    return (_FIRST_YEAR + place, _FIRST_YEAR + place + _YEAR_CYCLE)


# -----------------------------------------------------------------------------------------------------------
# Inside

_PARTING = re.compile(r"[\s\-·.*]+")
_LOOKS_LIKE = {"I": "1", "O": "0", "Q": "0"}
_LONGEST_TEXT = 64


def _legal(text: str, argument: str) -> str:
    vin = _PARTING.sub("", text).upper()
    shown = text.strip()[:_LONGEST_TEXT]
    if not vin:
        raise InputMissing(argument, "needs a vehicle identification number of 17 characters")
    for position, character in enumerate(vin[:LENGTH], start=1):
        if character not in _VALUES:
            raise NotUnderstood(
                argument,
                f"character {position} of {shown!r} is {character!r}, which no such number has",
                typed=shown,
                reason="character",
                position=str(position),
                character=character,
                perhaps=_LOOKS_LIKE.get(character, ""),
            )
    if len(vin) != LENGTH:
        raise NotUnderstood(
            argument,
            f"needs {LENGTH} characters, {shown!r} has {len(vin)}",
            typed=shown,
            reason="length",
            count=str(len(vin)),
        )
    return vin


def _year_by_position_7(vin: str, years: tuple[int, ...]) -> int | None:
    """Pick the year for a car or light truck: a figure in position 7 up to 2009, a letter from 2010 on."""
    if not years:
        return None
    return years[0] if vin[6].isdigit() else years[1]


def _look_alikes(vin: str) -> tuple[LookAlike, ...]:
    found = []
    for one, other in _LOOK_ALIKES:
        for here, there in ((one, other), (other, one)):
            for position, character in enumerate(vin, start=1):
                changed = vin[: position - 1] + there + vin[position:]
                if character == here and check_digit(changed).passes:
                    found.append(LookAlike(position, here, there))
    return tuple(sorted(found, key=lambda alike: alike.position))


def _remarks(
    vin: str,
    check: CheckDigit,
    years: tuple[int, ...],
    picked: int | None,
    look_alikes: tuple[LookAlike, ...],
) -> list[Remark]:
    remarks = [_remark_on_check(check)]
    for alike in look_alikes:
        remarks.append(
            Remark(
                "perhaps_misread",
                f"Character {alike.position} reads {alike.typed}; as {alike.perhaps} the check digit would be right.",
                {"position": str(alike.position), "typed": alike.typed, "perhaps": alike.perhaps},
            )
        )
    remarks.append(_remark_on_year(vin, years, picked))
    if vin[2] == "9":
        remarks.append(
            Remark(
                "low_volume", "A 9 in position 3 marks a maker of few vehicles: characters 12 to 14 name the maker too."
            )
        )
    remarks.append(
        Remark(
            "not_concluded",
            "Not to be concluded from the number alone: where the vehicle was sold, whether the check digit rule "
            "binds it, and that the number is the one on the vehicle. Compare with the plate.",
        )
    )
    return remarks


def _remark_on_check(check: CheckDigit) -> Remark:
    details = {
        "total": str(check.total),
        "remainder": str(check.remainder),
        "expected": check.expected,
        "found": check.found,
    }
    working = (
        f"The sum is {check.total}, its remainder by 11 is {check.remainder}, "
        f"so position 9 ought to be {check.expected}"
    )
    if check.passes:
        return Remark(
            "check_passes",
            f"{working}, and it is. That is weak evidence: one wrong number in eleven passes too.",
            details,
        )
    if check.is_in_use:
        return Remark(
            "check_fails",
            f"{working}; it is {check.found}. On a vehicle built for North America a character was misread. "
            "Elsewhere the rule does not bind, and the number may be right.",
            details,
        )
    return Remark(
        "check_not_used",
        f"Position 9 is {check.found}, which is no check digit: the vehicle was probably not built for North America.",
        details,
    )


def _remark_on_year(vin: str, years: tuple[int, ...], picked: int | None) -> Remark:
    code = vin[YEAR_POSITION - 1]
    if not years:
        return Remark("year_unknown", f"Position 10 is {code}, which is no year code.", {"code": code})
    details = {"code": code, "first": str(years[0]), "second": str(years[1])}
    if picked is None:
        return Remark(
            "year_open",
            f"Position 10 is {code}: model year {years[0]} or {years[1]}, if the maker uses it for the year.",
            details,
        )
    return Remark(
        "year_picked",
        f"Position 10 is {code}, position 7 is {vin[6]}: model year {picked}, "
        "if the vehicle was built for North America.",
        {**details, "picked": str(picked), "seventh": vin[6]},
    )
