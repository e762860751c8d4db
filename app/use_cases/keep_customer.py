"""Take in customers and change what is known of them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.domain.address import Address, read_address
from app.domain.canonical import digest
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import Customer
from app.ports import Unit
from app.use_cases.office import Office

NAME_LIMIT = 120
PHONE_LIMIT = 40
# Names of languages in themselves, by ISO 639 code. Letters are written in those of `app.language`, else in English;
# this is whom to greet how.
LANGUAGES = {
    "en": "English", "ar": "العربية", "cs": "Čeština", "de": "Deutsch", "el": "Ελληνικά", "es": "Español",
    "fi": "Suomi", "fr": "Français", "hi": "हिन्दी", "hu": "Magyar", "it": "Italiano", "ja": "日本語", "ko": "한국어",
    "nl": "Nederlands", "pl": "Polski", "pt": "Português", "ro": "Română", "ru": "Русский", "sv": "Svenska",
    "tr": "Türkçe", "uk": "Українська", "vi": "Tiếng Việt", "zh": "中文",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CustomerWanted:
    """What was filled in, as typed. An empty e-mail address is allowed: then no letter can be sent."""

    name: str
    email: str = ""
    phone: str = ""
    language: str = "en"


def add_customer(office: Office, wanted: CustomerWanted) -> Customer:
    """Raises: Refused with every problem found."""
    with office.store.writing() as unit:
        made, problems = read_customer(unit, office.new_id(), wanted)
        if problems:
            raise Refused(problems)
        unit.customers.add(made)
        unit.commit()
    return made


def change_customer(office: Office, customer_id: str, wanted: CustomerWanted, seen: str = "") -> Customer:
    """seen: `seen_of` the record the form was made from; "" takes whatever is there now.

    Raises: Refused with every problem found; NotFound.
    """
    with office.store.writing() as unit:
        before = unit.customers.get(customer_id)
        if before is None:
            raise NotFound("customer", customer_id)
        made, problems = read_customer(unit, customer_id, wanted)
        if seen and seen != seen_of(before) and made != before:
            problems.append(Problem("changed_meanwhile"))
        if problems:
            raise Refused(problems)
        unit.customers.save(made)
        unit.commit()
    return made


def read_customer(
    unit: Unit, customer_id: str, wanted: CustomerWanted, prefix: str = ""
) -> tuple[Customer, list[Problem]]:
    """The record, and everything wrong with it. prefix: what its fields are called by on this form."""
    problems = list(_text_problems(wanted, prefix))
    email = wanted.email.strip()
    if email:
        address = read_address(email, f"{prefix}email")
        if isinstance(address, Address):
            email = address.text
        else:
            problems.append(address)
    name = " ".join(wanted.name.split())
    made = Customer(customer_id, name, email, wanted.phone.strip(), wanted.language)
    if not problems and any(
        replace(one, id=customer_id) == made and one.id != customer_id for one in _same(unit, name)
    ):
        problems.append(Problem("customer_twice", f"{prefix}name", {"name": name}))
    return made, problems


def _text_problems(wanted: CustomerWanted, prefix: str) -> Iterable[Problem]:
    if not any(unicodedata.category(one)[0] in "LNSP" or unicodedata.category(one) == "Co" for one in wanted.name):
        yield Problem("customer_name_missing", f"{prefix}name")
    for field, text, limit in (("name", wanted.name, NAME_LIMIT), ("phone", wanted.phone, PHONE_LIMIT)):
        if len(text.strip()) > limit:
            yield Problem("too_long", f"{prefix}{field}", {"limit": limit})
    if wanted.phone.strip() and not any(one.isdigit() for one in wanted.phone):
        yield Problem("phone_unclear", f"{prefix}phone")
    if wanted.language not in LANGUAGES:
        yield Problem("choose_one", f"{prefix}language")


def _same(unit: Unit, name: str) -> Iterable[Customer]:
    return unit.customers.where(name=name)


def seen_of(customer: Customer) -> str:
    """A mark of what a form showed, to notice that someone else has changed it since."""
    return digest([customer.name, customer.email, customer.phone, customer.language])
