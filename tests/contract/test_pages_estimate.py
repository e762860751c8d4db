"""The pages about prices and estimates: who may, what they show, and that a refusal keeps everything typed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from app.web.pages.floor import step_address
from tests.builders import ADA, DEE, FAY
from tests.estimates import FREE, JOINT, PRICES, a_job, a_pricing_office, offers, says
from tests.offices import Visitor, Workshop, a_visitor, an_app, an_office, forms_in


def at_desk(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), DEE)


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


# --- Prices -----------------------------------------------------------------------------------------------------------


def test_prices_are_typed_kept_and_shown_again():
    here = an_office()
    dee = at_desk(here)
    sent = dee.fills_in("/desk/prices", "/desk/prices", {**PRICES, "tax.0.falls_on": ["part", "fee"]})

    assert (sent.status_code, sent.headers["location"]) == (303, "/desk/prices?said=kept")
    again = forms_in(dee.get("/desk/prices").text)["/desk/prices"]
    assert (again["rate"], again["tax.0.rate"], again["tax.0.from"]) == ("120.00", "7.25", "2020-01-01")
    assert [sorted(row.falls_on) for row in here.all("prices")[0].taxes] == [["fee", "part"]]


def test_prices_refused_keep_what_was_typed_and_say_why_at_the_field():
    here = an_office()
    dee = at_desk(here)
    typed = {**PRICES, "rate": "12,345", "tax.0.rate": "250", "tax.0.falls_on": "part"}
    answer = dee.fills_in("/desk/prices", "/desk/prices", typed)

    assert answer.status_code == 422
    form = forms_in(answer.text)["/desk/prices"]
    assert (form["rate"], form["tax.0.rate"], form["tax.0.falls_on"]) == ("12,345", "250", "part")
    assert 'id="rate-trouble"' in answer.text
    assert not here.all("prices")


def test_the_page_names_every_law_with_its_source_and_how_sure_it_is():
    shown = text_of(at_desk(an_office()).get("/desk/prices").text)

    assert "Florida: up to 10 % or 10.00 USD, whichever is more, at most 50.00 USD" in shown
    assert "Fla. Stat. 559.909(1)(b)" in shown
    assert "(read)" in shown
    assert "Washington: up to 10 %, before tax" in shown


def test_a_hole_in_the_taxes_is_said():
    here = a_pricing_office(**{"tax.0.until": "2026-12-31"})

    assert "Sales tax has no rate from 1 Jan 2027 on." in text_of(at_desk(here).get("/desk/prices").text)


@pytest.mark.parametrize("address", ["/desk/prices", "/jobs/26-0001/estimate", "/jobs/26-0001/estimate/answer"])
def test_a_technician_has_no_business_with_prices(address: str):
    here = a_pricing_office()
    a_job(here)

    assert a_visitor(an_app(here), ADA).get(address).status_code == 403


# --- The estimate -----------------------------------------------------------------------------------------------------


def test_an_estimate_is_made_by_the_form_and_reads_as_a_written_one_must():
    here = a_pricing_office()
    job = a_job(here)
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate"
    assert "No estimate yet" in dee.get(place).text

    sent = dee.fills_in(f"{place}/prices", f"{place}/prices", {**JOINT, **FREE, "l1.part.0.condition": "rebuilt"})

    assert (sent.status_code, sent.headers["location"]) == (303, f"{place}?done=made")
    shown = text_of(dee.get(place).text)
    for words in (
        "Kettle Lane Axles", "3 Kettle Lane", "REG 12345", job.number, "148 211 km", "It clunks over bumps",
        "1.5 h at 120.00 an hour, flat time", "rebuilt, no. BJ-204, 1 × 64.90", "Sales tax, 7.25 % of 66.40",
        "4.81", "251.21 USD", "free of charge", "Holds until 8 Jul 2026", "Hours are charged as flat times",
        "You get the replaced parts back if you ask", "Ball joint, lower, front left", "waits for your answer",
    ):  # fmt: skip
        assert words in shown, words


def test_an_estimate_is_shown_in_the_customers_language_when_it_is_for_them():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job, {**JOINT, **FREE})
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate"
    assert "For the customer" not in dee.get(place).text  # who reads the same as the desk

    here.save("customers", replace(here.get("customers", job.customer), language="es"))
    assert f'href="{place}?read_by=customer">For the customer: Español</a>' in dee.get(place).text
    theirs = dee.get(f"{place}?read_by=customer").text
    assert '<html lang="es">' in theirs
    shown = text_of(theirs)
    for words in (
        "1.5 h a 120.00 por hora",
        "sin cargo",
        "Vale hasta el 8 jul 2026",
        "espera su respuesta",
        "251.21 USD",
    ):
        assert words in shown, words
    assert '<html lang="en">' in dee.get(place).text


def test_the_form_of_a_new_edition_holds_the_last_one_and_a_refusal_keeps_all_of_it():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job, {**JOINT, **FREE, "l1.labour.0.hours": "1.33", "l1.discount": "12,5"})
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate/prices"
    form = forms_in(dee.get(place).text)[place]
    assert (form["l1.labour.0.hours"], form["l1.part.1.count"], form["l1.discount"]) == ("1.33", "2", "12.5")
    assert (form["edition"], form["l2.free"]) == ("1", "yes")

    answer = dee.fills_in(place, place, {"why": "", "l1.discount": "140", "l1.part.0.name": "<b>Gelenk & Söhne</b>"})

    assert answer.status_code == 422
    kept = forms_in(answer.text)[place]
    assert (kept["l1.discount"], kept["l1.part.0.name"]) == ("140", "<b>Gelenk & Söhne</b>")
    assert "<b>Gelenk" not in answer.text
    assert "Enter per cent from 0 to 100" in text_of(answer.text)


def test_earlier_editions_stay_to_be_read():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    offers(here, job, {**JOINT, **FREE, "l1.part.0.price": "80"})
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate"

    assert f"{place}/editions/1" in dee.get(place).text
    old = dee.get(f"{place}/editions/1").text
    assert "251.21 USD" in old
    assert "A newer edition is there" in old
    for missing in ("3", "x", "-1", "99999999", "1.0", "²"):
        assert dee.get(f"{place}/editions/{missing}").status_code == 404


def test_unknown_jobs_and_jobs_without_prices_say_what_to_do():
    here = an_office()
    job = here.opens()
    dee = at_desk(here)

    assert dee.get("/jobs/26-9999/estimate").status_code == 404
    assert "Enter them under Prices" in dee.get(f"/jobs/{job.number}/estimate").text
    assert dee.get(f"/jobs/{job.number}/estimate/answer").status_code == 422
    refused = dee.sends(f"/jobs/{job.number}/estimate/prices", {"edition": "0"})
    assert refused.status_code == 422
    assert "under Prices first" in refused.text


# --- The answer -------------------------------------------------------------------------------------------------------


def test_the_answer_is_recorded_by_the_form_and_shown_with_who_recorded_it():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    fay, place = a_visitor(an_app(here), FAY), f"/jobs/{job.number}/estimate"
    assert "Without what is not wanted" not in fay.get(place).text
    fields = {"l1.said": "yes", "l2.said": "no", "way": "typed", "tick": "yes", "old_parts": "yes"}

    sent = fay.fills_in(f"{place}/answer", f"{place}/answer", fields)

    assert (sent.status_code, sent.headers["location"]) == (303, f"{place}?done=answered")
    shown = text_of(fay.get(place).text)
    assert "Mira Okonjo, name typed and ticked here" in shown
    assert f"Recorded by {FAY.name}" in shown
    assert "Yes: Ball joint, lower, front left, 251.21 USD" in shown
    assert "No: Finding the fault, front axle" in shown
    assert "Wants the old parts back" in shown
    assert "May be charged as things stand" in shown


def test_a_signature_is_shown_as_drawn_and_nothing_else_gets_into_its_path():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate"
    wrong = dee.fills_in(
        f"{place}/answer", f"{place}/answer", {"l1.said": "yes", "way": "signed", "signature": '"><script>'}
    )
    right = dee.fills_in(
        f"{place}/answer", f"{place}/answer", {"l1.said": "yes", "way": "signed", "signature": "M0 0L100 90L200 0"}
    )

    assert wrong.status_code == 422
    assert "<script>" not in wrong.text.replace("<script type", "")
    assert right.status_code == 303
    assert 'd="M0 0L100 90L200 0"' in dee.get(place).text


def test_a_telephone_answer_refused_keeps_everything_typed():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate/answer"
    fields = {
        "l1.said": "yes", "way": "phone", "name": "Ἀριάδνη", "number": "+00 2 555", "said_at": "2026-06-08T09:59",
        "read_out": "250", "words": "Ask again on Monday",
    }  # fmt: skip

    answer = dee.fills_in(place, place, fields)

    assert answer.status_code == 422
    kept = forms_in(answer.text)[place]
    assert {name: kept[name].lstrip("\n") for name in fields} == fields
    assert "the lines said yes to come to 251.21 USD" in text_of(answer.text)
    assert not here.all("answers")


def test_a_telephone_answer_in_the_workshops_own_time_is_recorded():
    """The workshop's clocks show three hours more than UTC in June."""
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    here.clock.forward(minutes=10)
    dee, place = at_desk(here), f"/jobs/{job.number}/estimate"
    fields = {
        "l1.said": "yes",
        "way": "phone",
        "number": "+00 2 555",
        "said_at": "2026-06-08T11:05",
        "read_out": "251,21",
    }

    sent = dee.fills_in(f"{place}/answer", f"{place}/answer", fields)

    assert sent.status_code == 303, text_of(sent.text)
    assert "by telephone (+00 2 555), 8 Jun 2026, 11:05" in text_of(dee.get(place).text)


def test_begun_work_asks_how_it_is_left():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"})
    dee = at_desk(here)

    assert "l1.put_back" not in dee.get(f"/jobs/{job.number}/estimate/answer").text


def test_a_technicians_card_says_that_the_price_waits():
    here = a_pricing_office()
    job = a_job(here)
    step = next(one.id for one in here.sheet(job).packet.steps if one.line == "l1")

    shown = a_visitor(an_app(here), ADA).get(step_address(job.number, step)).text

    assert "waits for the customer&#39;s yes to its price" in shown


def test_the_job_page_leads_to_its_estimate():
    here = a_pricing_office()
    job = a_job(here)

    assert f'href="/jobs/{job.number}/estimate"' in at_desk(here).get(f"/jobs/{job.number}").text


def test_the_total_is_said_without_what_is_not_wanted_too():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job, {**JOINT, "l2.labour.0.hours": "1"})
    says(here, job, {"l1": "yes", "l2": "no"})

    shown = text_of(at_desk(here).get(f"/jobs/{job.number}/estimate").text)

    assert "Total 371.21 USD" in shown
    assert "Without what is not wanted 251.21 USD" in shown
