"""What the workshop charges: its rate, its taxes with the days they hold from, and by whose law it asks again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.domain.estimate import ShopPrices, TaxRow, tax_problems
from app.trade.labour import Basis, LineKind, Rounding, limit_of, limits, money
from app.trade.problems import TradeProblem
from app.use_cases.office import Office
from app.use_cases.price_lines import current_prices
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_fields import Reader
from app.use_cases.typed_money import money_typed, share_typed

MOST_TAXES = 40
VALID_DAYS = (1, 365)
# What a fresh form says.
FIRST = {"currency": "USD", "basis": Basis.FLAT.value, "rounding": Rounding.HALF_UP.value, "valid_days": "30"}


@dataclass(frozen=True, slots=True)
class PricesWanted:
    """What was typed: `fields` by name, the taxes' as `tax.N.name`, `.from`, `.until`, `.rate`; `falls_on` by N."""

    fields: Mapping[str, str]
    falls_on: Mapping[int, tuple[str, ...]]

    def text(self, name: str) -> str:
        return self.fields.get(name, "")


def keep_prices(office: Office, person: str, wanted: PricesWanted, form_id: str = "") -> tuple[ShopPrices, Renewed]:
    """Keep a new edition, and bring open sheets up to date. A form sent twice keeps one. Raises: Refused."""
    read = Reader()
    currency = _currency(read, wanted.text("currency"))
    taxes = _taxes(read, wanted)
    rate = money_typed(read, wanted.text("rate"), "rate", currency, missing="rate_missing")
    jurisdiction = _jurisdiction(read, wanted.text("jurisdiction"), currency)
    basis = _one_of(read, wanted.text("basis"), "basis", [one.value for one in Basis])
    rounding = _one_of(read, wanted.text("rounding"), "rounding", [one.value for one in Rounding])
    valid_days = read.whole(wanted.text("valid_days"), "valid_days", *VALID_DAYS)
    registration = read.words(wanted.text("registration"), "registration", limit=80)
    read.problems += tax_problems(taxes)
    with office.store.writing() as unit:
        before = unit.prices.get(form_id) if form_id else None
        if before is not None:
            return before, Renewed()
        read.done()
        newest = current_prices(unit)
        prices = ShopPrices(
            id=form_id or office.new_id(),
            edition=newest.edition + 1 if newest is not None else 1,
            currency=currency,
            rate_minor=rate,
            basis=Basis(basis),
            rounding=Rounding(rounding),
            jurisdiction=jurisdiction,
            valid_days=valid_days,
            registration=registration,
            taxes=taxes,
            kept_by=person,
            kept_at=office.clock(),
        )
        unit.prices.add(prices)
        unit.commit()
    return prices, renew_sheets(office, person)


def _currency(read: Reader, text: str) -> str:
    try:
        return money(0, text).currency
    except TradeProblem:
        read.wrong("currency_unclear", "currency", typed=text.strip()[:20])
        return "USD"


def _jurisdiction(read: Reader, text: str, currency: str) -> str:
    key = text.strip()
    if key not in {limit.jurisdiction for limit in limits()}:
        read.wrong("choose_one", "jurisdiction")
        return ""
    limit = limit_of(key)
    if limit.currency and limit.currency != currency:
        read.wrong("law_currency", "jurisdiction", law=limit.name, wanted=limit.currency, typed=currency)
    return key


def _one_of(read: Reader, text: str, name: str, known: list[str]) -> str:
    if text not in known:
        read.wrong("choose_one", name)
        return known[0]
    return text


def _taxes(read: Reader, wanted: PricesWanted) -> tuple[TaxRow, ...]:
    """Every row with anything typed in it. Rows keep their place, so that a problem stands beside its field."""
    rows = []
    for place in range(MOST_TAXES):
        field = {name: wanted.text(f"tax.{place}.{name}") for name in ("name", "from", "until", "rate")}
        if not any(text.strip() for text in field.values()):
            continue
        name = read.words(field["name"], f"tax.{place}.name", missing="tax_name_missing", limit=60)
        from_on = read.day(field["from"], f"tax.{place}.from")
        until = read.day(field["until"], f"tax.{place}.until")
        if not field["from"].strip():
            read.wrong("tax_from_missing", f"tax.{place}.from", tax=name)
        if not field["rate"].strip():
            read.wrong("tax_rate_unclear", f"tax.{place}.rate", typed="")
        rate = share_typed(read, field["rate"], f"tax.{place}.rate", code="tax_rate_unclear")
        falls = tuple(kind for kind in LineKind if kind.value in wanted.falls_on.get(place, ()))
        if not falls:
            read.wrong("tax_falls_missing", f"tax.{place}.falls_on", tax=name)
        if from_on is not None:
            rows.append(TaxRow(name, from_on, until, rate, falls))
    return tuple(rows)
