"""The Desk's registers as pages: every slip told beside its field, nothing typed lost, never a 500."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest

from app.domain.procedure import Book
from app.domain.records import MessageState, OutgoingMessage
from app.use_cases.keep_figure import FigureWanted, compare_figure, enter_figure
from app.use_cases.keep_tool import ToolWanted, add_tool
from app.use_cases.read_figure import FigureTyped
from tests.builders import ADA, DEE, FAY
from tests.offices import MONDAY, VEHICLE, Visitor, Workshop, a_visitor, an_app, an_office, forms_in, the_book

SCRIPT = "<script>alert(1)</script>"
BAD = (
    "",
    SCRIPT,
    "x" * 900,
    "-1",
    "0",
    "1,234",
    "9" * 60,
    "12 bananas",
    "Infinity",
    "١١٠",
    "110 N·m 5",
    "2026-02-30",
    "\0",
)


@pytest.fixture
def here() -> Workshop:
    return an_office()


@pytest.fixture
def fay(here: Workshop) -> Visitor:
    return a_visitor(an_app(here), FAY)


def visits(here: Workshop, someone: Any) -> Visitor:
    return a_visitor(an_app(here), someone)


FIGURE = {
    "model": VEHICLE.model, "axle": "front", "place_key": "lower_ball_joint_stud", "shape": "single", "unit": "N·m",
    "target": "110", "thread": "M14x1.5", "strength": "8.8", "document": "Workshop manual", "page": "2-14",
    "document_date": "2014",
}  # fmt: skip
WANTED = FigureWanted(
    VEHICLE.model, "front", "lower_ball_joint_stud", FigureTyped("single", "N·m", target="110"), thread="M14x1.5",
    strength="8.8", document="Workshop manual", page="2-14", document_date="2014",
)  # fmt: skip
BAY = {"name": "Bay 9", "lift": "two_post", "capacity": "3500 kg", "inspected_on": "2026-01-15"}
WRENCH = {
    "kind": "torque_wrench", "tag": "W9", "name": "Click wrench", "unit": "N·m", "low": "40", "high": "200",
    "length": "420 mm", "due_on": "2026-12-31",
}  # fmt: skip
STANDS = {"kind": "stands", "tag": "S1", "name": "Stands", "rating": "3 t", "basis": "pair"}
PERSON = {"name": "Ivo", "role_technician": "yes", "pin": "4792", "pin_again": "4792"}
SHOP = {
    "name": "Kettle Lane Axles", "address": "3 Kettle Lane", "email": "desk@kettle-lane.example", "phone": "1",
    "timezone": "Europe/Helsinki", "torque_unit": "N·m", "gate_minutes": "60", "stand_margin_percent": "25",
    "compressor_margin_percent": "25", "retorque_km": "80", "retorque_days": "14", "watch_months": "6",
    "watch_km": "10000", "comeback_days": "90", "language": "en",
}  # fmt: skip
FORMS = {
    "/desk/people": PERSON, "/desk/bays": BAY, "/desk/tools": WRENCH, "/desk/figures": FIGURE, "/desk/workshop": SHOP,
}  # fmt: skip


@pytest.mark.parametrize(("address", "fields"), FORMS.items())
def test_what_is_filled_in_well_is_kept(fay: Visitor, address: str, fields: dict[str, str]) -> None:
    answer = fay.sends(address, fields)
    assert answer.status_code == 303, answer.text
    assert "Kept." in fay.get(answer.headers["location"]).text


EACH_FIELD = [(address, name) for address, fields in FORMS.items() for name in fields]


@pytest.mark.parametrize(("address", "name"), EACH_FIELD)
def test_whatever_is_typed_into_any_field_gets_an_answer(fay: Visitor, address: str, name: str) -> None:
    """Kept, or sent back with a sentence and everything typed; never a 500."""
    for bad in BAD:
        answer = fay.sends(address, {**FORMS[address], name: bad})
        assert answer.status_code in (303, 422), (bad, answer.text)
        if answer.status_code == 422:
            assert "Not sent yet" in answer.text, bad
            assert SCRIPT not in answer.text
            assert "…" not in told_in(answer.text), bad
            kept = typed_in(answer.text)
            for other, text in FORMS[address].items():
                if other != name and other not in ("pin", "pin_again", "kind"):
                    assert kept.get(other, "") == text, (bad, other)


@pytest.mark.parametrize("address", FORMS)
def test_an_empty_form_is_sent_back(fay: Visitor, address: str) -> None:
    answer = fay.sends(address, {})
    assert answer.status_code == 422
    assert "Not sent yet" in answer.text


def told_in(page: str) -> str:
    start = page.index('class="told"')
    return unescape(page[start : page.index("</div>", start)])


def typed_in(page: str) -> dict[str, str]:
    """Everything that stands in the page's fields."""
    # A browser drops the line break that a text area begins with.
    return {name: text.removeprefix("\n") for fields in forms_in(page).values() for name, text in fields.items()}


