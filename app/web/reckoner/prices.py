"""Sums about money: what a job comes to, and how far a bill may pass what the customer agreed to."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from app.language.speech import _
from app.trade import labour
from app.trade.problems import InputMissing, NotUnderstood
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show
from app.web.reckoner.sums import Example, Given, Line, Pick, Result, Rows, Sign, Sum, Word, amount
from app.web.reckoner.wording import percent, signed

_CURRENCY = Word(name="currency", label="Currency", example="USD", longest=8)
_ROUNDING = (
    ("half_up", "a half away from zero"),
    ("half_even", "a half to the even coin"),
    ("down", "down, in the customer's favour"),
)


def _price(given: Given) -> Result:
    currency = given.text("currency")
    lines: list[labour.Line] = []
    if (time := given.maybe("time")) is not None:
        if not given.has("rate"):
            raise InputMissing("rate", "needs the price of an hour", reason="hour")
        step = given.maybe("step")
        billed = labour.billed_time(time, step) if step is not None else time
        lines.append(labour.LabourLine("", billed, labour.money(given.text("rate"), currency, argument="rate")))
    else:
        billed = None
    for place, row in enumerate(given.rows("parts"), start=1):
        each = labour.money(row.text("price"), currency, argument=f"parts-{place}-price")
        lines.append(labour.PartLine(row.text("name"), _count(row.text("count"), f"parts-{place}-count"), each))
    if given.has("fee"):
        lines.append(labour.OtherLine("", labour.money(given.text("fee"), currency, argument="fee")))
    if not lines:
        raise InputMissing("lines", "needs time, parts or a fee")
    taxes = _taxes(given)
    rounding = labour.Rounding(given.text("rounding") or "half_up")
    place_of = labour.RoundingPlace(given.text("tax_rounded_on") or "total")
    found = labour.price(lines, taxes, rounding=rounding, tax_rounded_on=place_of)
    return Result(tuple(_priced(found, billed)))


def _taxes(given: Given) -> list[labour.Tax]:
    rate = given.maybe("tax")
    if rate is None:
        return []
    falls_on = {
        "all": frozenset(labour.LineKind),
        "parts": frozenset({labour.LineKind.PART}),
        "labour": frozenset({labour.LineKind.LABOUR}),
    }[given.text("tax_on") or "all"]
    return [labour.Tax(_("Tax {percent}", percent=percent(rate, 2)), rate, falls_on)]


def _priced(found: labour.Priced, billed: Quantity | None) -> list[Line]:
    time = _("{show} billed", show=show(billed, "h", 2)) if billed is not None else ""
    lines = [
        Line(_("Total"), str(found.total)),
        Line(_("Labour"), str(found.labour), time),
        Line(_("Parts"), str(found.parts)),
    ]
    if found.other.minor:
        lines.append(Line(_("Fees"), str(found.other)))
    lines.append(Line(_("Before tax"), str(found.subtotal)))
    lines += [Line(tax.name, str(tax.amount), _("on {base}", base=tax.base)) for tax in found.taxes]
    return lines


def _count(text: str, argument: str) -> Decimal:
    try:
        value = Decimal(text.replace(",", ".")) if len(text) <= 12 else Decimal("nan")
    except InvalidOperation:
        value = Decimal("nan")
    if not value.is_finite() or not 0 < value <= 100_000:
        raise NotUnderstood(argument, "is no count", reason="part_count", what=text[:20])
    return value


PRICE = Sum(
    slug="price",
    title="Labour, parts and tax",
    asks="What does the job come to?",
    inputs=(
        _CURRENCY,
        amount("time", "Time", Dimension.DURATION, "h", "2.5 h", sign=Sign.NOT_NEGATIVE, optional=True),
        Word(name="rate", label="Price of an hour", example="120.00", optional=True, longest=20),
        amount(
            "step",
            "Rounded up to whole steps of",
            Dimension.DURATION,
            "h",
            "0.1 h",
            optional=True,
            hint="A tenth of an hour is common practice, no source.",
        ),
        Rows(
            name="parts",
            label="Parts",
            row="Part",
            at_most=5,
            columns=(
                Word(name="name", label="name", example="ball joint", optional=True),
                Word(name="count", label="how many", example="2", longest=20),
                Word(name="price", label="price of one", example="48.50", longest=20),
            ),
        ),
        Word(name="fee", label="Fees", example="5.00", optional=True, longest=20),
        amount("tax", "Tax", Dimension.RATIO, "%", "8 %", sign=Sign.NOT_NEGATIVE, optional=True),
        Pick(
            name="tax_on",
            label="The tax falls on",
            optional=True,
            assumed="all",
            options=(("all", "all"), ("parts", "parts alone"), ("labour", "labour alone")),
        ),
        Pick(name="rounding", label="Rounding", optional=True, options=_ROUNDING, assumed="a half away from zero"),
        Pick(
            name="tax_rounded_on",
            label="Tax is rounded on",
            optional=True,
            assumed="the total, once",
            options=(("total", "the total, once"), ("line", "every line")),
        ),
    ),
    reckon=_price,
    formula=("labour = time · price of an hour", "total = labour + parts + fees + tax"),
    valid="Exact to the smallest coin; each line is rounded once, tax where you say. No tax is built in: the "
    "shop gives its own.",
    sources=("ISO 4217 for the smallest coin (from memory)", "Labour apart from parts on every bill: 16 CCR 3356"),
    picture="bill",
    arguments={"lines": "time", "rate_per_hour": "rate"},
    example=Example(
        {
            "currency": "USD",
            "time": "2.5 h",
            "rate": "120.00",
            "parts-1-count": "2",
            "parts-1-price": "48.50",
            "tax": "8 %",
        },
        "428.76 USD",
        "(2.5 · 120 + 2 · 48.50) · 1.08 by hand",
    ),
)


def _authorised(given: Given) -> Result:
    where = given.text("jurisdiction")
    limit = labour.limit_of("" if where in ("", "none") else where)
    currency = given.text("currency")
    agreed = labour.money(given.text("authorised"), currency, argument="authorised")
    highest = labour.highest_charge(agreed, limit)
    lines = [Line(_("Without asking again, up to"), str(highest), _("before tax") if limit.is_before_tax else "")]
    said = [_("Rule: {name}. {source} ({status}).", name=limit.name, source=limit.source, status=limit.status)]
    if given.has("total"):
        total = labour.money(given.text("total"), currency, argument="total")
        found = labour.may_charge(total, agreed, limit)
        lines.append(
            Line(_("Over what was agreed"), signed(Quantity(Dimension.RATIO, found.over.minor), str(found.over)))
        )
        if found.may_charge:
            said.insert(0, _("This total lies within the rule held here. The current law decides."))
        else:
            said.insert(
                0, _("Ask the customer before you go on: it lies {over_limit} above.", over_limit=found.over_limit)
            )
    if limit.keep_records_years is not None:
        lines.append(
            Line(
                _("Keep the records"),
                "1 year"
                if limit.keep_records_years == 1
                else _("{keep_records_years} years", keep_records_years=limit.keep_records_years),
            )
        )
    return Result(tuple(lines), tuple(said))


AUTHORISED = Sum(
    slug="authorised-amount",
    title="What the customer agreed to",
    asks="How far may the bill pass what was agreed?",
    inputs=(
        _CURRENCY,
        Word(name="authorised", label="Amount agreed", example="300.00", longest=20),
        Word(name="total", label="Total of the bill", example="325.00", optional=True, longest=20),
        Pick(
            name="jurisdiction",
            label="Law of",
            optional=True,
            assumed="no rule: every cent above is asked for",
            options=(
                *((one.jurisdiction, one.name) for one in labour.limits() if one.jurisdiction),
                ("none", "no rule given"),
            ),
        ),
    ),
    reckon=_authorised,
    formula=("highest = agreed + the greater of share and amount, never more than the cap",),
    valid="The rules held here may be out of date. The current official text decides; the shop answers for it.",
    sources=tuple(f"{one.name}: {one.source} ({one.status})" for one in labour.limits()),
    picture="bill",
    arguments={"currency": "currency"},
    example=Example(
        {"currency": "USD", "authorised": "499.99", "jurisdiction": "US-FL"},
        "549.98 USD",
        "Fla. Stat. 559.909(1)(b), by hand",
    ),
)

SUMS = (PRICE, AUTHORISED)
