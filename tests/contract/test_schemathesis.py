"""The real application under generated requests: every route, as everyone who may use it, with ids that are there.

Two attacks. Schemathesis sends what the application's own OpenAPI description allows and forbids, with the fields of
forms added here (forms are read by hand, so the description does not know them). And each form of every page is sent
back with what people and machines put into fields: nothing, too much, other units, other alphabets. Whatever comes,
no answer may be a fault of ours, every answer carries the security headers, and a refused form keeps what was typed.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from app.web.security import HEADERS, WITH_PARTS
from demo.browser import Form, read_page
from tests.contract.test_routes import every_route
from tests.lived_in import ONE_FOR, LivedIn, lived_in
from tests.typed import as_kept

# Not sent: a stream that never ends by itself, and leaving, after which nothing is tested any more.
LEFT_OUT = ("/events/{topic}", "/sign-out")
PAGE, DATA = "text/html; charset=utf-8", "application/json"
OTHERS = (
    "text/plain; charset=utf-8", "text/csv; charset=utf-8", "text/javascript; charset=utf-8", "application/pdf",
    "application/manifest+json",
)  # fmt: skip

# The forms that are not on the pages below in full, by path: their fields. `number` and the like are in the path.
FIELDS: dict[str, tuple[str, ...]] = {
    "/sign-in": ("person", "pin", "after"),
    "/sign-in/language": ("language", "after"),
    "/floor/placements": ("job", "bay", "technician", "begins_at", "ends_at"),
    "/floor/placements/{placement}": ("bay", "technician", "begins_at", "ends_at"),
    "/floor/placements/{placement}/withdrawal": (),
    "/jobs/{number}/entries": (
        "kind", "id", "step", "fastener", "gate", "sheet_form", "basis_step", "basis_packet", "basis_support",
        "basis_gates", "wrench", "reading.0", "value.front_left", "choice", "verdict", "reason", "state", "axle",
        "bears", "text", "to", "note", "look", "new_part", "extension", "angle", "hold", "seen", "noted_at",
    ),
    "/jobs/{number}/asides/{aside}": ("outcome", "reason"),
    "/jobs/{number}/holds/{hold}": ("reason",),
    "/jobs/{number}/handback": ("note", "may_mail", "comes_at"),
    "/jobs/{number}/letters": ("why", "may_mail", "comes_at"),
    "/jobs/{number}/measured": ("text", "sure"),
    "/jobs/{number}/shims": ("place", "bolt", "before", "after"),
    "/jobs/{number}/edition": ("reason",),
    "/jobs/{number}/lines": ("front.ball_joint.lower.sides", "front.inspection.sides", "rear.strut.sides"),
    "/jobs/{number}/cancellation": ("reason",),
    "/desk/intake": (
        "vehicle", "complaint", "comeback", "odometer_km", "promised_at", "may_mail", "front.ball_joint.lower.sides",
        "front.inspection.sides", "front.shock_absorber.sides", "front.shock_absorber.unit",
    ),
    "/desk/reminders/{reminder_id}": ("words",),
    "/desk/vehicles/new": (
        "customer", "customer_name", "plate", "vin", "model", "year", "colour", "tyre_front", "tyre_rear", "wheelbase",
        "front.layout", "front.mass", "front.track", "front.rate", "rear.layout", "rear.mass", "front.joint_fixing",
    ),
    "/desk/vehicles/axle/{axle}": ("front.layout", "rear.layout"),
    "/desk/vehicles/{vehicle_id}": (
        "customer", "plate", "vin", "model", "year", "wheelbase", "front.layout", "front.mass",
    ),
    "/desk/customers/new": ("name", "email", "phone", "language", "may_mail"),
    "/desk/customers/{customer_id}": ("name", "email", "phone", "language", "may_mail"),
    "/desk/people": ("name", "roles", "pin", "pin_again", "language"),
    "/desk/people/{person_id}": ("name", "roles", "pin", "pin_again", "active", "language"),
    "/desk/people/{person_id}/lock": (),
    "/desk/bays": ("name", "lift", "capacity", "inspected_on"),
    "/desk/bays/{bay_id}": ("name", "lift", "capacity", "inspected_on"),
    "/desk/tools": ("tag", "kind", "name", "unit", "low", "high", "length", "due_on", "rating", "basis"),
    "/desk/tools/{tool_id}": ("tag", "kind", "name", "unit", "low", "high", "length", "due_on", "rating", "basis"),
    "/desk/tools/{tool_id}/fault": ("fault",),
    "/desk/tools/{tool_id}/in-use": (),
    "/desk/figures": (
        "model", "axle", "place_key", "place", "unit", "torque", "low", "high", "turn", "thread", "strength",
        "lubrication", "one_time", "critical", "document", "page", "document_date",
    ),
    "/desk/figures/{figure_id}/compare": ("unit", "torque", "low", "high", "turn"),
    "/desk/figures/{figure_id}/withdraw": ("reason",),
    "/desk/prices": ("currency", "hour_rate", "tax", "law", "registration", "basis", "valid_days", "tear_down"),
    "/jobs/{number}/estimate/answer": (
        "form_id", "edition", "yes", "way", "name", "number", "read_out", "said_at", "signature", "tick", "words",
        "old_parts",
    ),
    "/jobs/{number}/estimate/prices": (
        "form_id", "edition", "line", "hours", "rate", "discount", "part.0", "price.0", "reason",
    ),
    "/desk/figures/file": ("file", "how"),
    "/desk/figures/file/{import_id}": ("go",),
    "/desk/figures/sheets/{choice_id}": ("choice", "reason"),
    "/desk/tools/{tool_id}/calibrations": (
        "id", "done_on", "done_by", "document", "set.0", "measured.0", "set.1", "measured.1", "due_on", "adjusted",
        "sure", "certificate",
    ),
    "/desk/tools/{tool_id}/mishaps/{event_id}": ("seen_words", "back"),
    "/desk/tracing/calibrations/{calibration_id}/rechecks": (),
    "/desk/tracing/figures/{figure_id}/rechecks": (),
    "/tools/{tag}/borrow": (),
    "/tools/{tag}/give-back": (),
    "/tools/{tag}/mishaps": ("id", "kind", "words", "torque"),
    "/jobs/{number}/photos": ("step", "name", "file", "entry"),
    "/desk/tablets/codes": (),
    "/desk/tablets/{tablet_id}/name": ("name",),
    "/desk/tablets/{tablet_id}/retire": ("reason",),
    "/floor/tablets/{alarm_id}": ("reason",),
    "/desk/workshop/take-out": ("pin",),
    "/desk/workshop": ("name", "address", "email", "phone", "timezone", "language", "margin", "stand_margin"),
    "/desk/post/{letter_id}": ("to", "for_customer"),
    "/desk/post/{letter_id}/return": ("because",),
    "/reckoner/{slug}": ("value", "trace", "unit", "torque"),
}  # fmt: skip

here: LivedIn = lived_in()
app: FastAPI = here.app()
ROUTES = tuple(one for one in every_route(app) if one.path not in LEFT_OUT and one.path != "/static")
FORM_ROUTES = tuple(one for one in ROUTES if one.method == "POST" and not one.path.startswith("/sync/"))


def _signed_in(person: str) -> tuple[TestClient, str]:
    """Somebody at a browser, and the token their forms carry."""
    client = here.signed_in(app, person)
    found = re.search(r'name="csrf" value="([^"]+)"', client.get("/nothing-here").text)
    assert found is not None
    return client, found[1]


BROWSERS = {person: _signed_in(person) for person in ONE_FOR.values()}
STRANGER = TestClient(app, base_url="http://office.test", raise_server_exceptions=False, follow_redirects=False)
# Everything as it was, three people signed in: each request begins here, so that a failure comes again.
BEGINNING = here.store._state


def one_with(roles: Any) -> str:
    return next(person for role, person in ONE_FOR.items() if not roles or role in roles)


def holds(answer: Any, what: str) -> None:
    """What every answer has to be, whatever was asked."""
    assert answer.status_code < 500, f"{what}: {answer.status_code}"
    assert answer.status_code != 422 or 'class="told"' in answer.text or "<h1" in answer.text or _is_data(answer), what
    # What tablets carry holds nobody's records: the one thing here that may be kept.
    path = urlsplit(str(answer.url)).path
    kept = dict.fromkeys(("/worker.js", "/bundle/manifest.json"), "no-cache")
    kept["/manifest.webmanifest"] = "public, max-age=86400"
    assert answer.headers["cache-control"] == (kept.get(path, "no-store") if answer.is_success else "no-store"), what
    is_part = path == "/bundle/manifest.json" and answer.is_success
    for name, value in HEADERS.items():
        if is_part and name not in WITH_PARTS:
            continue
        if name == "Content-Security-Policy":
            assert "frame-ancestors" in answer.headers[name], what
        else:
            assert answer.headers[name] == value, what
    if answer.status_code not in (303, 401):
        assert answer.headers["content-type"] in (PAGE, DATA, *OTHERS), what


def _is_data(answer: Any) -> bool:
    return bool(answer.headers["content-type"] == DATA)


# --- What the description allows --------------------------------------------------------------------------------------


def test_every_form_has_its_fields_listed() -> None:
    """So that a new form is attacked from the day it is there."""
    assert {one.path for one in FORM_ROUTES} == set(FIELDS)


def described() -> dict[str, Any]:
    """The application's own description with the forms added, and real ids as the examples of every path."""
    spec = app.openapi()
    ids = here.ids()
    for path, methods in spec["paths"].items():
        for operation in methods.values():
            for parameter in operation.get("parameters", ()):
                if parameter["in"] == "path" and parameter["name"] in ids:
                    known = ids[parameter["name"]][:40]
                    parameter["schema"] = {"anyOf": [{"enum": known}, {"type": "string", "minLength": 1}]}
        if "post" in methods and path in FIELDS:
            methods["post"]["requestBody"] = {"content": {"application/x-www-form-urlencoded": {"schema": {
                "type": "object",
                "properties": {name: _field(name, ids) for name in FIELDS[path]},
                "additionalProperties": False,
            }}}}  # fmt: skip
    for path in LEFT_OUT:
        spec["paths"].pop(path, None)
    return spec


