"""Time, parts, tax and what was authorised, in exact money.

Belongs here: the sums of an estimate and an invoice, and how far a bill may pass what the customer agreed to. Does not
belong here: what a job ought to take. Money is a whole number of the currency's smallest coin; between there are exact
fractions, and every rounding is by a named rule at a named place. The limits of the law are data with a jurisdiction
and a source (`shared/rules/repair_law.json`), never constants.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from app.trade.problems import InputMissing, NotUnderstood, OutOfRange
from app.trade.quantity import Dimension, Quantity, need

LAW_PATH = Path(__file__).resolve().parents[2] / "shared" / "rules" / "repair_law.json"

# Digits after the point of each currency's smallest coin. Source: ISO 4217 (from memory). Others have two.
_PLACES = {"JPY": 0, "KRW": 0, "CLP": 0, "ISK": 0, "VND": 0, "KWD": 3, "BHD": 3, "TND": 3}
_LARGEST_MINOR = 10**12


class Rounding(StrEnum):
    """How an amount between two coins is rounded."""

    HALF_UP = "half_up"  # a half goes away from zero, as most tax offices have it
    HALF_EVEN = "half_even"  # a half goes to the even coin
    DOWN = "down"  # towards zero, in the customer's favour


class RoundingPlace(StrEnum):
    """Where tax is rounded: on every line, or once on the sum of the lines."""

    LINE = "line"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class Money:
    """A whole number of the currency's smallest coin."""

    currency: str
    minor: int

    @property
    def amount(self) -> Decimal:
        """The amount in the currency's unit, exactly: Decimal("12.50")."""
        return Decimal(self.minor).scaleb(-_places(self.currency))

    def __str__(self) -> str:
        return f"{self.amount:f} {self.currency}"

    def __add__(self, other: Money) -> Money:
        return Money(self.currency, self.minor + _same(self, other).minor)

    def __sub__(self, other: Money) -> Money:
        return Money(self.currency, self.minor - _same(self, other).minor)


def money(amount: str | int | Decimal, currency: str, *, argument: str = "amount") -> Money:
    """Give an amount as money. Exact: an amount finer than the smallest coin is refused, not rounded.

    Understands "120", "120.50", "120,50"; a comma before three digits can mean two things and is refused.
    Raises: InputMissing; NotUnderstood for no number or no currency code; OutOfRange beyond 10^12 coins.
    """
    code = currency.strip().upper()
    if len(code) != 3 or not code.isascii() or not code.isalpha():
        raise NotUnderstood(
            "currency", f"{currency[:10]!r} is no currency code like USD", typed=currency[:10], reason="currency"
        )
    exact = _decimal(amount, argument).scaleb(_places(code))
    if exact != exact.to_integral_value():
        raise NotUnderstood(
            argument, f"{amount} is finer than the smallest coin of {code}", typed=str(amount), reason="too_fine"
        )
    return _bounded(Money(code, int(exact)), argument)


# -----------------------------------------------------------------------------------------------------------
# Lines. A discount is taken off before the one rounding of a line, in millionths: 0 none, 1,000,000 all of it.


class LineKind(StrEnum):
    """Labour is shown apart from parts on every bill (16 CCR 3356)."""

    LABOUR = "labour"
    PART = "part"
    SUBLET = "sublet"  # work sent out; has to be disclosed
    FEE = "fee"


class Basis(StrEnum):
    """What the time of a labour line is: a flat rate agreed beforehand, or the clock. The estimate says which."""

    FLAT = "flat"
    CLOCK = "clock"


class PartCondition(StrEnum):
    """A part counts as new unless it is marked otherwise (16 CCR 3353(a))."""

    NEW = "new"
    USED = "used"
    REBUILT = "rebuilt"
    RECONDITIONED = "reconditioned"


@dataclass(frozen=True, slots=True)
class LabourLine:
    text: str
    time: Quantity
    rate_per_hour: Money
    basis: Basis = Basis.FLAT
    discount_ppm: int = 0

    kind = LineKind.LABOUR


@dataclass(frozen=True, slots=True)
class PartLine:
    text: str
    count: Decimal
    unit_price: Money
    condition: PartCondition = PartCondition.NEW
    discount_ppm: int = 0

    kind = LineKind.PART


@dataclass(frozen=True, slots=True)
class OtherLine:
    """Work sent out, or a fee, at its price."""

    text: str
    price: Money
    kind: LineKind = LineKind.FEE
    discount_ppm: int = 0


Line = LabourLine | PartLine | OtherLine


@dataclass(frozen=True, slots=True)
class Tax:
    """A tax: name, rate as a ratio, and what it falls on. The shop gives it; none is built in."""

    name: str
    rate: Quantity
    falls_on: frozenset[LineKind]


@dataclass(frozen=True, slots=True)
class TaxAmount:
    name: str
    base: Money
    amount: Money