def test_problems_link_to_their_fields_and_stand_beside_them(fay: Visitor) -> None:
    page = fay.sends("/desk/bays", {**BAY, "capacity": "much"}).text
    assert '<a href="#capacity">' in page
    assert 'id="capacity-trouble"' in page
    assert 'aria-invalid="true"' in page
    assert 'value="much"' in page


# --- People ----------------------------------------------------------------------------------------------------------


def test_a_pin_is_never_shown_again(fay: Visitor) -> None:
    page = fay.sends("/desk/people", {**PERSON, "pin": "4792", "pin_again": "4793"}).text
    assert "4792" not in page
    assert "4793" not in page
    assert 'value="Ivo"' in page


def test_somebody_new_can_sign_in(here: Workshop, fay: Visitor) -> None:
    fay.sends("/desk/people", PERSON)
    ivo = next(one for one in here.all("people") if one.name == "Ivo")
    stranger = a_visitor(an_app(here), ADA).client
    answer = stranger.post("/sign-in", data={"person": ivo.id, "pin": "4792"}, follow_redirects=False)
    assert answer.status_code == 303


def test_the_last_foremans_form_says_why_and_keeps_the_ticks(fay: Visitor, here: Workshop) -> None:
    here.save("people", replace(here.get("people", "p-gus"), active=False))
    answer = fay.sends(f"/desk/people/{FAY.id}", {"name": "Fay", "role_desk": "yes", "active": "yes"})
    assert answer.status_code == 422
    assert "last foreman" in told_in(answer.text)
    assert 'name="role_desk" value="yes" checked' in answer.text


def test_a_locked_person_is_let_in_again(fay: Visitor, here: Workshop) -> None:
    ada = here.get("people", ADA.id)
    here.save("people", replace(ada, wrong_tries=8, locked_until=MONDAY + timedelta(minutes=10)))
    assert "locked until 11:10" in fay.get("/desk/people").text or "11:10" in fay.get("/desk/people").text
    assert fay.sends(f"/desk/people/{ADA.id}/lock").status_code == 303
    assert here.get("people", ADA.id).locked_until is None


# --- Tools -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["torque_wrench", "stands", "jack", "spring_compressor", "hammer", SCRIPT])
def test_a_form_for_a_new_tool_opens_for_any_kind(fay: Visitor, kind: str) -> None:
    assert fay.get(f"/desk/tools/new?kind={kind}").status_code == 200


def test_stands_say_each_or_pair(fay: Visitor) -> None:
    fay.sends("/desk/tools", STANDS)
    assert "3000 kg, the pair" in fay.get("/desk/tools").text


@pytest.mark.parametrize("unit", ["lbf·ft", "kgf·m", "N·m"])
def test_a_tool_opens_with_what_is_known_and_can_be_sent_unchanged(fay: Visitor, here: Workshop, unit: str) -> None:
    """What a form shows is what it sends: a rounded amount would creep in by being saved again."""
    fay.sends(
        "/desk/tools", {**WRENCH, "unit": unit, "low": "27.116 N·m", "high": "150.333 N·m", "length": "16 1/2 in"}
    )
    tool = here.all("tools")[0]
    address = f"/desk/tools/{tool.id}"
    assert fay.fills_in(address, address).status_code == 303
    assert here.get("tools", tool.id) == tool


def test_tagging_out_without_a_reason_is_sent_back(fay: Visitor, here: Workshop) -> None:
    tool = add_tool(here.office, FAY.id, ToolWanted("W9", "torque_wrench", "Wrench", "N·m", "40", "200")).tool
    answer = fay.sends(f"/desk/tools/{tool.id}/fault", {"fault": ""})
    assert answer.status_code == 422
    assert "why it is out of use" in told_in(answer.text)
    fay.sends(f"/desk/tools/{tool.id}/fault", {"fault": "dropped"})
    assert "Out of use: dropped" in fay.get("/desk/tools").text


# --- Figures ---------------------------------------------------------------------------------------------------------

PLACE = f"/desk/figures/place?model={VEHICLE.model}&axle=front&place=lower_ball_joint_stud"
LISTS = (PLACE, f"/desk/figures?model={VEHICLE.model}", "/desk/figures")


def test_the_second_person_never_gets_the_first_reading(here: Workshop) -> None:
    """Neither the number nor its window is on any page another person can open before typing it."""
    figure = enter_figure(
        here.office, DEE.id, replace(WANTED, typed=FigureTyped("single", "N·m", target="113.7"))
    ).figure
    here.opens()
    fay = visits(here, FAY)
    for address in (*LISTS, f"/desk/figures/{figure.id}/compare"):
        page = fay.get(address).text
        assert "113" not in page, address
        assert "109" not in page, address
    assert "113.7 N·m" in visits(here, DEE).get(PLACE).text


