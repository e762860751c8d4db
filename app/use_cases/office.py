"""What every use case is handed: the store, the rules, the clock and the other parts, wired once in `bootstrap`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from app.domain.procedure import Book
from app.domain.records import Shop
from app.domain.rules import Rules
from app.ports import Clock, Letter, NewId, Papers, Photos, PinHasher, Printer, Store, Unit

SHOP_ID = "shop"


@dataclass(frozen=True, slots=True)
class Office:
    """`announce` tells open pages that something changed: "floor", "sheet:<job>", "post".

    word: gives a short word by "group.key".
    """

    store: Store
    rules: Rules
    book: Book
    clock: Clock
    new_id: NewId
    pins: PinHasher
    papers: Papers
    photos: Photos
    announce: Callable[[str], None]
    write_letter: Callable[[object], Letter]
    message_domain: str
    printer: Printer
    word: Callable[[str], str]

    @property
    def now_ms(self) -> int:
        return int(self.clock().timestamp() * 1_000)


def the_shop(unit: Unit) -> Shop:
    """The workshop's own row; before anyone has filled it in, one that says so."""
    return unit.shops.get(SHOP_ID) or Shop(id=SHOP_ID, name="Workshop", address="", email="", phone="")


def zone_of(shop: Shop) -> ZoneInfo:
    try:
        return ZoneInfo(shop.timezone)
    except (KeyError, ValueError, OSError):
        return ZoneInfo("UTC")