def _field(name: str, ids: dict[str, list[str]]) -> dict[str, Any]:
    known = {
        "job": "number", "bay": "bay_id", "technician": "person_id", "to": "person_id", "vehicle": "vehicle_id",
        "customer": "customer_id", "person": "person_id",
    }  # fmt: skip
    likely = ids[known[name]] if name in known else LIKELY.get(name, ["1", "110 N·m", "yes", "left"])
    return {"anyOf": [{"enum": likely}, {"type": "string", "maxLength": 300}]}


LIKELY: dict[str, list[str]] = {
    "kind": ["gate_answered", "signed_off", "step_done", "countersigned", "support_changed", "torque_wrench", "stands"],
    "begins_at": ["2026-06-09T10:00", "9999-12-31T23:59", "0001-01-01T00:00"],
    "comes_at": ["2026-06-11T09:30", "9999-12-31T23:59", "0001-01-01T00:00"],
    "may_mail": ["yes", "no", ""],
    "place": ["front_left", "rear_right", "ball_joint_nut"],
    "ends_at": ["2026-06-09T12:00", "9999-12-31T23:59", "0001-01-01T00:00"],
    "front.layout": ["strut", "wishbone_lower_coil", "none"],
    "due_on": ["2026-12-31", "0001-01-01"],
    "timezone": ["Europe/London", "../etc/passwd", "Nowhere/Town"],
}