def test_typing_it_again_the_same_makes_it_count(here: Workshop) -> None:
    figure = enter_figure(here.office, DEE.id, WANTED).figure
    fay = visits(here, FAY)
    action = f"/desk/figures/{figure.id}/compare"
    answer = fay.fills_in(action, action, {"target": "110"})
    assert "The figure counts now" in fay.get(answer.headers["location"]).text
    assert "house rule ±4 %" in fay.get(PLACE).text


def test_two_readings_that_differ_are_shown_to_the_foreman_alone(here: Workshop) -> None:
    figure = enter_figure(here.office, DEE.id, WANTED).figure
    compare_figure(here.office, "p-gus", figure.id, FigureTyped("single", "N·m", target="101"))
    action = f"/desk/figures/{figure.id}/compare"
    seen = visits(here, FAY).get(action).text
    assert "110 N·m" in seen
    assert "101 N·m" in seen
    desk = visits(here, DEE)
    assert "101 N·m" not in desk.get(action).text
    assert "101 N·m" not in desk.get(PLACE).text
    answer = desk.sends(action, {"shape": "single", "unit": "N·m", "target": "101"})
    assert answer.status_code == 422
    assert "foreman" in told_in(answer.text)


def test_a_doubt_is_shown_with_its_reason_and_kept_only_when_confirmed(here: Workshop, fay: Visitor) -> None:
    odd = {**FIGURE, "thread": "M8"}
    answer = fay.sends("/desk/figures", odd)
    assert answer.status_code == 422
    assert "M8 8.8" in told_in(answer.text)
    assert here.all("figures") == ()

    sure = {**odd, "confirmed": "110 N·m | M8 | 8.8 | - | used again"}
    assert "Say why" in told_in(fay.sends("/desk/figures", sure).text)
    assert fay.sends("/desk/figures", {**sure, "confirmed_because": "Table 4"}).status_code == 303
    assert "Table 4" in fay.get(PLACE).text


def test_what_open_sheets_wait_for_is_listed(here: Workshop, fay: Visitor) -> None:
    assert "No open sheet waits" in fay.get("/desk/figures").text
    job = here.opens()
    assert f"job {job.number}" in fay.get("/desk/figures").text


@pytest.mark.parametrize(
    "asked", ["", "?model=x", "?model=x&axle=both&place=wheel_nuts", "?model=x&axle=front&place=y"]
)
def test_a_place_that_is_none_is_not_there(fay: Visitor, asked: str) -> None:
    assert fay.get(f"/desk/figures/place{asked}").status_code == 404


# --- Post ------------------------------------------------------------------------------------------------------------

LETTER = OutgoingMessage(
    id="m-1", key="k-1", job="", to="mira@okonjo", subject="Your vehicle is ready", text="Dear Mira, it is ready.",
    html=f"<p>Dear Mira</p>{SCRIPT}", message_id="<m-1@kettle-lane.example>", made_at=MONDAY,
    state=MessageState.UNDELIVERABLE, tries=1, last_answer="550 5.1.1 no such user here",
)  # fmt: skip


def test_an_undeliverable_letter_says_what_the_server_said_and_goes_again(here: Workshop, fay: Visitor) -> None:
    here.add("outbox", LETTER)
    assert "550 5.1.1 no such user here" in fay.get("/desk/post").text

    answer = fay.sends("/desk/post/m-1", {"to": "mira@"})
    assert answer.status_code == 422
    assert 'value="mira@"' in answer.text

    assert fay.sends("/desk/post/m-1", {"to": "mira@okonjo.example"}).status_code == 303
    again = here.get("outbox", "m-1")
    assert (again.state, again.to, again.message_id) == (MessageState.WAITING, "mira@okonjo.example", LETTER.message_id)
    assert fay.sends("/desk/post/m-1", {"to": "mira@okonjo.example"}).status_code == 422


