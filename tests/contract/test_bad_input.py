"""What odd but honest input meets on the pages: names in any script from the intake to the letter, addresses of odd but
legal forms, prices of nothing, discounts beyond all, taxes with holes. Handled or refused in a sentence; nothing lost.

Large photos are in `test_photos.py`, traces of a bounce where the tablet's sensor is.
"""

from __future__ import annotations

import email
import email.policy
import re
import unicodedata
from dataclasses import replace
from email.headerregistry import Address as MailAddress
from email.message import EmailMessage
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from app.domain.address import Address, read_address
from app.mail.folder import FolderPostman
from app.ports import Sender
from app.texts import sentence
from app.web.forms import clean
from tests.builders import ADA, DEE, FAY, whole_job
from tests.estimates import FREE, JOINT, a_job, a_pricing_office, states
from tests.offices import CUSTOMER, VEHICLE, Visitor, Workshop, a_small_job, a_visitor, an_app, an_office, forms_in
from tests.unit.test_keep_vehicle import TYPED

# Invented people. Right to left with and without marks, marks that combine, letters beyond the first plane, emoji made
# of several characters, what markup and quoting are made of.
NAMES = {
    "arabic": "ليلى الحدّاد",
    "persian with a joiner": "علی\u200cرضا کوهی",
    "hebrew with points": "רָחֵל בַּר־אוֹר",
    "mixed directions": "Noor (نور) Haddad",
    "devanagari": "क्षितिज वर्मा",
    "thai": "กาญจนา ใจดี",
    "tamil": "செல்வி",
    "hangul in pieces": unicodedata.normalize("NFD", "한지우"),
    "latin in pieces": unicodedata.normalize("NFD", "Zoë Ångström-Ñandú"),
    "beyond the first plane": "𠮷田 花",
    "emoji": "Kit 👩🏽\u200d🔧 🏁 🇳🇿",
    "markup": 'O\'Hara <b>&amp; "Söhne"</b> {{ 7*7 }}',
    "one letter": "Ö",
    "turkish": "İpek Işık",
}
PLATES = {"arabic": "ط د ن ٤١", "devanagari": "क ख १२ अ", "latin": "ÄÖ 41-ß"}


def words_of(answer: Any) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def at(here: Workshop, someone: Any = DEE) -> Visitor:
    return a_visitor(an_app(here), someone)


def mailed(here: Workshop, folder: Path) -> EmailMessage:
    """The one letter in the outbox as it leaves, read back by the standard library's own reader."""
    (message,) = here.all("outbox")
    sent = FolderPostman(folder).deliver(message, Sender("Kettle Lane Axles", "desk@kettle-lane.example", ""))
    assert sent.kept, sent.answer
    (file,) = folder.glob("*.eml")
    read = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
    assert isinstance(read, EmailMessage)
    return read


def body_of(mail: EmailMessage, kind: str) -> str:
    part = mail.get_body((kind,))
    assert part is not None
    content: str = part.get_content()
    return content


# --- Names, from the intake to the letter -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_a_name_in_any_script_goes_from_the_intake_to_the_sheet(name: str) -> None:
    here = an_office()
    dee = at(here)
    typed = {key: value for key, value in TYPED.items() if key != "customer"}
    new = {"customer": "new", "customer.name": name, "model": f"Wren {name}"}
    taken = dee.sends("/desk/vehicles/new", typed | new)
    assert taken.status_code == 303, words_of(taken)
    vehicle = next(one for one in here.all("vehicles") if one.id != VEHICLE.id)
    customer = here.get("customers", vehicle.customer)
    assert (customer.name, vehicle.model) == (name, f"Wren {name}")
    here.save("vehicles", replace(vehicle, front=VEHICLE.front, rear=VEHICLE.rear))

    address = f"/desk/intake?vehicle={vehicle.id}"
    complaint = f"{name}: „es klackert“ — 嘎吱作响"
    opened = dee.fills_in(address, "/desk/intake", {"complaint": complaint, "front.inspection.sides": "yes"})

    assert opened.status_code == 303, words_of(opened)
    (job,) = here.all("jobs")
    assert job.complaint == complaint
    flat = " ".join(complaint.split())
    assert flat in words_of(at(here, ADA).get(f"/jobs/{job.number}/sheet"))
    assert flat in words_of(dee.get("/desk"))
    assert name in words_of(dee.get("/desk"))
    assert name not in dee.get("/desk").text or not set("<&\"'") & set(name), "markup is escaped"


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_a_name_in_any_script_stands_in_the_letter(name: str, tmp_path: Path) -> None:
    here = an_office()
    a_small_job(here, whole_job())
    changed = at(here).fills_in(f"/desk/customers/{CUSTOMER.id}", f"/desk/customers/{CUSTOMER.id}", {"name": name})
    assert changed.status_code == 303, words_of(changed)

    fay = at(here, FAY)
    assert f"Dear {name}" in words_of(fay.get("/jobs/1001/handback"))
    handed = fay.fills_in("/jobs/1001/handback", "/jobs/1001/handback", {"note": f"Thank you, {name}"})

    assert handed.status_code == 303, words_of(handed)
    mail = mailed(here, tmp_path)
    assert f"Dear {name}," in body_of(mail, "plain")
    assert f"Thank you, {name}" in body_of(mail, "plain")
    html = body_of(mail, "html")
    assert name in unescape(re.sub(r"<[^>]+>", "", html))
    assert "<b>&amp;" not in html


