"""What the workshop charges: its rate, its taxes and by whose law it asks again."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.estimate import ShopPrices, holes
from app.domain.problems import Refused
from app.language.speech import _
from app.texts import word
from app.trade.labour import Basis, Limit, LineKind, Rounding, limits
from app.use_cases.keep_prices import FIRST, MOST_TAXES, PricesWanted, keep_prices
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.price_lines import current_prices
from app.use_cases.shop_time import date_words
from app.use_cases.written_estimate import coins, per_cent, plain
from app.web.desk.said import go, said_lines
from app.web.forms import Form, TheForm
from app.web.pages.estimate import PricesPage
from app.web.pages.form import FormShown, sent_back
from app.web.rendering import page
from app.web.security import Desk, TheOffice

router = APIRouter()
FIELDS = ("currency", "rate", "basis", "rounding", "jurisdiction", "valid_days", "registration")
TAX_FIELDS = ("name", "from", "until", "rate")
SPARE_ROWS = 2


@router.get("/desk/prices")
def show(request: Request, office: TheOffice, visitor: Desk) -> Response:
    with office.store.reading() as unit:
        prices = current_prices(unit)
    values, ticked = _values(prices)
    shown = _page(office, FormShown(values), ticked, said_lines(request.query_params))
    return page(request, "desk/prices.html", shown, visitor)


@router.post("/desk/prices")
def keep(request: Request, office: TheOffice, visitor: Desk, form: TheForm) -> Response:
    falls_on = {place: form.texts(f"tax.{place}.falls_on") for place in range(MOST_TAXES)}
    try:
        _, renewed = keep_prices(office, visitor.person_id, PricesWanted(form.kept(), falls_on), form.text("form_id"))
    except Refused as refused:
        shown = _page(office, sent_back(form, refused.problems), _ticked(form), [])
        return page(request, "desk/prices.html", shown, visitor, status=422)
    return go("/desk/prices", "kept", renewed)


def _ticked(form: Form) -> frozenset[str]:
    return frozenset(f"{place}.{kind}" for place in range(MOST_TAXES) for kind in form.texts(f"tax.{place}.falls_on"))


def _values(prices: ShopPrices | None) -> tuple[dict[str, str], frozenset[str]]:
    if prices is None:
        return dict(FIRST), frozenset({"0.part"})
    values = {
        "currency": prices.currency,
        "rate": plain(prices.rate_minor, prices.currency),
        "basis": prices.basis.value,
        "rounding": prices.rounding.value,
        "jurisdiction": prices.jurisdiction,
        "valid_days": str(prices.valid_days),
        "registration": prices.registration,
    }
    for place, row in enumerate(prices.taxes):
        values |= {
            f"tax.{place}.name": row.name,
            f"tax.{place}.from": row.from_on.isoformat(),
            f"tax.{place}.until": row.until_on.isoformat() if row.until_on else "",
            f"tax.{place}.rate": per_cent(row.rate_ppm).removesuffix(" %"),
        }
    return values, frozenset(f"{place}.{kind}" for place, row in enumerate(prices.taxes) for kind in row.falls_on)


def _page(office: Office, form: FormShown, ticked: frozenset[str], said: list[str]) -> PricesPage:
    with office.store.reading() as unit:
        editions, zone = list(unit.prices.all()), zone_of(the_shop(unit))
        names = {one.id: one.name for one in unit.people.all()}
    last = max(
        (place for place in range(MOST_TAXES) if any(form.value(f"tax.{place}.{one}") for one in TAX_FIELDS)),
        default=-1,
    )
    rows = min(MOST_TAXES, last + 1 + SPARE_ROWS)
    return PricesPage(
        form=form,
        taxes=list(range(rows)),
        ticked=ticked,
        kinds=[(kind.value, word(f"line_kind.{kind.value}")) for kind in LineKind],
        bases=[(one.value, word(f"time_basis.{one.value}")) for one in Basis],
        roundings=[(one.value, word(f"rounding.{one.value}")) for one in Rounding],
        laws=[(one.jurisdiction, one.name if one.jurisdiction else _("None: always ask")) for one in _laws()],
        law_notes=[_law_words(one) for one in _laws()],
        holes=[
            _("{name} has no rate from {date_words}", name=one.name, date_words=date_words(one.from_on))
            + (_(" to {date_words}.", date_words=date_words(one.until_on)) if one.until_on else " on.")
            for one in holes(editions[-1].taxes if editions else ())
        ],
        editions=[
            _(
                "Edition {edition}: {coins} an hour, kept by {get}, {date_words}",
                edition=one.edition,
                coins=coins(one.rate_minor, one.currency),
                get=names.get(one.kept_by, ""),
                date_words=date_words(one.kept_at.astimezone(zone).date()),
            )
            for one in reversed(editions)
        ],
        form_id=form.value("form_id") or office.new_id(),
        said=said,
    )


def _laws() -> list[Limit]:
    return sorted(limits(), key=lambda one: one.jurisdiction)


def _law_words(law: Limit) -> str:
    if not law.excess_share.value and not law.excess_minor:
        rule = _("every rise is asked for")
    else:
        least = (
            _(" or {coins}, whichever is more", coins=coins(law.excess_minor, law.currency)) if law.excess_minor else ""
        )
        most = _(", at most {coins}", coins=coins(law.cap_minor, law.currency)) if law.cap_minor is not None else ""
        tax = _(", before tax") if law.is_before_tax else ""
        rule = _(
            "up to {per_cent}{least}{most}{tax} may be passed without asking",
            per_cent=per_cent(law.excess_share.value),
            least=least,
            most=most,
            tax=tax,
        )
    return _(
        "{name}: {rule}. Source: {source} ({status}).", name=law.name, rule=rule, source=law.source, status=law.status
    )
