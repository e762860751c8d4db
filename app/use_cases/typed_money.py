"""Money, shares, counts and hours as typed, in whole small units; with a comma or a point for decimals."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from app.trade.labour import money
from app.trade.problems import OutOfRange, TradeProblem
from app.use_cases.typed_fields import Reader

# House rules: what lies beyond is a slip of the finger.
MOST_MINOR = 100_000_000
MOST_SECONDS = 1_000 * 3_600
MOST_COUNT_MILLI = 10_000_000


def money_typed(read: Reader, text: str, name: str, currency: str, *, missing: str = "price_missing") -> int:
    """An amount from nothing upwards, in smallest coins; 0 after a problem, or where nothing is typed and may be."""
    if not text.strip():
        if missing:
            read.wrong(missing, name)
        return 0
    try:
        found = money(text, currency, argument=name).minor
    except OutOfRange:
        read.wrong("price_bounds", name, typed=text.strip()[:40])
        return 0
    except TradeProblem as problem:
        read.wrong("price_unclear", name, typed=text.strip()[:40], why=str(problem.details.get("reason", "")))
        return 0
    if not 0 <= found <= MOST_MINOR:
        read.wrong("price_bounds", name, typed=text.strip()[:40])
        return 0
    return found


def share_typed(read: Reader, text: str, name: str, *, code: str, most: int = 100) -> int:
    """A share in per cent, up to four decimals, as millionths; 0 where nothing is typed."""
    found = _number(text.replace("%", ""), 4)
    if not text.strip():
        return 0
    if found is None or not 0 <= found <= most:
        read.wrong(code, name, typed=text.strip()[:40])
        return 0
    return int(found.scaleb(4))


def count_typed(read: Reader, text: str, name: str) -> int:
    """How many, up to three decimals, in thousandths; one where nothing is typed."""
    if not text.strip():
        return 1_000
    found = _number(text, 3)
    if found is None or not 0 < found.scaleb(3) <= MOST_COUNT_MILLI:
        read.wrong("count_unclear", name, typed=text.strip()[:40])
        return 0
    return int(found.scaleb(3))


def hours_typed(read: Reader, text: str, name: str) -> int:
    """Hours as "1.5", "1,5" or "1:30", in whole seconds."""
    typed = text.strip()
    hours, colon, minutes = typed.partition(":")
    found: Decimal | None
    if colon:
        good = hours.isascii() and hours.isdigit() and minutes.isascii() and minutes.isdigit() and len(minutes) == 2
        found = Decimal(int(hours) * 3_600 + int(minutes) * 60) if good and int(minutes) < 60 else None
    else:
        number = _number(typed, 4)
        found = None if number is None else number * 3_600
    if found is None or found != found.to_integral_value() or not 0 <= found <= MOST_SECONDS:
        read.wrong("hours_unclear", name, typed=typed[:40])
        return 0
    return int(found)


def _number(text: str, places: int) -> Decimal | None:
    """A plain decimal number with at most so many places; a sign, an exponent or a second mark is none."""
    typed = text.strip().replace(",", ".")
    if not typed.isascii() or not typed.replace(".", "", 1).isdigit() or len(typed) > 20:
        return None
    try:
        found = Decimal(typed)
    except InvalidOperation:
        return None
    return found if found.scaleb(places) == found.scaleb(places).to_integral_value() else None