@pytest.mark.parametrize("plate", PLATES.values(), ids=PLATES.keys())
def test_a_plate_in_any_script_is_found_again_and_is_in_the_subject(plate: str, tmp_path: Path) -> None:
    here = an_office()
    dee = at(here)
    kept = dee.fills_in(f"/desk/vehicles/{VEHICLE.id}", f"/desk/vehicles/{VEHICLE.id}", {"plate": plate})
    assert kept.status_code == 303, words_of(kept)
    for typed in (plate, plate.replace(" ", ""), unicodedata.normalize("NFD", plate)):
        assert "What the customer complains of" in words_of(dee.get("/desk/intake?q=" + typed)), typed

    a_small_job(here, whole_job())
    fay = at(here, FAY)
    assert fay.fills_in("/jobs/1001/handback", "/jobs/1001/handback").status_code == 303

    assert plate in mailed(here, tmp_path)["Subject"]


def test_a_name_is_found_whichever_way_its_letters_are_put_together() -> None:
    here = an_office()
    dee = at(here)
    for form in ("NFC", "NFD"):
        name = unicodedata.normalize(form, "Zoë Ångström")
        other = unicodedata.normalize("NFD" if form == "NFC" else "NFC", "ångström")
        dee.fills_in(f"/desk/customers/{CUSTOMER.id}", f"/desk/customers/{CUSTOMER.id}", {"name": name})
        assert VEHICLE.plate in words_of(dee.get(f"/desk?q={other}")), form
        assert name in words_of(dee.get(f"/desk/customers?q={other}")), form


@pytest.mark.parametrize("name", ["", "   ", "\u200b", "\u200e\u200f", "\u202e", "\u0301"])
def test_a_name_that_nobody_could_see_is_asked_for(name: str) -> None:
    here = an_office()
    answer = at(here).sends("/desk/customers/new", {"name": name, "email": "kept@okonjo.example", "language": "en"})

    assert answer.status_code == 422
    assert "Enter the customer's name" in words_of(answer)
    assert 'value="kept@okonjo.example"' in answer.text


def test_what_turns_the_direction_of_all_that_follows_is_left_out_and_marks_of_scripts_stay() -> None:
    """An address book puts these round what is copied from it; nothing that can be seen is lost."""
    assert clean("\u202a+44 1632 960777\u202c") == "+44 1632 960777"
    assert clean("a\u202eb\u2066c\u2069") == "abc"
    for kept in NAMES.values():
        assert clean(kept) == kept
    assert clean("\u200e\u200f\u061c") == "\u200e\u200f\u061c"


def test_an_address_copied_out_of_an_address_book_is_taken() -> None:
    here = an_office()
    fields = {"name": "Ben Okonjo", "email": "\u2068ben@okonjo.example\u2069", "phone": "\u202a+44 1632 960778\u202c"}
    assert at(here).sends("/desk/customers/new", {**fields, "language": "en"}).status_code == 303

    made = here.all("customers")[-1]
    assert (made.email, made.phone) == ("ben@okonjo.example", "+44 1632 960778")


