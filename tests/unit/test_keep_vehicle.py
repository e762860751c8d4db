"""Vehicles as the desk types them: every amount in any unit, every slip with its own sentence."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from app.domain.problems import Refused
from app.texts import SENTENCES, say
from app.use_cases.keep_vehicle import (
    add_facts,
    add_vehicle,
    asked_facts,
    change_vehicle,
    missing_facts,
    typed_from,
)
from tests.offices import CUSTOMER, FRONT, VEHICLE, Workshop, an_office, the_book

TYPED = {
    "plate": "KL 204",
    "model": "Wren 1.4",
    "customer": CUSTOMER.id,
    "high_voltage": "no",
    "front.layout": "strut",
    "rear.layout": "twist_beam",
}


def problems(here: Workshop, **over: str) -> dict[str, str]:
    """The fields refused and why, as codes; nothing is kept."""
    before = len(here.all("vehicles"))
    with pytest.raises(Refused) as caught:
        add_vehicle(here.office, TYPED | over)
    assert len(here.all("vehicles")) == before
    for one in caught.value.problems:
        assert one.code in SENTENCES, one.code
        assert "…" not in say(one), say(one)
    return {one.field: one.code for one in caught.value.problems}


def test_a_vehicle_of_the_least_that_is_asked_is_taken_in() -> None:
    here = an_office()

    made = add_vehicle(here.office, TYPED)

    assert here.get("vehicles", made.id) == made
    assert (made.front.layout, made.rear.layout) == ("strut", "twist_beam")


@pytest.mark.parametrize(
    ("field", "typed", "read"),
    [
        # Exact by definition: 1 lb = 0.45359237 kg, 1 in = 25.4 mm (NIST SP 811, 2008, appendix B).
        ("front.mass", "1000 lb", lambda v: v.front.mass_g == 453_592),
        ("front.mass", "0,9 t", lambda v: v.front.mass_g == 900_000),
        ("front.mass", "900", lambda v: v.front.mass_g == 900_000),
        ("wheelbase", "100 in", lambda v: v.wheelbase_um == 2_540_000),
        ("rear.track", "1,52 m", lambda v: v.rear.track_um == 1_520_000),
        ("airbag_wait", "90 s", lambda v: v.airbag_wait_s == 90),
        ("airbag_wait", "10", lambda v: v.airbag_wait_s == 600),
        ("year", "2014", lambda v: v.year == 2014),
        ("tyre_front", "205/55 R16 91V", lambda v: v.tyre_front == "205/55 R16 91V"),
    ],
)
def test_amounts_are_read_in_any_unit(field: str, typed: str, read: Any) -> None:
    here = an_office()

    assert read(add_vehicle(here.office, TYPED | {field: typed}))


@pytest.mark.parametrize(
    ("field", "typed", "code"),
    [
        ("plate", "", "plate_or_vin_missing"),
        ("plate", "-·-", "plate_unclear"),
        ("plate", "X" * 21, "too_long"),
        ("plate", "cp-1001", "plate_twice"),
        ("vin", "1M8GDM9AXKP04278", "vin_length"),
        ("vin", "IM8GDM9AXKP042788", "vin_character.perhaps"),
        ("vin", "1M8GDM9AXKPO42788", "vin_character.perhaps"),
        ("vin", "1M8GDM9AXKPQ42788", "vin_character.perhaps"),
        ("vin", "1M8GDM9AXKPÖ42788", "vin_character"),
        ("model", " ", "model_missing"),
        ("model", "m" * 81, "too_long"),
        ("year", "14", "year_odd"),
        ("year", "1899", "year_odd"),
        ("year", "2999", "year_odd"),
        ("year", "²⁰¹⁴", "year_odd"),
        ("tyre_front", "two hundred", "tyre_unclear"),
        ("tyre_rear", "205/55R16 banana", "tyre_unclear.part"),
        ("tyre_rear", "205/55R99", "tyre_odd"),
        ("wheelbase", "2.7 kg", "amount_other_kind"),
        ("wheelbase", "2,700", "amount_unclear"),
        ("wheelbase", "-2700 mm", "amount_outside"),
        ("front.mass", "9000000 kg", "amount_outside"),
        ("front.mass", "-900 kg", "amount_outside"),
        ("front.mass", "0", "amount_outside"),
        ("front.mass", "1e300 kg", "amount_outside"),
        ("front.mass", "nan", "amount_unclear"),
        ("front.mass", "two tons", "amount_unclear"),
        ("front.mass", "9" * 5000, "amount_unclear"),
        ("hv_wait", "5 N", None),
        ("airbag_wait", "5 N", "amount_other_kind"),
        ("airbag_wait", "3 d", "amount_outside"),
        ("customer", "", "customer_missing"),
        ("customer", "nobody", "customer_missing"),
        ("high_voltage", "", "say_yes_or_no"),
        ("front.layout", "", "layout_missing"),
        ("front.layout", "hovering", "unknown_layout"),
        ("front.stabiliser", "perhaps", "fact_unknown"),
        ("front.spring.rate", "30 N/mm", None),
        ("front.spring.rate", "30 N", "amount_other_kind"),
    ],
)
def test_every_slip_has_its_own_sentence(field: str, typed: str, code: str | None) -> None:
    here = an_office()
    if code is None:
        # Asked for only with something else on the form: no slip of its own.
        over = {"front.spring.source": "Data sheet"} if field.startswith("front") else {}
        assert add_vehicle(here.office, TYPED | {field: typed} | over)
        return

    found = problems(here, **{field: typed})

    assert found == {field: code}


def test_an_air_spring_needs_the_place_it_takes() -> None:
    here = an_office()

    assert problems(here, **{"front.layout": "air"}) == {"front.place": "place_missing"}
    assert problems(here, **{"front.layout": "air", "front.place": "air"}) == {"front.place": "place_missing"}


def test_a_failing_check_digit_is_accepted() -> None:
    """The check digit binds vehicles made for North America only: 49 CFR 565.15."""
    here = an_office()

    made = add_vehicle(here.office, TYPED | {"vin": "1m8gdm9a-1kp042788"})

    assert made.vin == "1M8GDM9A1KP042788"
    with pytest.raises(Refused) as caught:
        add_vehicle(here.office, TYPED | {"plate": "other", "vin": "1M8GDM9A1KP042788"})
    assert [one.code for one in caught.value.problems] == ["vin_twice"]


@pytest.mark.parametrize(
    ("lengths", "field"),
    [
        ({"free": "300", "installed": "310"}, "front.spring.installed"),
        ({"free": "300", "hanging": "301"}, "front.spring.hanging"),
        ({"installed": "250", "hanging": "240"}, "front.spring.hanging"),
    ],
)
def test_lengths_of_a_coil_that_cannot_be_are_questioned(lengths: dict[str, str], field: str) -> None:
    typed = {f"front.spring.{name}": value for name, value in lengths.items()} | {"front.spring.source": "Measured"}

    assert list(problems(an_office(), **typed)) == [field]


def test_spring_figures_say_where_they_come_from() -> None:
    assert problems(an_office(), **{"front.spring.rate": "171 lbf/in"}) == {
        "front.spring.source": "spring_source_missing"
    }


def test_saving_a_form_unchanged_changes_nothing() -> None:
    """Amounts come back to the last figure: a rate of 171 lbf/in stays the 29 947 N/m that it was."""
    here = an_office()
    odd = replace(FRONT, mass_g=453_592, spring=replace(FRONT.spring, rate_npm=29_947, installed_um=279_999))
    here.save("vehicles", replace(VEHICLE, front=odd, hv_wait_s=None, airbag_wait_s=61))
    before = here.get("vehicles", VEHICLE.id)

    after = change_vehicle(here.office, VEHICLE.id, typed_from(before))

    assert after == before


def test_a_new_customer_comes_with_the_vehicle_or_neither_is_kept() -> None:
    here = an_office()
    typed = TYPED | {"customer": "new", "customer.name": "Aino Vesa", "customer.email": "aino@vesa"}

    with pytest.raises(Refused) as caught:
        add_vehicle(here.office, typed)
    assert [(one.field, one.code) for one in caught.value.problems] == [("customer.email", "address_no_dot")]
    assert len(here.all("customers")) == 1

    made = add_vehicle(here.office, typed | {"customer.email": "aino@vesa.example"})
    assert here.get("customers", made.customer).name == "Aino Vesa"


def test_one_model_keeps_one_spelling_since_figures_are_kept_under_it() -> None:
    here = an_office()

    assert add_vehicle(here.office, TYPED | {"model": "tern  2.0"}).model == VEHICLE.model


def test_two_desks_do_not_overwrite_each_other_unseen() -> None:
    here = an_office()
    form = typed_from(VEHICLE)
    change_vehicle(here.office, VEHICLE.id, form | {"colour": "blue"})

    with pytest.raises(Refused) as caught:
        change_vehicle(here.office, VEHICLE.id, form | {"colour": "green"})

    assert [one.code for one in caught.value.problems] == ["changed_meanwhile"]
    assert here.get("vehicles", VEHICLE.id).colour == "blue"


def test_only_facts_worth_asking_on_the_layout_are_asked() -> None:
    beam = replace(FRONT, layout="twist_beam", facts=())

    asked = asked_facts(the_book(), "rear", beam)  # type: ignore[arg-type]

    assert "stabiliser" in asked
    assert not {"joint_fixing", "strut_unit", "axle_joints", "adas"} & set(asked)


def test_what_is_missing_is_said_in_words() -> None:
    bare = replace(VEHICLE, front=replace(FRONT, facts=(), mass_g=None))

    missing = missing_facts(the_book(), bare)

    assert missing[0] == "front axle: mass"
    assert missing[1].startswith("front axle: ")


def test_a_fact_given_at_intake_joins_those_known() -> None:
    changed, found = add_facts(the_book(), VEHICLE, {"front.joint_fixing": "riveted", "front.stabiliser": ""})

    assert found == []
    assert dict(changed.front.facts) == dict(FRONT.facts) | {"joint_fixing": "riveted"}