@dataclass(frozen=True, slots=True)
class Priced:
    """lines: the price of each line in order. The rest adds up to `total` to the last coin."""

    lines: tuple[Money, ...]
    labour: Money
    parts: Money
    other: Money
    subtotal: Money
    taxes: tuple[TaxAmount, ...]
    total: Money


def price(
    lines: Sequence[Line],
    taxes: Sequence[Tax] = (),
    *,
    rounding: Rounding = Rounding.HALF_UP,
    tax_rounded_on: RoundingPlace = RoundingPlace.TOTAL,
) -> Priced:
    """Give what lines and taxes come to. Each line is rounded once; tax by the named rule at the named place.

    Shapes: at least one line; all of one currency.
    Raises: InputMissing without lines; OutOfRange for negative time, count or rate, or mixed currencies.
    """
    if not lines:
        raise InputMissing("lines", "needs at least one line")
    currency = _price_exact(lines[0])[0]
    each = tuple(Money(currency, _round(_exact_in(line, currency), rounding)) for line in lines)
    by_kind = {
        kind: sum(m.minor for line, m in zip(lines, each, strict=True) if line.kind is kind) for kind in LineKind
    }
    subtotal = Money(currency, sum(by_kind.values()))
    taxed = tuple(_tax(tax, lines, each, currency, rounding, tax_rounded_on) for tax in taxes)
    total = Money(currency, subtotal.minor + sum(tax.amount.minor for tax in taxed))
    return Priced(
        lines=each,
        labour=Money(currency, by_kind[LineKind.LABOUR]),
        parts=Money(currency, by_kind[LineKind.PART]),
        other=Money(currency, by_kind[LineKind.SUBLET] + by_kind[LineKind.FEE]),
        subtotal=subtotal,
        taxes=taxed,
        total=_bounded(total, "total"),
    )


def labour_cost(time: Quantity, rate_per_hour: Money, rounding: Rounding = Rounding.HALF_UP) -> Money:
    """Give what a time costs at a rate per hour."""
    return price([LabourLine("", time, rate_per_hour)], rounding=rounding).total