# --- Addresses --------------------------------------------------------------------------------------------------------

ODD_ADDRESSES = (
    '"mira okonjo"@post.example', '"mira@home"@post.example', '"a\\"b"@post.example', "mira+garage@post.example",
    "o'hara@post.example", "mira/axles=1@post.example", "!#$%&'*+-/=?^_`{|}~@post.example", "m@1-2.example",
    "mira@[192.0.2.17]", "mira@bücher.example", "mira@xn--bcher-kva.example", "грета@почта.example",
    "ليلى@بريد.example", "mira@例子.example",
)  # fmt: skip


@pytest.mark.parametrize("typed", ODD_ADDRESSES)
def test_an_odd_but_legal_address_gets_its_letter(typed: str, tmp_path: Path) -> None:
    """As typed on the customer's page; on the wire the domain is in ASCII (RFC 5890), the part before it as it is."""
    here = an_office()
    a_small_job(here, whole_job())
    page = f"/desk/customers/{CUSTOMER.id}"
    kept = at(here).fills_in(page, page, {"email": typed})
    assert kept.status_code == 303, words_of(kept)
    assert here.get("customers", CUSTOMER.id).email == typed
    assert forms_in(at(here).get(page).text)[page]["email"] == typed

    fay = at(here, FAY)
    assert fay.fills_in("/jobs/1001/handback", "/jobs/1001/handback").status_code == 303

    mail = mailed(here, tmp_path)
    (to,) = mail["To"].addresses
    read = read_address(typed)
    assert isinstance(read, Address)
    # The reader takes headers for ASCII and keeps other octets aside (RFC 6532 has them in UTF-8).
    local = to.username.encode("ascii", "surrogateescape").decode()
    assert MailAddress(username=local, domain=to.domain) == MailAddress(
        username=read.bare_local, domain=read.wire_domain
    )
    assert to.domain.isascii()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("mira@", "address_after_at"),
        ("mira okonjo@post.example", "address_space"),
        ("Mira <mira@post.example>", "address_has_more"),
        ("mira@post.example, ben@post.example", "address_several"),
        ("mira@post.example\nBcc: ben@post.example", "address_hidden_character"),
    ],
)
def test_an_address_that_can_be_none_is_told_and_kept(typed: str, says: str) -> None:
    here = an_office()
    page = f"/desk/customers/{CUSTOMER.id}"
    answer = at(here).fills_in(page, page, {"email": typed})

    assert answer.status_code == 422
    assert sentence(says, typed=typed, part="") in words_of(answer)
    assert 'id="email-trouble"' in answer.text
    assert unescape(forms_in(answer.text)[page]["email"]).split() == typed.split()
    assert here.get("customers", CUSTOMER.id).email == CUSTOMER.email


# --- Prices of nothing, discounts beyond all, taxes with holes --------------------------------------------------------


def offered(here: Workshop, **over: str) -> tuple[Any, Visitor, str]:
    job = a_job(here)
    dee, place = at(here), f"/jobs/{job.number}/estimate"
    typed = {**JOINT, **FREE, **{key.replace("__", "."): value for key, value in over.items()}}
    return dee.fills_in(f"{place}/prices", f"{place}/prices", typed), dee, place


def test_a_part_for_nothing_costs_nothing_and_stands_on_the_estimate() -> None:
    """64.90 less: 180.00 labour + 1.50 for two pins + 7.25 % of 1.50, which is 0.11 (reckoned by hand)."""
    here = a_pricing_office()
    answer, dee, place = offered(here, l1__part__0__price="0")

    assert answer.status_code == 303
    shown = words_of(dee.get(place))
    assert "181.61 USD" in shown
    assert "no. BJ-204, 1 × 0.00" in shown


