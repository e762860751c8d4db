"""The Desk's pages: who may see them, every slip told beside its field, nothing typed lost, never a 500."""

from __future__ import annotations

from dataclasses import replace
from html import unescape
from typing import Any

import pytest
from markupsafe import escape

from app.domain.records import Job, JobState
from tests.builders import DEE
from tests.offices import ADA, CUSTOMER, FAY, FRONT, MONDAY, VEHICLE, Visitor, Workshop, a_visitor, an_app, an_office
from tests.unit.test_keep_vehicle import TYPED

PAGES = (
    "/desk",
    "/desk?q=tern",
    "/desk?q=nothing+like+it",
    "/desk/intake",
    "/desk/intake?q=CP1001",
    f"/desk/intake?vehicle={VEHICLE.id}",
    "/desk/vehicles",
    "/desk/vehicles?q=okonjo",
    "/desk/vehicles/new?plate=AB+1",
    f"/desk/vehicles/{VEHICLE.id}",
    "/desk/customers",
    "/desk/customers?q=mira",
    "/desk/customers/new",
    f"/desk/customers/{CUSTOMER.id}",
)
INTAKE = {
    "vehicle": VEHICLE.id,
    "form_id": "01980000-0000-7000-8000-00000000000a",
    "complaint": "Clunks over bumps",
    "front.ball_joint.lower.sides": "left",
}


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def dee(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), DEE)


def kept(text: str, typed: str) -> bool:
    return f'value="{escape(typed)}"' in text or f">{escape(typed)}</textarea>" in text


@pytest.mark.parametrize("address", PAGES)
def test_each_page_is_served_to_desk_and_foreman_and_to_nobody_else(here: Workshop, address: str) -> None:
    app = an_app(here)

    assert a_visitor(app, DEE).get(address).status_code == 200
    assert a_visitor(app, FAY).get(address).status_code == 200
    assert a_visitor(app, ADA).get(address).status_code == 403


@pytest.mark.parametrize("address", ["/desk/vehicles/nobody", "/desk/customers/nobody", "/desk/intake?vehicle=nobody"])
def test_an_unknown_thing_is_a_plain_404(dee: Visitor, address: str) -> None:
    assert dee.get(address).status_code == 404
    if "?" not in address:
        assert dee.sends(address, {"name": "x"}).status_code == 404


def test_every_place_of_the_desk_is_reached_from_its_front(here: Workshop, dee: Visitor) -> None:
    front = dee.get("/desk").text

    for place in ("intake", "vehicles", "customers", "figures", "tools", "tracing", "prices", "tablets", "workshop"):
        assert f'href="/desk/{place}"' in front
        assert dee.get(f"/desk/{place}").status_code == 200


def test_a_known_plate_goes_straight_to_its_intake(dee: Visitor) -> None:
    for typed in ("CP 1001", "cp1001", "cp-1001"):
        assert "What the customer complains of" in dee.get(f"/desk/intake?q={typed}").text


def test_an_unknown_plate_offers_to_take_the_vehicle_in(dee: Visitor) -> None:
    assert "/desk/vehicles/new?plate=ZZ%209" in dee.get("/desk/intake?q=ZZ 9").text


def test_an_intake_opens_a_job_and_says_its_number(here: Workshop, dee: Visitor) -> None:
    answer = dee.fills_in(
        f"/desk/intake?vehicle={VEHICLE.id}",
        "/desk/intake",
        {
            "complaint": "Clunks over bumps",
            "odometer_km": "84 210",
            "promised_at": "2026-06-08T17:00",
            "front.ball_joint.lower.sides": "both",
        },
    )

    assert answer.status_code == 303, answer.text
    (job,) = here.all("jobs")
    assert [line.corner for line in job.lines] == ["left", "right"]
    # 17:00 on the shop's wall in Helsinki is 14:00 UTC in June.
    assert (job.promised_at.hour, job.opened_by) == (14, DEE.id)
    page = dee.get(answer.headers["location"]).text
    assert f"Job {job.number} is open." in page
    assert "Promised 17:00" in page


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("complaint", ""),
        ("complaint", "x" * 1_500),
        ("odometer_km", "-3"),
        ("odometer_km", "1e99"),
        ("promised_at", "next week"),
        ("promised_at", "2026-02-31T10:00"),
        ("promised_at", "9999-12-31T23:59"),
        ("promised_at", "2020-01-01T10:00"),
    ],
)
def test_a_slip_at_intake_is_told_and_the_rest_is_kept(here: Workshop, dee: Visitor, field: str, typed: str) -> None:
    answer = dee.sends("/desk/intake", INTAKE | {field: typed, "rear.inspection.sides": ["yes"]})

    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text
    assert kept(answer.text, typed)
    assert 'name="rear.inspection.sides" value="yes" checked' in answer.text
    assert not here.all("jobs")


