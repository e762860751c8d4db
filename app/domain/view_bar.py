"""The window bar: the allowed band, the target, the reading as a tick. Whole numbers only; places in thousandths.

The band lies between a fifth and four fifths of the bar, so that a reading beyond it has room to leave it on the side
it is wrong on; one further out still stands at the end, with an arrow. Words say the same as the picture.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

from app.domain.view_parts import View, amount
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import amount_in, quantity_of, show

LOW_AT, HIGH_AT = 200, 800
FIRST, LAST = 40, 960


def bar_view(
    dimension: str,
    unit: str,
    low: int | None,
    high: int | None,
    *,
    target: int | None = None,
    reading: int | None = None,
    reading_text: str = "",
) -> View:
    """The bar of one value. Without any limit there is none to show."""
    shown = low is not None or high is not None
    left = LOW_AT if low is not None else 0
    right = HIGH_AT if high is not None else 1000
    at = _place(reading, low, high) if shown and reading is not None else 0
    side = _side(reading, low, high)
    return {
        "shown": shown,
        "low_shown": low is not None,
        "high_shown": high is not None,
        "low_at": percent(left),
        "high_at": percent(right),
        "band_wide": percent(right - left),
        "low": limit_text(dimension, low, unit, up=True) if low is not None else "",
        "high": limit_text(dimension, high, unit, up=False) if high is not None else "",
        "target_shown": target is not None,
        "target": limit_text(dimension, target, unit, up=True) if target is not None else "",
        "target_at": percent(_place(target, low, high)) if shown and target is not None else "",
        "read": shown and reading is not None,
        "reading": reading_text or (limit_text(dimension, reading, unit, up=True) if reading is not None else ""),
        "reading_at": percent(min(LAST, max(FIRST, at))),
        "reading_anchor": "end" if at > HIGH_AT else ("start" if at < LOW_AT else "middle"),
        "far": at < FIRST or at > LAST,
        "side": side,
        "apart": _apart(dimension, unit, reading, low, high, side),
    }


def limit_text(dimension: str, value: int, unit: str, *, up: bool, most: int = 3) -> str:
    """A limit as text: exact where `most` decimals can say it, else rounded into the window, never out of it."""
    kind = Dimension(dimension)
    try:
        exact = amount_in(value, kind, unit)
    except TradeProblem:
        return amount(dimension, value, unit)
    places = next((one for one in range(most + 1) if (exact * 10**one).denominator == 1), None)
    if places is not None:
        return show(Quantity(kind, value), unit, places)
    tenths = ceil(exact * 10) if up else floor(exact * 10)
    return show(quantity_of(Fraction(tenths, 10), kind, unit), unit, 1 if tenths % 10 else 0)


def percent(thousandths: int) -> str:
    """A place along the bar as text: 437 is "43.7%"."""
    return f"{thousandths // 10}.{thousandths % 10}%"


def _place(value: int | None, low: int | None, high: int | None) -> int:
    """Where a value lies, in thousandths of the bar; beyond its ends for one far out."""
    if value is None:
        return 0
    if low is not None and high is not None:
        if high == low:
            return 500 if value == low else (0 if value < low else 1000)
        return LOW_AT + (value - low) * (HIGH_AT - LOW_AT) // (high - low)
    if low is not None:
        return LOW_AT + (value - low) * (HIGH_AT - LOW_AT) // max(abs(low), 1)
    edge = high or 0
    return HIGH_AT + (value - edge) * (HIGH_AT - LOW_AT) // max(abs(edge), 1)


def _side(value: int | None, low: int | None, high: int | None) -> str:
    if value is None or (low is None and high is None):
        return ""
    if low is not None and value < low:
        return "low"
    if high is not None and value > high:
        return "high"
    return "within"


def _apart(dimension: str, unit: str, value: int | None, low: int | None, high: int | None, side: str) -> str:
    if side == "low" and value is not None and low is not None:
        return limit_text(dimension, low - value, unit, up=True)
    if side == "high" and value is not None and high is not None:
        return limit_text(dimension, value - high, unit, up=True)
    return ""
