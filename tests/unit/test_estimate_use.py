"""Prices kept, estimates made, answers recorded, and what the sheet lets be done after each: over a store in memory."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from app.domain import entry as e
from app.domain.estimate import PutBack, Way
from app.domain.problems import NotFound, Refused
from app.domain.records import JobState
from app.domain.sheet import Mark, Outcome, StepNow
from app.use_cases.keep_prices import PricesWanted, keep_prices
from app.use_cases.make_estimate import EstimateWanted, make_estimate
from app.use_cases.office_entry import office_entry
from app.use_cases.open_job import bring_up_to_date
from app.use_cases.price_lines import price_job
from app.use_cases.propose_lines import proposals
from app.use_cases.record_entry import record_form
from tests.builders import ADA, DEE, FAY
from tests.estimates import FALLS, FREE, INSPECTION, JOINT, PRICES, a_job, a_pricing_office, offers, says, states
from tests.offices import LEFT_JOINT, VEHICLE, Workshop, an_office


def codes(raised: pytest.ExceptionInfo[Refused]) -> set[tuple[str, str]]:
    return {(one.code, one.field) for one in raised.value.problems}


def records(here: Workshop, job, body, who=ADA):
    """Somebody records this of a step, having seen the sheet as it is now."""
    sheet = here.sheet(job)
    seen = e.Basis(sheet.packet.hash, sheet.packet.step_by_id[body.step].revision, sheet.support.revision)
    entry = replace(office_entry(here.office, who.id, sheet, body, ""), basis=seen)
    return record_form(here.office, entry).ruling


def first_step(here: Workshop, job, line: str):
    return next(step for step in here.sheet(job).packet.steps if step.line == line and not step.after)


# --- Prices -----------------------------------------------------------------------------------------------------------


def kept(**over: str):
    here = an_office()
    return keep_prices(here.office, DEE.id, PricesWanted({**PRICES, **over}, FALLS))[0]


def test_prices_are_kept_exactly():
    prices = kept(rate="98,5")

    assert (prices.currency, prices.rate_minor, prices.edition) == ("USD", 9_850, 1)
    assert [(row.name, row.rate_ppm) for row in prices.taxes] == [("Sales tax", 72_500)]


@pytest.mark.parametrize(
    ("field", "typed", "code"),
    [
        ("rate", "", "rate_missing"),
        ("rate", "-5", "price_bounds"),
        ("rate", "12.345", "price_unclear"),
        ("rate", "1,250", "price_unclear"),
        ("rate", "ninety", "price_unclear"),
        ("rate", "999999999999", "price_bounds"),
        ("currency", "dollars", "currency_unclear"),
        ("currency", "", "currency_unclear"),
        ("jurisdiction", "US-ZZ", "choose_one"),
        ("basis", "guess", "choose_one"),
        ("rounding", "up", "choose_one"),
        ("valid_days", "0", "whole_number"),
        ("tax.0.rate", "101", "tax_rate_unclear"),
        ("tax.0.rate", "-1", "tax_rate_unclear"),
        ("tax.0.rate", "", "tax_rate_unclear"),
        ("tax.0.rate", "7.123456", "tax_rate_unclear"),
        ("tax.0.name", "", "tax_name_missing"),
        ("tax.0.from", "", "tax_from_missing"),
        ("tax.0.from", "the first", "day_unclear"),
    ],
)
def test_prices_that_cannot_be_are_told_beside_their_field(field: str, typed: str, code: str):
    with pytest.raises(Refused) as refused:
        kept(**{field: typed})

    assert (code, field) in codes(refused)


def test_a_rate_of_nothing_is_allowed():
    assert kept(rate="0").rate_minor == 0


def test_a_law_in_another_currency_is_refused():
    with pytest.raises(Refused) as refused:
        kept(currency="EUR", jurisdiction="US-FL")
    assert codes(refused) == {("law_currency", "jurisdiction")}


def test_a_tax_that_falls_on_nothing_is_refused():
    here = an_office()
    with pytest.raises(Refused) as refused:
        keep_prices(here.office, DEE.id, PricesWanted(PRICES, {}))
    assert codes(refused) == {("tax_falls_missing", "tax.0.falls_on")}


def test_prices_sent_twice_are_kept_once_and_a_change_is_a_new_edition():
    here = an_office()
    for form_id in ("f-1", "f-1", "f-2"):
        keep_prices(here.office, DEE.id, PricesWanted(PRICES, FALLS), form_id)

    assert [one.edition for one in here.all("prices")] == [1, 2]


def test_jobs_opened_before_there_were_prices_go_on_without():
    here = an_office()
    job = here.opens()
    here.clock.forward(minutes=5)
    keep_prices(here.office, DEE.id, PricesWanted(PRICES, FALLS))

    assert states(here, job) == {}


# --- The estimate -----------------------------------------------------------------------------------------------------


def test_a_new_job_waits_for_its_price():
    here = a_pricing_office()
    job = a_job(here)

    assert states(here, job) == {"l1": ("waiting", 0), "l2": ("waiting", 0)}
    step = first_step(here, job, "l2")
    ruling = records(here, job, e.StepDone(step=step.id))
    assert (ruling.accepted, ruling.reason) == (False, "not_agreed")


def test_an_estimate_carries_what_a_written_one_must():
    """Sources: Cal. Bus. & Prof. Code 9884.8, 9884.9(a), 9884.11; 16 CCR 3353, 3356; Fla. Stat. 559.905."""
    here = a_pricing_office()
    job = a_job(here)
    made = offers(here, job)

    who = made.parties
    assert (who.shop, who.registration, who.customer) == ("Kettle Lane Axles", "REG 12345", "Mira Okonjo")
    assert (who.address, who.odometer_km, who.complaint) == ("3 Kettle Lane\nUpper Ford", 148_211, job.complaint)
    assert (made.number, made.edition, made.basis) == (job.number, 1, "flat")
    assert made.valid_until == here.clock.now.date() + timedelta(days=30)
    look, joint = made.lines
    # By hand: 1.5 h at 120.00 = 180.00; 64.90 + 2 x 0.75 = 66.40; 7.25 % of 66.40 = 4.814, so 4.81.
    assert (joint.labour_minor, joint.parts_minor, joint.total_minor) == (18_000, 6_640, 25_121)
    assert (look.is_free, made.total_minor()) == (True, 25_121)
    assert [part.condition.value for part in joint.parts] == ["new", "new"]


def test_an_estimate_sent_twice_is_made_once():
    here = a_pricing_office()
    job = a_job(here)
    wanted = EstimateWanted({**JOINT, **FREE}, 0, "form-1")

    first = make_estimate(here.office, DEE.id, job.number, wanted)
    assert make_estimate(here.office, DEE.id, job.number, wanted) == first
    assert len(here.all("estimates")) == 1


def test_an_estimate_made_from_an_old_page_is_refused():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    with pytest.raises(Refused) as refused:
        make_estimate(here.office, FAY.id, job.number, EstimateWanted({**JOINT, **FREE}, 0))
    assert codes(refused) == {("estimate_moved", "")}


def test_an_edition_says_why_and_one_that_changes_nothing_is_refused():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    with pytest.raises(Refused) as no_reason:
        offers(here, job, {**JOINT, **FREE, "why": " ", "l1.part.0.price": "70"})
    with pytest.raises(Refused) as nothing_new:
        offers(here, job)
    assert codes(no_reason) == {("why_missing", "why")}
    assert codes(nothing_new) == {("estimate_same", "")}


@pytest.mark.parametrize(
    ("fields", "problem"),
    [
        ({"l1.labour.0.hours": "-1"}, ("hours_unclear", "l1.labour.0.hours")),
        ({"l1.labour.0.hours": "soon"}, ("hours_unclear", "l1.labour.0.hours")),
        ({"l1.labour.0.hours": "1:75"}, ("hours_unclear", "l1.labour.0.hours")),
        ({"l1.labour.0.hours": "5000"}, ("hours_unclear", "l1.labour.0.hours")),
        ({"l1.labour.0.hours": "1e3"}, ("hours_unclear", "l1.labour.0.hours")),
        ({"l1.part.0.price": "-1"}, ("price_bounds", "l1.part.0.price")),
        ({"l1.part.0.price": ""}, ("price_missing", "l1.part.0.price")),
        ({"l1.part.0.price": "1,250"}, ("price_unclear", "l1.part.0.price")),
        ({"l1.part.0.price": "99999999"}, ("price_bounds", "l1.part.0.price")),
        ({"l1.part.0.count": "0"}, ("count_unclear", "l1.part.0.count")),
        ({"l1.part.0.count": "-2"}, ("count_unclear", "l1.part.0.count")),
        ({"l1.part.0.name": ""}, ("part_name_missing", "l1.part.0.name")),
        ({"l1.part.0.name": "x" * 121}, ("too_long", "l1.part.0.name")),
        ({"l1.part.0.condition": "shiny"}, ("choose_one", "l1.part.0.condition")),
        ({"l1.part.0.destroyed": "yes"}, ("tear_down_missing", "l1.tear_down")),
        ({"l1.tear_price": "20"}, ("tear_down_missing", "l1.tear_down")),
        ({"l1.discount": "100.1"}, ("discount_bounds", "l1.discount")),
        ({"l1.discount": "-5"}, ("discount_bounds", "l1.discount")),
        ({"l1.discount": "half"}, ("discount_bounds", "l1.discount")),
        ({"l1.other.0.text": "Alignment", "l1.other.0.price": "60"}, ("sublet_by_missing", "l1.other.0.by")),
        ({"l1.free": "yes"}, ("free_and_priced", "l1.free")),
        ({"l2.free": ""}, ("free_not_said", "l2.free")),
        ({"l1.discount": "100"}, ("free_not_said", "l1.free")),
    ],
)
def test_what_cannot_be_priced_so_is_told_beside_its_field(fields: dict[str, str], problem: tuple[str, str]):
    here = a_pricing_office()
    job = a_job(here)

    with pytest.raises(Refused) as refused:
        offers(here, job, {**JOINT, **FREE, **fields})

    assert problem in codes(refused)
    assert not here.all("estimates")


@pytest.mark.parametrize(
    ("typed", "seconds"), [("1.5", 5_400), ("1,5", 5_400), ("1:30", 5_400), ("0", 0), ("1.33", 4_788)]
)
def test_hours_are_read_with_comma_point_or_minutes(typed: str, seconds: int):
    here = a_pricing_office()
    job = a_job(here)

    assert offers(here, job, {**JOINT, **FREE, "l1.labour.0.hours": typed}).lines[-1].labour[0].seconds == seconds


def test_a_discount_of_all_is_free_of_charge_once_it_is_said_so():
    here = a_pricing_office()
    made = offers(here, a_job(here), {**JOINT, **FREE, "l1.discount": "100", "l1.free": "yes"})

    assert made.lines[-1].is_free


def test_names_in_any_script_are_kept_as_typed():
    here = a_pricing_office()
    made = offers(
        here, a_job(here), {**JOINT, **FREE, "l1.part.0.name": "ボールジョイント", "l1.labour.0.text": "مفصل كروي"}
    )

    assert (made.lines[-1].parts[0].name, made.lines[-1].labour[0].text) == ("ボールジョイント", "مفصل كروي")


def test_a_hole_in_the_tax_table_stops_the_estimate():
    here = a_pricing_office(**{"tax.0.until": "2026-01-31"})
    job = a_job(here)

    with pytest.raises(Refused) as refused:
        offers(here, job)
    assert ("tax_hole", "") in codes(refused)


def test_without_prices_or_on_a_closed_job_there_is_no_estimate():
    bare = an_office()
    with pytest.raises(Refused) as no_prices:
        offers(bare, bare.opens())
    here = a_pricing_office()
    job = a_job(here)
    here.save("jobs", replace(job, state=JobState.CANCELLED))
    with pytest.raises(Refused) as closed:
        offers(here, job)
    with pytest.raises(NotFound):
        make_estimate(here.office, DEE.id, "26-9999", EstimateWanted({}, 0))
    assert ("prices_not_kept", "") in codes(no_prices)
    assert ("job_not_open", "") in codes(closed)


# --- The answer -------------------------------------------------------------------------------------------------------


def test_a_yes_opens_its_line_and_a_no_takes_its_line_off_the_sheet():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    says(here, job, {"l1": "no", "l2": "yes"})

    assert states(here, job) == {"l2": ("agreed", 1)}
    assert records(here, job, e.StepDone(step=first_step(here, job, "l2").id)).reason != "not_agreed"


def test_a_yes_later_brings_a_refused_line_back():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "no", "l2": "yes"})

    says(here, job, {"l1": "yes"})

    assert states(here, job) == {"l1": ("agreed", 1), "l2": ("agreed", 1)}
    assert [len(one.answers) for one in here.all("answers")] == [2, 1]


def test_a_job_of_which_everything_is_refused_keeps_its_sheet_shut():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "no", "l2": "no"})

    assert states(here, job) == {"l1": ("refused", 1), "l2": ("refused", 1)}


def test_a_dearer_edition_shuts_the_line_until_the_second_yes():
    here = a_pricing_office()
    job = a_job(here, INSPECTION)
    offers(here, job, {"l1.labour.0.hours": "1"})
    says(here, job, {"l1": "yes"})
    step = first_step(here, job, "l1")

    offers(here, job, {"l1.labour.0.hours": "1.5"})
    assert states(here, job) == {"l1": ("changed", 1)}
    assert records(here, job, e.StepDone(step=step.id)).reason == "not_agreed"

    says(here, job, {"l1": "yes"})
    assert states(here, job) == {"l1": ("agreed", 2)}


def test_a_small_rise_goes_on_where_the_law_lets_it():
    here = a_pricing_office(jurisdiction="US-FL")
    job = a_job(here, LEFT_JOINT)
    offers(here, job, {"l1.labour.0.hours": "2"})
    says(here, job, {"l1": "yes"})

    offers(here, job, {"l1.labour.0.hours": "2.2"})

    assert states(here, job) == {"l1": ("agreed", 1)}
    with here.store.reading() as unit:
        assert price_job(unit, job).standing["l1"].passed_minor == 2_400


def test_a_line_refused_after_it_was_begun_stays_to_be_put_back():
    here = a_pricing_office()
    job = a_job(here, INSPECTION)
    offers(here, job, {"l1.labour.0.hours": "1"})
    says(here, job, {"l1": "yes"})
    step = first_step(here, job, "l1")
    body = e.TestRecorded(step=step.id, choice=step.trial.choices[-1].key, verdict="sound")  # type: ignore[arg-type]
    assert records(here, job, body).accepted
    offers(here, job, {"l1.labour.0.hours": "9"})

    with pytest.raises(Refused) as refused:
        says(here, job, {"l1": "no"})
    assert codes(refused) == {("put_back_missing", "l1.put_back")}

    says(here, job, {"l1": "no"}, put_back={"l1": PutBack.AS_RECEIVED.value})
    assert states(here, job) == {"l1": ("put_back", 2)}


PHONE = {"way": "phone", "number": "+00 2 555", "read_out": "251.21"}


def test_an_answer_by_telephone_keeps_who_when_the_number_and_the_price_read_out():
    """Source of the list: 16 CCR 2722(a), and Cal. Bus. & Prof. Code 9884.9(a)."""
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    here.clock.forward(minutes=20)
    called = here.clock.now - timedelta(minutes=5)

    kept = says(here, job, {"l1": "yes", "l2": "yes"}, **PHONE, said_at=called, old_parts=True).answer

    assert (kept.way, kept.name, kept.number) == (Way.PHONE, "Mira Okonjo", "+00 2 555")
    assert (kept.said_at, kept.read_out_minor, kept.recorded_by_name) == (called, 25_121, DEE.name)
    assert (kept.recorded_at, kept.old_parts) == (here.clock.now, True)


DRAWN = "M10 20L60 80L120 30M300 40L400 60"


@pytest.mark.parametrize(
    ("over", "problem"),
    [
        ({"way": ""}, ("way_missing", "way")),
        ({"way": "pigeon"}, ("way_missing", "way")),
        ({"name": "  "}, ("answer_name_missing", "name")),
        ({"tick": False}, ("tick_missing", "tick")),
        ({"way": "signed"}, ("signature_missing", "signature")),
        ({"way": "signed", "signature": "M1 1L2 2"}, ("signature_short", "signature")),
        ({"way": "signed", "signature": "M1 1L2000 2"}, ("signature_unclear", "signature")),
        ({"way": "signed", "signature": "M1.5 1L200 2"}, ("signature_unclear", "signature")),
        ({"way": "signed", "signature": '"/><script>'}, ("signature_unclear", "signature")),
        ({"way": "signed", "signature": "M0 0" + "L999 299L0 0" * 1_000}, ("signature_unclear", "signature")),
        ({**PHONE, "number": ""}, ("number_missing", "number")),
        ({**PHONE, "way": "mail", "number": ""}, ("mail_missing", "number")),
        ({**PHONE, "read_out": ""}, ("read_out_missing", "read_out")),
        ({**PHONE, "read_out": "251.20"}, ("read_out_differs", "read_out")),
        ({**PHONE, "read_out": "about 250"}, ("price_unclear", "read_out")),
        ({**PHONE, "said_at": None}, ("said_at_missing", "said_at")),
    ],
)
def test_an_answer_that_lacks_what_its_way_needs_is_refused(over: dict[str, object], problem: tuple[str, str]):
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    with pytest.raises(Refused) as refused:
        says(here, job, {"l1": "yes"}, **{"said_at": here.clock.now, **over})

    assert problem in codes(refused)
    assert not here.all("answers")
    assert states(here, job)["l1"] == ("waiting", 1)


@pytest.mark.parametrize(("minutes", "code"), [(5, "said_at_ahead"), (-60, "said_at_before")])
def test_a_call_is_neither_still_to_come_nor_before_the_estimate(minutes: int, code: str):
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    with pytest.raises(Refused) as refused:
        says(here, job, {"l1": "yes"}, **PHONE, said_at=here.clock.now + timedelta(minutes=minutes))
    assert codes(refused) == {(code, "said_at")}


def test_a_signature_is_kept_as_it_was_drawn():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)

    assert says(here, job, {"l1": "yes"}, way="signed", signature=DRAWN).answer.signature == DRAWN


def test_a_no_by_telephone_needs_no_price_read_out():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    said = {**PHONE, "read_out": "", "said_at": here.clock.now}

    assert not says(here, job, {"l1": "no"}, **said).answer.answers[0].yes


def test_answers_twice_out_of_order_to_nothing_or_too_late():
    here = a_pricing_office()
    job = a_job(here)
    with pytest.raises(Refused) as none_yet:
        says(here, job, {"l1": "yes"})
    offers(here, job)
    with pytest.raises(Refused) as nothing_said:
        says(here, job, {})
    with pytest.raises(Refused) as old_page:
        says(here, job, {"l1": "yes"}, edition=7)
    first = says(here, job, {"l1": "yes"}, id="form-1")
    assert says(here, job, {"l1": "no"}, id="form-1").answer == first.answer
    with pytest.raises(Refused) as again:
        says(here, job, {"l1": "yes"})
    here.clock.forward(days=31)
    with pytest.raises(Refused) as late:
        says(here, job, {"l2": "yes"})

    assert codes(none_yet) == {("estimate_none", "")}
    assert codes(nothing_said) == {("answer_lines_missing", "")}
    assert codes(old_page) == {("estimate_moved", "")}
    assert codes(again) == {("agreed_already", "l1.said")}
    assert codes(late) == {("estimate_expired", "")}
    assert len(here.all("answers")) == 1


def test_a_no_is_taken_even_when_the_estimate_is_out_of_date():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    here.clock.forward(days=31)

    assert says(here, job, {"l1": "no"}).answer.answers[0].yes is False


def test_an_edition_whose_sheet_cannot_follow_is_not_kept():
    """Else work whose price has risen would go on at the old one."""
    here = a_pricing_office()
    job = a_job(here, LEFT_JOINT)
    offers(here, job, {"l1.labour.0.hours": "1"})
    says(here, job, {"l1": "yes"})
    here.save("vehicles", replace(VEHICLE, front=replace(VEHICLE.front, layout="twist_beam")))

    with pytest.raises(Refused) as refused:
        offers(here, job, {"l1.labour.0.hours": "3"})

    assert "not_for_layout" in {one.code for one in refused.value.problems}
    assert len(here.all("estimates")) == 1
    assert states(here, job) == {"l1": ("agreed", 1)}


def test_an_answer_is_kept_though_the_sheet_cannot_follow_and_that_is_told():
    here = a_pricing_office()
    job = a_job(here, LEFT_JOINT)
    offers(here, job, {"l1.labour.0.hours": "1"})
    here.save("vehicles", replace(VEHICLE, front=replace(VEHICLE.front, layout="twist_beam")))

    done = says(here, job, {"l1": "yes"})

    assert [one.code for one in done.sheet_problems] == ["not_for_layout"]
    assert len(here.all("answers")) == 1
    assert states(here, job) == {"l1": ("waiting", 1)}


# --- What findings propose ------------------------------------------------------------------------------------------


def test_a_bad_joint_proposes_its_procedure_in_pairs_and_a_sound_one_nothing():
    here = an_office()
    job = here.opens("v-1", INSPECTION)
    sheet, found = here.sheet(job), {}
    for step in sheet.packet.steps:
        if step.key in ("joint_boot", "stabiliser_links", "tyre_wear") and step.trial is not None:
            found.setdefault(step.key, step)
    mark = Mark(ADA.id, ADA.name, 1, "e-1")
    steps = {
        found["joint_boot"].id: StepNow(outcome=Outcome(mark, "split", "watch", "Split")),  # type: ignore[arg-type]
        found["stabiliser_links"].id: StepNow(outcome=Outcome(mark, "x", "replace", "Loose")),  # type: ignore[arg-type]
        found["tyre_wear"].id: StepNow(outcome=Outcome(mark, "x", "replace", "Worn out")),  # type: ignore[arg-type]
    }
    proposed = proposals(here.office.book, VEHICLE, job, replace(sheet, steps=steps))

    assert [(one.step.key, one.row, one.in_pairs) for one in proposed] == [
        ("tyre_wear", "", False),
        ("stabiliser_links", "front.stabiliser", False),
        ("joint_boot", "front.ball_joint.lower", True),
    ]
    assert proposed[2].sides[0] == "both"
    assert proposals(here.office.book, VEHICLE, job, sheet) == ()


def test_bringing_a_sheet_up_to_date_keeps_how_its_prices_stand():
    here = a_pricing_office()
    job = a_job(here)
    offers(here, job)
    says(here, job, {"l1": "yes", "l2": "yes"})

    assert bring_up_to_date(here.office, FAY.id, job.id) is False
    assert states(here, job) == {"l1": ("agreed", 1), "l2": ("agreed", 1)}