def test_a_letter_that_came_back_is_on_the_desk_s_front_until_it_is_sent_again(here: Workshop, fay: Visitor) -> None:
    job = here.opens()
    here.add("outbox", replace(LETTER, job=job.id, state=MessageState.SENT, sent_at=MONDAY, last_answer="250 OK"))
    assert "came back" not in fay.get("/desk").text

    empty = fay.fills_in("/desk/post/m-1", "/desk/post/m-1/return", {"because": "  "})
    assert empty.status_code == 422
    assert "Write down why it came back" in empty.text
    assert '<details class="fold" open>' in empty.text
    assert here.get("outbox", "m-1").state is MessageState.SENT

    noted = fay.fills_in("/desk/post/m-1", "/desk/post/m-1/return", {"because": "552 mailbox <full>"})
    assert noted.headers["location"] == "/desk/post/m-1?said=came_back"
    front = fay.get("/desk").text
    assert f"The letter of job {job.number} came back" in front
    assert "mira@okonjo: 552 mailbox &lt;full&gt;" in front
    assert 'href="/desk/post/m-1"' in front
    assert "552 mailbox &lt;full&gt;" in fay.get("/desk/post").text
    letter = fay.get("/desk/post/m-1").text
    assert "Why it came back" in letter
    assert FAY.name in letter
    assert fay.sends("/desk/post/m-1/return", {"because": "once more"}).status_code == 422

    again = fay.fills_in("/desk/post/m-1", "/desk/post/m-1", {"to": "mira@new.example", "for_customer": "yes"})
    assert again.status_code == 303
    assert here.get("outbox", "m-1").state is MessageState.WAITING
    assert here.get("customers", job.customer).email == "mira@new.example"
    assert "came back" not in fay.get("/desk").text
    assert "Why it came back before" in fay.get("/desk/post/m-1").text


def test_a_new_address_for_one_letter_leaves_the_customer_s_own(here: Workshop, fay: Visitor) -> None:
    job = here.opens()
    before = here.get("customers", job.customer).email
    here.add("outbox", replace(LETTER, job=job.id))

    assert fay.fills_in("/desk/post/m-1", "/desk/post/m-1", {"to": "once@okonjo.example"}).status_code == 303

    assert here.get("customers", job.customer).email == before


def test_a_technician_notes_no_letter_as_come_back(here: Workshop) -> None:
    here.add("outbox", replace(LETTER, state=MessageState.SENT, sent_at=MONDAY))
    ada = a_visitor(an_app(here), ADA)

    assert ada.sends("/desk/post/m-1/return", {"because": "no"}).status_code == 403
    assert here.get("outbox", "m-1").state is MessageState.SENT


def test_our_own_reason_is_put_into_words(here: Workshop, fay: Visitor) -> None:
    here.add("outbox", replace(LETTER, last_answer="address_no_dot"))
    assert "After the @ something is missing" in fay.get("/desk/post/m-1").text


def test_a_letters_html_is_shown_in_a_frame_that_can_do_nothing(here: Workshop, fay: Visitor) -> None:
    here.add("outbox", LETTER)
    around = fay.get("/desk/post/m-1")
    assert '<iframe class="letter" src="/desk/post/m-1/html"' in around.text
    assert SCRIPT not in around.text
    assert "frame-src 'self'" in around.headers["content-security-policy"]
    assert "script-src 'self'" in around.headers["content-security-policy"]

    letter = fay.get("/desk/post/m-1/html")
    policies = letter.headers.get_list("content-security-policy")
    assert len(policies) == 1
    assert policies[0].startswith("sandbox; default-src 'none'")
    assert "script-src" not in policies[0]
    assert letter.headers["x-content-type-options"] == "nosniff"


# --- Reading ---------------------------------------------------------------------------------------------------------


def book() -> Book:
    return the_book()


@pytest.mark.parametrize("key", sorted(book().procedures))
def test_a_procedure_reads_as_text(fay: Visitor, key: str) -> None:
    """Every step is there, no brace of the files is left, and every condition is in words."""
    answer = fay.get(f"/desk/procedures/{key}")
    assert answer.status_code == 200
    text = unescape(answer.text[answer.text.index("<main") :])
    assert "{" not in text
    for step in book().procedures[key].steps:
        assert f'id="step-{step.key}"' in text
    assert not re.search(r"[a-z]_[a-z]", re.sub(r"<[^>]+>", " ", text))


@pytest.mark.parametrize("key", sorted(book().gates))
def test_a_gate_reads_as_text(fay: Visitor, key: str) -> None:
    answer = fay.get(f"/desk/procedures/gates/{key}")
    assert answer.status_code == 200
    assert "{" not in answer.text[answer.text.index("<main") :]


def test_why_a_procedure_is_not_for_a_layout_is_said(fay: Visitor) -> None:
    text = unescape(fay.get("/desk/procedures/strut").text)
    assert "There is no strut to take off" in text
    assert "Long and short arms, coil on the lower arm" in text


@pytest.mark.parametrize(
    "asked", ["said=nonsense", "said=kept&sheets=<b>", f"said=kept&behind={SCRIPT}", "behind=26-0001"]
)
def test_an_address_puts_no_words_of_its_own_on_a_page(fay: Visitor, asked: str) -> None:
    page = fay.get(f"/desk/bays?{asked}").text
    assert "could not be brought" not in page
    assert "<b>" not in page