schema = schemathesis.openapi.from_dict(described())


@schema.parametrize()
@settings(max_examples=12, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_no_described_request_breaks_anything(case: schemathesis.Case) -> None:
    here.store.publish(BEGINNING)
    method, path = case.method.upper(), sendable(case.formatted_path)
    what = f"{method} {case.path} {case.path_parameters} {case.query} {case.body}"
    routes = [one for one in ROUTES if (one.path, one.method) == (case.path, method)]
    if not routes:
        # A method this address does not have.
        holds(STRANGER.request(method, path), what)
        return
    client, token = (STRANGER, "") if routes[0].roles is None else BROWSERS[one_with(routes[0].roles)]
    if method == "GET":
        answer = client.get(path, params=dict(case.query or {}))
    elif isinstance(case.body, dict):
        answer = client.post(path, data={**_as_text(case.body), "csrf": token})
    else:
        answer = client.post(path, json={"tablet": "tablet-1", "entries": []}, headers={"x-csrf": token})
    holds(answer, what)
    # Who chooses a language goes back to signing in; nobody else who may be here is sent there.
    if path != "/sign-in/language":
        assert not answer.headers.get("location", "").startswith("/sign-in?"), what


def _as_text(body: dict[str, Any]) -> dict[str, str]:
    return {key: sendable(str(value)) for key, value in body.items()}


def sendable(text: str) -> str:
    """Without lone surrogates, which no browser and no client can put on the wire."""
    return text.encode("utf-8", "replace").decode()


# --- What is typed into the forms that are on the pages ---------------------------------------------------------------


@dataclass(frozen=True)
class Found:
    """A form as it stands on a page, and who has it before them."""

    person: str
    page: str
    action: str
    kind: str
    values: tuple[tuple[str, str], ...]
    offers: tuple[tuple[str, tuple[str, ...]], ...]
    written: tuple[str, ...]

    @property
    def sheet_form(self) -> str:
        return dict(self.values).get("sheet_form", "")

    @property
    def hidden(self) -> list[tuple[str, str]]:
        seen = {*self.written, *dict(self.offers), "csrf"}
        return [(name, value) for name, value in self.values if name not in seen]

    def __repr__(self) -> str:
        return f"{self.person} on {self.page}: form to {self.action} {self.kind}"


def forms_on(person: str, path: str, text: str) -> Iterator[Found]:
    for element in read_page(text).all("form"):
        form = Form(element)
        if form.method == "post" and form.action not in ("/sign-out", "/sign-in"):
            written = [one for one in element.walk() if one.tag == "textarea" or _is_written(one.tag, one.attrs)]
            offers = tuple((name, tuple(values)) for name, values in form.offers.items())
            names = tuple(dict.fromkeys(one.attrs["name"] for one in written if one.attrs.get("name")))
            yield Found(person, path, form.action, form.kind, tuple(form.values.items()), offers, names)


def _is_written(tag: str, attrs: Any) -> bool:
    return tag == "input" and attrs.get("type", "text") not in (
        "hidden",
        "radio",
        "checkbox",
        "submit",
        "password",
        "file",
    )


def forms_of_all_pages() -> tuple[Found, ...]:
    """One of each: the same form on another record is the same form."""
    found: dict[tuple[Any, ...], Found] = {}
    here.store.publish(BEGINNING)
    for person, path in here.pages():
        if person:
            for form in forms_on(person, path, BROWSERS[person][0].get(path).text):
                place = re.sub(r"[0-9a-f]{8}-[-0-9a-f]{27}|\b\d{2}-\d{4}\b", "*", form.action)
                found.setdefault((place, form.kind, form.written), form)
    return tuple(found.values())


FORMS = forms_of_all_pages()

NASTY = st.one_of(
    st.sampled_from([
        "", " ", "0", "-1", "1,5", "1.234,5", "1e9", "1e400", "-0", "NaN", "inf", "٣", "½", "110", "110 N·m",
        "110 Nm", "110 kg",
        "81 lbf·ft", "81 lb-ft", "2000 N·m", "-5 mm", "1/2 in", "3 3/8", "0x10", "1 2", "999999999999999999999999",
        "2026-02-30", "0001-01-01", "9999-12-31", "0001-01-01T00:00", "9999-12-31T23:59", "2026-06-09T10:00", "10:00",
        "<script>alert(1)</script>", "\"' onfocus=x", "{{ 7*7 }}", "{% raw %}", "a\r\nBcc: x@y.example", "a\nb",
        "\u202eabc", "\x00",
        "x" * 300, "x" * 5_000, "Zoë Ødegård", "Ψίλα", "🔩", "a@b", "a@b.example", "../../etc/passwd",
        "yes", "on", "both", "left",
        "torque_wrench", "strut", "p-ada", "bram", "bay-1", "tallis", "26-0005", "195/65 R15", "11111111111111111",
    ]),
    st.text(max_size=40).map(sendable),
    st.integers().map(str),
    st.floats().map(str),
)  # fmt: skip


@st.composite
def filled_in(draw: st.DrawFn) -> tuple[Found, dict[str, str]]:
    """A form of some page with anything in some of its fields, offered answers or not."""
    form = draw(st.sampled_from(FORMS))
    offers = dict(form.offers)
    fields = dict(form.values)
    names = [one for one in {**fields, **offers} if one != "csrf"]
    for name in draw(st.lists(st.sampled_from(names), unique=True, max_size=len(names))) if names else ():
        likely = st.sampled_from(offers[name]) if offers.get(name) else NASTY
        fields[name] = draw(st.one_of(NASTY, likely))
    return form, fields


@settings(max_examples=600, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(filled_in())
def test_no_form_breaks_and_none_loses_what_was_typed(case: tuple[Found, dict[str, str]]) -> None:
    form, fields = case
    here.store.publish(BEGINNING)
    answer = BROWSERS[form.person][0].post(form.action, data={**fields, "csrf": BROWSERS[form.person][1]})
    holds(answer, f"{form} {fields}")
    # A browser sends hidden fields back as they came; whoever bends them has typed nothing that could be kept.
    if answer.status_code == 422 and all(fields.get(name) == value for name, value in form.hidden):
        keeps(answer.text, form, fields)


def _of_another_layout(name: str, form: Found, fields: dict[str, str]) -> bool:
    """A coil's figures are not asked of an axle that was said to have none."""
    layout = f"{name.split('.')[0]}.layout"
    return fields.get(layout) != dict(form.values).get(layout)


def _sheet_form(form: Form) -> str:
    return form.values.get("sheet_form", "")


def keeps(text: str, form: Found, fields: dict[str, str]) -> None:
    """The page that refuses shows the form again, with every written field as it was typed."""
    root = read_page(text)
    again = [
        one for one in map(Form, root.all("form")) if (one.action, _sheet_form(one)) == (form.action, form.sheet_form)
    ]
    assert again, f"{form}: the form is not on the page that refuses it"
    shown = {
        name: html.unescape(value).replace("\r\n", "\n").strip() for one in again for name, value in one.values.items()
    }
    for name in form.written:
        if _of_another_layout(name, form, fields):
            continue
        typed = as_kept(fields.get(name, "")).strip()
        if typed and name in shown:
            assert shown[name] == typed, f"{form}: {name} was {typed!r} and is {shown[name]!r}"
        assert not typed or name in shown, f"{form}: {name} is gone, with {typed!r} in it"


def test_the_forms_are_those_of_the_product() -> None:
    """A hunt that finds no form would pass everything above."""
    kinds = {one.kind for one in FORMS}
    assert {"gate_answered", "hold_placed", "handed_over", "support_changed", "reading_taken"} <= kinds
    assert {"/desk/tools", "/desk/bays", "/desk/people", "/floor/placements"} <= {
        urlsplit(one.action).path for one in FORMS
    }
