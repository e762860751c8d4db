"""The workshop's own name and address, its time zone and unit, and the choices its gates and letters follow."""

from __future__ import annotations

import zoneinfo
from dataclasses import dataclass

from app.domain.address import Address, read_address
from app.domain.records import Shop
from app.language.catalogue import ENGLISH, LANGUAGES
from app.use_cases.keep_tool import torque_unit
from app.use_cases.office import SHOP_ID, Office
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_fields import Reader

# House rules: what the shop may choose.
GATE_MINUTES = (5, 240)
MARGIN_PERCENT = (0, 300)
RETORQUE_KM = (10, 1_000)
RETORQUE_DAYS = (1, 90)
WATCH_MONTHS = (1, 36)
WATCH_KM = (500, 100_000)
COMEBACK_DAYS = (0, 730)


@dataclass(frozen=True, slots=True)
class ShopWanted:
    """What was typed."""

    name: str
    address: str
    email: str
    phone: str
    timezone: str
    torque_unit: str
    gate_minutes: str
    stand_margin_percent: str
    compressor_margin_percent: str
    retorque_km: str
    retorque_days: str
    watch_months: str
    watch_km: str
    comeback_days: str
    language: str = ENGLISH


def keep_shop(office: Office, person: str, wanted: ShopWanted) -> tuple[Shop, Renewed]:
    """Keep the workshop's facts and bring the open sheets up to date. Raises: Refused with every problem found."""
    shop = _read(wanted)
    with office.store.writing() as unit:
        if unit.shops.get(SHOP_ID) is None:
            unit.shops.add(shop)
        else:
            unit.shops.save(shop)
        unit.commit()
    return shop, renew_sheets(office, person)


def _read(wanted: ShopWanted) -> Shop:
    read = Reader()
    email = wanted.email.strip()
    if email:
        found = read_address(email, "email")
        if isinstance(found, Address):
            email = found.text
        else:
            read.problems.append(found)
    if wanted.timezone.strip() not in zoneinfo.available_timezones():
        read.wrong("timezone_unknown", "timezone", typed=wanted.timezone.strip()[:40])
    if wanted.language not in LANGUAGES:
        read.wrong("language_unknown", "language")
    shop = Shop(
        id=SHOP_ID,
        name=read.words(wanted.name, "name", missing="shop_name_missing", limit=80),
        address=read.words(wanted.address, "address", limit=400),
        email=email,
        phone=read.words(wanted.phone, "phone", limit=40),
        timezone=wanted.timezone.strip(),
        torque_unit=torque_unit(read, wanted.torque_unit, "torque_unit"),
        gate_minutes=read.whole(wanted.gate_minutes, "gate_minutes", *GATE_MINUTES),
        stand_margin_percent=read.whole(wanted.stand_margin_percent, "stand_margin_percent", *MARGIN_PERCENT),
        compressor_margin_percent=read.whole(
            wanted.compressor_margin_percent, "compressor_margin_percent", *MARGIN_PERCENT
        ),
        retorque_km=read.whole(wanted.retorque_km, "retorque_km", *RETORQUE_KM),
        retorque_days=read.whole(wanted.retorque_days, "retorque_days", *RETORQUE_DAYS),
        watch_months=read.whole(wanted.watch_months, "watch_months", *WATCH_MONTHS),
        watch_km=read.whole(wanted.watch_km, "watch_km", *WATCH_KM),
        comeback_days=read.whole(wanted.comeback_days, "comeback_days", *COMEBACK_DAYS),
        language=wanted.language,
    )
    read.done()
    return shop