def test_a_side_that_no_form_offers_is_no_line(here: Workshop, dee: Visitor) -> None:
    answer = dee.sends("/desk/intake", INTAKE | {"front.ball_joint.lower.sides": "middle"})

    assert answer.status_code == 422
    assert 'href="#lines"' in answer.text
    assert not here.all("jobs")


def test_missing_facts_become_fields_on_the_intake_itself(here: Workshop, dee: Visitor) -> None:
    here.save("vehicles", replace(VEHICLE, front=replace(FRONT, facts=())))

    asked = dee.sends("/desk/intake", INTAKE)

    assert asked.status_code == 422
    assert 'id="front.joint_fixing"' in asked.text
    answers: dict[str, Any] = {}
    for _ in range(4):
        names = [part.split('"')[0] for part in asked.text.split('<select class="input" id="')[1:]]
        answers |= {name: _first_choice(asked.text, name) for name in names if name.count(".") == 1}
        asked = dee.sends("/desk/intake", INTAKE | answers)
        if asked.status_code == 303:
            break
    assert asked.status_code == 303, asked.text
    assert dict(here.get("vehicles", VEHICLE.id).front.facts)["joint_fixing"] == "riveted"


def _first_choice(text: str, name: str) -> str:
    options = text.split(f'<select class="input" id="{name}"')[1].split("</select>")[0]
    return options.split('<option value="')[2].split('"')[0]


def test_what_does_not_apply_is_shown_with_why(dee: Visitor) -> None:
    text = dee.get(f"/desk/intake?vehicle={VEHICLE.id}").text

    assert "Not for this axle" in text
    assert "This axle stands on leaf springs; it has no coil to change." in unescape(text)


def test_an_open_job_on_the_vehicle_is_said_at_its_intake(here: Workshop, dee: Visitor) -> None:
    job = here.opens()

    text = dee.get(f"/desk/intake?vehicle={VEHICLE.id}").text

    assert f"Job {job.number} is open on this vehicle already" in text


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("plate", ""),
        ("plate", "P" * 60),
        ("plate", "cp 1001"),
        ("vin", "IOQ"),
        ("vin", "1M8GDM9AXKPO42788"),
        ("tyre_front", "205/55R99"),
        ("wheelbase", "2,700"),
        ("front.mass", "-900 kg"),
        ("front.mass", "900000000 kg"),
        ("front.mass", '"><script>alert(1)</script>'),
        ("rear.spring.rate", "30 N·m"),
        ("hv_wait", "ten"),
        ("year", "soon"),
        ("front.stabiliser", "maybe"),
    ],
)
def test_a_slip_on_a_vehicle_is_told_and_everything_is_kept(
    here: Workshop, dee: Visitor, field: str, typed: str
) -> None:
    form = TYPED | {"colour": "sea green", "high_voltage": "yes", "rear.spring.source": "Data sheet"}

    answer = dee.sends("/desk/vehicles/new", form | {field: typed})

    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text
    assert kept(answer.text, typed) or field == "front.stabiliser"
    assert kept(answer.text, "sea green")
    assert "<script>alert" not in answer.text
    assert len(here.all("vehicles")) == 1


def test_a_vehicle_is_taken_in_and_its_number_and_tyres_are_explained(here: Workshop, dee: Visitor) -> None:
    form = TYPED | {"vin": "1M8GDM9A1KP042788", "tyre_front": "205/55R16 91V"}

    answer = dee.sends("/desk/vehicles/new", form)

    text = unescape(dee.get(answer.headers["location"]).text)
    assert "so position 9 ought to be X; it is 1" in text
    # Section height is width times aspect ratio (ISO 4000-1): 205 mm at 55 % is 112.75 mm; load index 91 is 615 kg.
    assert "112.8 mm from rim to tread" in text
    assert "615 kg" in text


def test_a_failing_form_of_a_vehicle_keeps_a_new_customer_too(here: Workshop, dee: Visitor) -> None:
    form = TYPED | {"customer": "new", "customer.name": "王小明", "customer.email": "no-at-sign", "plate": "ok 1"}

    answer = dee.sends("/desk/vehicles/new", form)

    assert answer.status_code == 422
    assert kept(answer.text, "王小明")
    assert kept(answer.text, "no-at-sign")
    assert 'href="#customer.email"' in answer.text