def billed_time(clock: Quantity, step: Quantity) -> Quantity:
    """Give the time on the clock, rounded up to whole steps (a tenth of an hour is common practice, no source).

    Raises: WrongDimension; OutOfRange for a negative time or a step that is none.
    """
    need(clock, Dimension.DURATION, "clock", at_least_zero=True)
    need(step, Dimension.DURATION, "step", positive=True)
    return Quantity(Dimension.DURATION, -(-clock.value // step.value) * step.value, step.unit)


def _tax(
    tax: Tax,
    lines: Sequence[Line],
    each: Sequence[Money],
    currency: str,
    rounding: Rounding,
    place: RoundingPlace,
) -> TaxAmount:
    need(tax.rate, Dimension.RATIO, "rate", at_least_zero=True)
    rate = Fraction(tax.rate.value, 1_000_000)
    bases = [m.minor for line, m in zip(lines, each, strict=True) if line.kind in tax.falls_on]
    if place is RoundingPlace.LINE:
        amount = sum(_round(base * rate, rounding) for base in bases)
    else:
        amount = _round(sum(bases) * rate, rounding)
    return TaxAmount(tax.name, Money(currency, sum(bases)), Money(currency, amount))


# -----------------------------------------------------------------------------------------------------------
# What was authorised


@dataclass(frozen=True, slots=True)
class Limit:
    """How far a bill may pass the authorised amount in one jurisdiction before the customer is asked again.

    The bill may pass it by the greater of a share and an amount, and never by more than the cap.
    """

    jurisdiction: str
    name: str
    currency: str
    excess_share: Quantity
    excess_minor: int
    cap_minor: int | None
    is_before_tax: bool
    keep_records_years: int | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Authorisation:
    """Whether a total may be charged. over: what lies above the authorised amount; over_limit: above the limit."""

    may_charge: bool
    highest: Money
    over: Money
    over_limit: Money


@lru_cache(maxsize=1)
def limits() -> tuple[Limit, ...]:
    """Give the known limits, from `shared/rules/repair_law.json`."""
    data = json.loads(LAW_PATH.read_text("utf-8"))
    return tuple(
        Limit(
            jurisdiction=row["jurisdiction"],
            name=row["name"],
            currency=row["currency"],
            excess_share=Quantity(Dimension.RATIO, row["excess_share_ppm"]),
            excess_minor=row["excess_minor"],
            cap_minor=row["cap_minor"],
            is_before_tax=row["before_tax"],
            keep_records_years=row["keep_records_years"],
            source=row["source"],
            status=row["status"],
        )
        for row in data["limits"]
    )


def limit_of(jurisdiction: str) -> Limit:
    """Give the limit of a jurisdiction ("US-FL"); "" gives the house rule, under which nothing may be passed.

    Raises: NotUnderstood for a jurisdiction without a row: its law has to be entered, not guessed.
    """
    for limit in limits():
        if limit.jurisdiction == jurisdiction:
            return limit
    raise NotUnderstood(
        "jurisdiction",
        f"no rule is held for {jurisdiction[:20]!r}",
        typed=jurisdiction[:20],
        known=", ".join(limit.jurisdiction for limit in limits() if limit.jurisdiction),
    )


def highest_charge(authorised: Money, limit: Limit) -> Money:
    """Give the highest amount that may be charged without asking again. Rounded down to the coin.

    Raises: OutOfRange for a negative amount or a limit in another currency.
    """
    if authorised.minor < 0:
        raise OutOfRange("authorised", f"cannot be negative, got {authorised}")
    if limit.currency and limit.currency != authorised.currency:
        raise OutOfRange("authorised", f"is in {authorised.currency}, the rule in {limit.currency}")
    share = authorised.minor * limit.excess_share.value // 1_000_000
    excess = max(share, limit.excess_minor)
    if limit.cap_minor is not None:
        excess = min(excess, limit.cap_minor)
    return Money(authorised.currency, authorised.minor + excess)


def may_charge(total: Money, authorised: Money, limit: Limit) -> Authorisation:
    """Say whether a total may be charged on what was authorised, or the customer has to be asked again.

    total: before tax where the limit says so (`is_before_tax`); the caller hands in the matching figure.
    """
    highest = highest_charge(authorised, limit)
    over = (total - authorised).minor
    beyond = (total - highest).minor
    return Authorisation(
        may_charge=beyond <= 0,
        highest=highest,
        over=Money(total.currency, max(0, over)),
        over_limit=Money(total.currency, max(0, beyond)),
    )


def keep_records_years(jurisdictions: Sequence[str]) -> int:
    """Give the longest time records have to be kept among jurisdictions; the house rule's where none says."""
    known = [limit_of(jurisdiction).keep_records_years for jurisdiction in jurisdictions]
    return max([years for years in known if years is not None] or [limit_of("").keep_records_years or 0])


# -----------------------------------------------------------------------------------------------------------
# Inside


def _places(currency: str) -> int:
    return _PLACES.get(currency, 2)


def _same(one: Money, other: Money) -> Money:
    if one.currency != other.currency:
        raise OutOfRange("currency", f"{one.currency} and {other.currency} cannot be added up")
    return other


def _bounded(amount: Money, argument: str) -> Money:
    if abs(amount.minor) > _LARGEST_MINOR:
        raise OutOfRange(argument, "is beyond what can be held")
    return amount


def _decimal(amount: str | int | Decimal, argument: str) -> Decimal:
    text = str(amount).strip()
    if not text:
        raise InputMissing(argument, "needs an amount")
    whole, comma, cents = text.partition(",")
    if comma and len(cents) == 3 and cents.isdigit() and whole.lstrip("+-").isdigit() and whole.lstrip("+-0"):
        raise NotUnderstood(argument, f"{text!r} can be read in two ways", typed=text, reason="thousands_ambiguous")
    try:
        value = Decimal(text.replace(",", ".")) if len(text) <= 20 else Decimal("nan")
    except InvalidOperation:
        value = Decimal("nan")
    if (
        not value.is_finite()
        or not text.isascii()
        or not text.lstrip("+-").replace(",", ".").replace(".", "").isdigit()
    ):
        raise NotUnderstood(argument, f"{text[:20]!r} is no amount", typed=text[:20], reason="no_number")
    return value


def _exact_in(line: Line, currency: str) -> Fraction:
    found, exact = _price_exact(line)
    if not 0 <= line.discount_ppm <= 1_000_000:
        raise OutOfRange("discount_ppm", f"is from nothing to all of it, got {line.discount_ppm} millionths")
    exact = exact * (1_000_000 - line.discount_ppm) / 1_000_000
    if found != currency:
        raise OutOfRange("lines", f"{found} and {currency} cannot be added up")
    return exact


def _price_exact(line: Line) -> tuple[str, Fraction]:
    """The price of a line in smallest coins, exactly."""
    if isinstance(line, LabourLine):
        need(line.time, Dimension.DURATION, "time", at_least_zero=True)
        if line.rate_per_hour.minor < 0:
            raise OutOfRange("rate_per_hour", f"cannot be negative, got {line.rate_per_hour}")
        return line.rate_per_hour.currency, Fraction(line.time.value * line.rate_per_hour.minor, 3_600_000)
    if isinstance(line, PartLine):
        if not line.count.is_finite() or line.count < 0:
            raise OutOfRange("count", f"cannot be {line.count}")
        return line.unit_price.currency, Fraction(line.count) * line.unit_price.minor
    return line.price.currency, Fraction(line.price.minor)


def _round(exact: Fraction, rounding: Rounding) -> int:
    if rounding is Rounding.HALF_EVEN:
        return round(exact)
    size = abs(exact)
    whole = size.numerator // size.denominator
    if rounding is Rounding.HALF_UP and size - whole >= Fraction(1, 2):
        whole += 1
    return -whole if exact < 0 else whole