@pytest.mark.parametrize(
    "over",
    [
        {"l1__part__0__price": "0", "l1__part__1__price": "0", "l1__labour__0__hours": "0"},
        {"l1__discount": "100"},
    ],
    ids=["all for nothing", "all taken off"],
)
def test_a_line_that_comes_to_nothing_is_asked_about_and_then_free_of_charge(over: dict[str, str]) -> None:
    here = a_pricing_office()
    asked, dee, place = offered(here, **over)
    assert asked.status_code == 422
    assert "comes to nothing. Tick “free of charge”, or enter what it costs." in words_of(asked)
    form = forms_in(asked.text)[f"{place}/prices"]
    assert all(form[key.replace("__", ".")] == value for key, value in over.items())

    ticked = dee.client.post(f"{place}/prices", data={**form, "l1.free": "yes"}, follow_redirects=False)

    assert ticked.status_code == 303, words_of(ticked)
    assert "Total 0.00 USD" in words_of(dee.get(place))
    assert states(here, here.all("jobs")[0])["l1"] == ("waiting", 1)


@pytest.mark.parametrize("typed", ["100.01", "140", "250 %", "-5", "1e9", "half", "١٤٠"])
def test_a_discount_beyond_all_of_it_is_no_discount(typed: str) -> None:
    here = a_pricing_office()
    answer, _, place = offered(here, l1__discount=typed)

    assert answer.status_code == 422
    assert f"“{typed}” is no discount. Enter per cent from 0 to 100." in words_of(answer)
    assert forms_in(answer.text)[f"{place}/prices"]["l1.discount"] == typed
    assert here.all("estimates") == ()


@pytest.mark.parametrize(
    ("until", "next_from", "day_has_a_rate"),
    [("2026-05-31", "", False), ("2026-05-31", "2026-06-09", False), ("2026-06-07", "2026-06-08", True)],
    ids=["ended", "begins tomorrow", "no gap"],
)
def test_an_estimate_waits_for_a_rate_of_its_day(until: str, next_from: str, day_has_a_rate: bool) -> None:
    """The workshop's day is 8 June 2026."""
    here = an_office()
    dee = at(here)
    rows = {
        "tax.0.name": "Sales tax", "tax.0.from": "2020-01-01", "tax.0.until": until, "tax.0.rate": "7.25",
        "tax.0.falls_on": ["part"],
    }  # fmt: skip
    if next_from:
        rows |= {"tax.1.name": "Sales tax", "tax.1.from": next_from, "tax.1.until": "", "tax.1.rate": "8",
                 "tax.1.falls_on": ["part"]}  # fmt: skip
    fields = {"currency": "USD", "rate": "120.00", "basis": "flat", "rounding": "half_up", "jurisdiction": ""}
    kept = dee.sends("/desk/prices", {**fields, "valid_days": "30", **rows})
    assert kept.status_code == 303, words_of(kept)
    page = words_of(dee.get("/desk/prices"))
    assert ("has no rate from" in page) is not day_has_a_rate

    answer, dee, place = offered(here)

    if day_has_a_rate:
        assert answer.status_code == 303, words_of(answer)
        assert "Sales tax, 8 % of" in words_of(dee.get(place))
        return
    assert answer.status_code == 422
    assert "There is no rate of Sales tax for 2026-06-08. Complete the table of taxes under Prices first." in words_of(
        answer
    )
    assert forms_in(answer.text)[f"{place}/prices"]["l1.part.0.name"] == "Ball joint"
    assert here.all("estimates") == ()


@pytest.mark.parametrize(
    ("over", "says"),
    [
        ({"tax.0.until": "2019-01-01"}, ""),
        ({"tax.0.from": ""}, ""),
        ({"tax.0.rate": "100.01"}, ""),
        ({"tax.0.rate": "-1"}, ""),
        ({"tax.0.from": "31.02.2026"}, ""),
    ],
)
def test_a_tax_that_cannot_be_is_told_and_kept(over: dict[str, str], says: str) -> None:
    here = an_office()
    fields: dict[str, Any] = {
        "currency": "USD", "rate": "120.00", "basis": "flat", "rounding": "half_up", "jurisdiction": "",
        "valid_days": "30", "tax.0.name": "Sales tax", "tax.0.from": "2020-01-01", "tax.0.until": "",
        "tax.0.rate": "7.25", "tax.0.falls_on": ["part"],
    }  # fmt: skip
    answer = at(here).sends("/desk/prices", {**fields, **over})

    assert answer.status_code == 422
    (field,) = over
    assert f'href="#{field}"' in answer.text
    assert forms_in(answer.text)["/desk/prices"][field] == over[field]
    assert here.all("prices") == ()