def test_choosing_a_layout_brings_its_questions_with_and_without_script(dee: Visitor) -> None:
    form = TYPED | {"front.layout": "solid_leaf"}

    part = dee.sends("/desk/vehicles/axle/front", form, **{"hx-request": "true"})
    whole = dee.sends("/desk/vehicles/new", form | {"look": "1"})

    for answer in (part, whole):
        assert answer.status_code == 200
        assert 'name="front.axle_joints"' in answer.text
        assert 'name="front.strut_unit"' not in answer.text
    assert "<html" not in part.text
    assert dee.sends("/desk/vehicles/axle/middle", form).status_code == 404


def test_changing_a_vehicle_says_that_an_open_sheet_stays_as_it_was(here: Workshop, dee: Visitor) -> None:
    job = here.opens()
    pinned = here.sheet(job).packet

    answer = dee.fills_in(f"/desk/vehicles/{VEHICLE.id}", f"/desk/vehicles/{VEHICLE.id}", {"front.mass": "950 kg"})

    assert answer.status_code == 303, answer.text
    text = dee.get(answer.headers["location"]).text
    assert f'href="/jobs/{job.number}"' in text
    assert "stays as it was made" in text
    assert here.get("vehicles", VEHICLE.id).front.mass_g == 950_000
    assert here.sheet(job).packet == pinned


def test_someone_elses_change_is_told_once_and_then_what_is_sent_again_counts(here: Workshop, dee: Visitor) -> None:
    address = f"/desk/customers/{CUSTOMER.id}"
    stale = {"name": "Mira O.", "email": CUSTOMER.email, "phone": "", "language": "en", "seen": "0" * 64}

    first = dee.sends(address, stale)

    assert first.status_code == 422
    assert "Someone else changed this record" in first.text
    assert kept(first.text, "Mira O.")
    seen = first.text.split('name="seen" value="')[1].split('"')[0]
    assert dee.sends(address, stale | {"seen": seen}).status_code == 303


@pytest.mark.parametrize(
    ("field", "typed"), [("name", ""), ("name", "n" * 150), ("email", "a b@c.example"), ("phone", "call me")]
)
def test_a_slip_on_a_customer_is_told_and_everything_is_kept(dee: Visitor, field: str, typed: str) -> None:
    form = {"name": "Ψίλα", "email": "psila@karava.example", "phone": "12", "language": "el"}

    answer = dee.sends("/desk/customers/new", form | {field: typed})

    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text
    for name, value in (form | {field: typed}).items():
        assert name == "language" or kept(answer.text, value)
    assert '<option value="el" selected>' in answer.text


def test_a_name_that_is_markup_is_shown_as_text(here: Workshop, dee: Visitor) -> None:
    name = '<b onclick="x">Bold & Sons</b>'

    answer = dee.sends("/desk/customers/new", {"name": name, "language": "en"})

    text = dee.get(answer.headers["location"]).text
    assert f'<h1 dir="auto">{escape(name)}</h1>' in text
    assert "<b onclick" not in text


def test_the_front_page_says_what_waits(here: Workshop, dee: Visitor) -> None:
    here.save("customers", replace(CUSTOMER, email=""))
    here.save("vehicles", replace(VEHICLE, front=replace(FRONT, mass_g=None)))
    job = here.opens(promised_at=MONDAY.replace(hour=9))
    here.clock.forward(hours=2)

    text = dee.get("/desk").text

    assert f"Job {job.number}" in text
    assert "That time has passed" in text
    assert f"{CUSTOMER.name} has no e-mail address" in text
    assert "front axle: mass" in text


def test_the_open_jobs_alone_are_fetched_again_when_something_changed(here: Workshop, dee: Visitor) -> None:
    here.opens()

    part = dee.get("/desk", **{"hx-request": "true"})

    assert part.text.lstrip().startswith('<section id="open-jobs"')
    assert "<html" not in part.text


def test_a_job_that_is_over_stands_in_the_history_alone(here: Workshop, dee: Visitor) -> None:
    job: Job = here.opens()
    here.save("jobs", replace(job, state=JobState.HANDED_BACK))

    assert f"Job {job.number}" not in dee.get("/desk").text
    assert "handed back" in dee.get(f"/desk/vehicles/{VEHICLE.id}").text


@pytest.mark.parametrize("address", ["/desk/intake", "/desk/vehicles/new", "/desk/customers/new"])
def test_an_empty_form_and_a_forged_one_are_refused_without_a_500(dee: Visitor, address: str) -> None:
    fields = {"vehicle": VEHICLE.id} if address == "/desk/intake" else {}

    assert dee.sends(address, fields).status_code == 422
    assert dee.client.post(address, data=fields, follow_redirects=False).status_code == 403
