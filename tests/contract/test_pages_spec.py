"""The spec book's pages: every kind of figure, sheets on a corrected one, figures as a file, through the real forms."""

from __future__ import annotations

import csv
import io
from typing import Any
from urllib.parse import urlencode

import pytest

from app.domain.records import FigureKind
from app.domain.spec_places import OTHER_PLACES
from app.use_cases.figure_csv import BYTES_LIMIT, COLUMNS
from app.use_cases.keep_figure import FigureWanted, compare_figure, enter_figure
from app.use_cases.read_figure import FigureTyped
from tests.builders import ADA, BEN, DEE, FAY
from tests.offices import VEHICLE, Visitor, Workshop, a_visitor, an_app, an_office, forms_in

NEW = "/desk/figures/new"
SHEETS = "/desk/figures/sheets"
FILE = "/desk/figures/file"
SOURCE = {"document": "Workshop manual", "page": "7-3", "document_date": "2014"}
CAMBER = {"model": VEHICLE.model, "axle": "front", "place_key": "camber", "low": "-1.25", "high": "0.25", **SOURCE}
HEIGHT = {
    "model": VEHICLE.model, "axle": "rear", "place_key": "ride_height", "target": "380", "tolerance": "8 mm",
    "tyre": "205/65 R15", "point": "lower edge of the arch", **SOURCE,
}  # fmt: skip


@pytest.fixture
def here() -> Workshop:
    return an_office()


def visits(here: Workshop, who: Any) -> Visitor:
    return a_visitor(an_app(here), who)


@pytest.fixture
def dee(here: Workshop) -> Visitor:
    return visits(here, DEE)


@pytest.fixture
def fay(here: Workshop) -> Visitor:
    return visits(here, FAY)


def place_at(key: str, axle: str = "front") -> str:
    return f"/desk/figures/place?{urlencode({'model': VEHICLE.model, 'axle': axle, 'place': key})}"


# --- Every kind ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", FigureKind)
def test_the_form_of_each_kind_offers_its_places_and_no_fields_of_another(dee: Visitor, kind: FigureKind) -> None:
    fields = forms_in(dee.get(f"{NEW}?kind={kind.value}").text)["/desk/figures"]
    is_joint = kind is FigureKind.FASTENER
    assert ("thread" in fields) is is_joint
    assert ("stage1" in fields) is is_joint
    assert ("tyre" in fields) is (kind is FigureKind.RIDE_HEIGHT)
    assert ("low" in fields) is (kind in (FigureKind.RIDE_HEIGHT, FigureKind.ALIGNMENT) or is_joint)


@pytest.mark.parametrize(("fields", "kind"), [(CAMBER, "alignment"), (HEIGHT, "ride_height")])
def test_a_figure_is_entered_compared_and_counts(
    here: Workshop, dee: Visitor, fay: Visitor, fields: dict[str, str], kind: str
) -> None:
    answer = dee.fills_in(f"{NEW}?kind={kind}", "/desk/figures", fields)
    assert answer.status_code == 303, answer.text
    assert "waits for a second person" in dee.get(answer.headers["location"]).text

    action = f"/desk/figures/{here.all('figures')[0].id}/compare"
    again = {name: fields.get(name, "") for name in ("low", "target", "high", "tolerance", "tyre") if name in fields}
    answer = fay.fills_in(action, action, again)
    assert "The figure counts now" in fay.get(answer.headers["location"]).text
    assert here.all("figures")[0].counts


def test_the_second_person_gets_no_window_on_any_page(here: Workshop, dee: Visitor, fay: Visitor) -> None:
    dee.fills_in(f"{NEW}?kind=alignment", "/desk/figures", {**CAMBER, "high": "0.37"})
    job = here.opens()
    action = f"/desk/figures/{here.all('figures')[0].id}/compare"
    pages = ("/desk/figures", f"/desk/figures?model={VEHICLE.model}", place_at("camber"), action, f"/jobs/{job.number}")
    for address in (*pages, f"/desk/figures/export.csv?model={VEHICLE.model}"):
        assert "0.37" not in fay.get(address).text, address
    assert "0.37" not in visits(here, ADA).get(f"/jobs/{job.number}/sheet").text
    assert "0.37" in dee.get(place_at("camber")).text


def test_what_was_typed_is_kept_when_something_is_missing(dee: Visitor) -> None:
    answer = dee.fills_in(f"{NEW}?kind=ride_height", "/desk/figures", {**HEIGHT, "tyre": "", "target": "380 N"})
    assert answer.status_code == 422
    assert "Enter the tyre the source gives this height for" in answer.text
    kept = forms_in(answer.text)["/desk/figures"]
    assert (kept["target"], kept["point"], kept["kind"]) == ("380 N", "lower edge of the arch", "ride_height")


def test_two_windows_apart_are_shown_to_the_foreman_with_their_tyres(here: Workshop, fay: Visitor) -> None:
    typed = FigureTyped("", "mm", target="380", tolerance="8 mm", tyre="205/65 R15")
    wanted = FigureWanted(VEHICLE.model, "rear", "ride_height", typed, point="arch", **SOURCE)
    figure = enter_figure(here.office, DEE.id, wanted).figure
    compare_figure(
        here.office, BEN.id, figure.id, FigureTyped("", "mm", target="380", tolerance="8 mm", tyre="205/60R15")
    )
    shown = fay.get(f"/desk/figures/{figure.id}/compare").text
    assert "380 mm ±8 mm, with 205/65 R15" in shown
    assert "380 mm ±8 mm, with 205/60R15" in shown
    assert "state-word--differs" in fay.get(f"/desk/figures?model={VEHICLE.model}").text


def test_a_models_book_lists_every_kind(dee: Visitor) -> None:
    shown = dee.get(f"/desk/figures?model={VEHICLE.model}").text
    for words in ("Joints to tighten", "Ride height", "Alignment", "Play", "Springs", "Masses", "Waiting times"):
        assert f">{words}</h2>" in shown, words
    assert "Waiting time after the battery is off" in shown


def test_the_next_figure_of_a_document_is_begun_with_it(here: Workshop, dee: Visitor) -> None:
    dee.fills_in(f"{NEW}?kind=alignment", "/desk/figures", CAMBER)
    shown = dee.get(place_at("camber")).text
    address = next(part for part in shown.split('"') if "document=Workshop" in part).replace("&amp;", "&")
    fields = forms_in(dee.get(address).text)["/desk/figures"]
    assert (fields["kind"], fields["document"], fields["model"]) == ("alignment", "Workshop manual", VEHICLE.model)
    assert fields["place_key"] == ""


@pytest.mark.parametrize("key", sorted(OTHER_PLACES))
def test_every_place_has_a_page(dee: Visitor, key: str) -> None:
    axle = OTHER_PLACES[key].axles[0].value
    assert dee.get(place_at(key, axle)).status_code == 200


def test_history_keeps_what_was_replaced(here: Workshop, dee: Visitor, fay: Visitor) -> None:
    for high in ("0.25", "0.5"):
        dee.fills_in(f"{NEW}?kind=alignment", "/desk/figures", {**CAMBER, "high": high})
        action = f"/desk/figures/{here.all('figures')[-1].id}/compare"
        fay.fills_in(action, action, {"low": "-1.25", "high": high})
    shown = dee.get(place_at("camber")).text
    assert "replaced by a newer edition" in shown
    assert "−1.25° to 0.25°" in shown


# --- Sheets on a corrected figure ------------------------------------------------------------------------------------


def corrected(here: Workshop) -> str:
    """A job on a camber that was corrected; gives the address of the decision."""
    for high in ("0.25", "0.5"):
        typed = FigureTyped("", "°", low="-1.25", high=high)
        wanted = FigureWanted(VEHICLE.model, "front", "camber", typed, **SOURCE)
        figure = enter_figure(here.office, DEE.id, wanted).figure
        if high == "0.25":
            compare_figure(here.office, FAY.id, figure.id, typed)
            here.opens()
    return f"{SHEETS}/{here.all('figure_choices')[0].id}"


def test_the_foreman_is_told_and_decides(here: Workshop, fay: Visitor) -> None:
    assert "No open sheet rests on an edition before" in fay.get(SHEETS).text
    action = corrected(here)
    for address in ("/desk", "/desk/figures", place_at("camber")):
        assert SHEETS in fay.get(address).text, address
    assert "−1.25° to 0.25° (edition 1)" in fay.get(SHEETS).text
    answer = fay.fills_in(action, action, {"choice": "keep", "reason": "measured against it already"})
    shown = fay.get(answer.headers["location"]).text
    assert "Fay" in shown
    assert "measured against it already" in shown
    assert "keeps the edition before" in shown
    assert "corrected figure: the foreman" not in fay.get("/desk/figures").text


def test_a_decision_without_a_reason_is_asked_again_with_what_was_chosen(here: Workshop, fay: Visitor) -> None:
    action = corrected(here)
    answer = fay.sends(action, {"choice": "renew", "reason": ""})
    assert answer.status_code == 422
    assert forms_in(answer.text)[action]["choice"] == "renew"
    assert here.all("figure_choices")[0].decided_by is None


def test_the_desk_sees_the_sheets_and_the_foreman_alone_decides(here: Workshop, dee: Visitor) -> None:
    action = corrected(here)
    assert "The foreman decides." in dee.get(SHEETS).text
    assert action not in dee.get(SHEETS).text
    assert dee.get(action).status_code == 403
    assert dee.sends(action, {"choice": "keep", "reason": "why"}).status_code == 403


def test_the_corrected_edition_is_not_shown_before_it_is_compared(here: Workshop, fay: Visitor) -> None:
    action = corrected(here)
    for address in (SHEETS, action):
        assert "0.5°" not in fay.get(address).text
    assert "edition 2, waits for a second person" in fay.get(action).text


@pytest.mark.parametrize("choice_id", ["nothing-here"])
def test_a_decision_about_nothing_is_not_there(fay: Visitor, choice_id: str) -> None:
    assert fay.get(f"{SHEETS}/{choice_id}").status_code == 404
    assert fay.sends(f"{SHEETS}/{choice_id}", {"choice": "keep", "reason": "x"}).status_code == 404


# --- Figures as a file -----------------------------------------------------------------------------------------------

ROW = {"model": VEHICLE.model, "axle": "front", "place": "camber", "low": "-1.25°", "high": "0.25°", **SOURCE}


def a_file(*rows: dict[str, str]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(COLUMNS), delimiter=";", restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def sends_file(who: Visitor, data: bytes, name: str = "book.csv", **fields: str) -> Any:
    return who.client.post(
        FILE, data={"csrf": who.csrf, **fields}, files={"file": (name, data, "text/csv")}, follow_redirects=False
    )


def test_the_page_explains_every_column_and_place(dee: Visitor) -> None:
    shown = dee.get(FILE).text
    for name in (*COLUMNS, "camber_cross", "lower_ball_joint_stud"):
        assert f">{name}</th>" in shown, name
    assert ";".join(COLUMNS) in shown


def test_a_file_is_looked_at_then_imported_without_script(here: Workshop, dee: Visitor) -> None:
    answer = sends_file(dee, a_file(ROW))
    address = answer.headers["location"].split("?")[0]
    report = dee.get(answer.headers["location"]).text
    assert "Nothing is kept yet" in report
    assert "UTF-8, semicolon" in report
    assert here.all("figures") == ()

    answer = dee.fills_in(address, address)
    assert "Imported." in dee.get(answer.headers["location"]).text
    assert [one.text for one in here.all("figures")] == ["−1.25° to 0.25°"]
    assert address not in forms_in(dee.get(address).text)


def test_a_file_with_a_line_that_cannot_be_taken_has_no_button_and_a_report_to_keep(dee: Visitor) -> None:
    answer = sends_file(dee, a_file(ROW, {**ROW, "axle": "rear", "low": "=A1"}))
    address = answer.headers["location"].split("?")[0]
    shown = dee.get(address).text
    assert "is a formula" in shown
    assert address not in forms_in(shown)
    report = dee.get(f"{address}/report.csv")
    assert report.headers["content-type"].startswith("text/csv")
    assert "attachment" in report.headers["content-disposition"]
    lines = list(csv.DictReader(io.StringIO(report.text.removeprefix("\ufeff")), delimiter=";"))
    assert [(one["line"], one["outcome"]) for one in lines] == [("2", "new"), ("3", "refused")]
    assert "is a formula" in lines[1]["why"]


def test_windows_1252_is_said_to_be_guessed(dee: Visitor) -> None:
    text = a_file(ROW).decode().encode("cp1252")
    assert "Nothing in the file says its encoding" in dee.get(sends_file(dee, text).headers["location"]).text


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"", "", "Choose the file first"),
        (b"", "empty.csv", "This file is empty"),
        (b"PK\x03\x04", "book.xlsx", "Save the sheet as CSV"),
        (b"hello", "hello.csv", "names no columns known here"),
        (b"x" * (BYTES_LIMIT + 1), "large.csv", "larger than 10 MB"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_a_sentence(
    here: Workshop, dee: Visitor, data: bytes, name: str, words: str
) -> None:
    answer = sends_file(dee, data, name) if name else dee.sends(FILE, {})
    assert answer.status_code == 422
    assert words in answer.text
    assert here.all("figure_imports") == ()


def test_far_too_much_is_not_even_read(dee: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.forms.READ_LIMIT", 1_000)
    assert sends_file(dee, b"x" * 1_000).status_code == 413


def test_a_file_without_the_forms_token_is_not_taken(here: Workshop, dee: Visitor) -> None:
    answer = dee.client.post(FILE, files={"file": ("book.csv", a_file(ROW), "text/csv")})
    assert answer.status_code == 403
    assert here.all("figure_imports") == ()


def test_a_file_is_its_senders_alone(dee: Visitor, fay: Visitor) -> None:
    address = sends_file(dee, a_file(ROW)).headers["location"].split("?")[0]
    for path in (address, f"{address}/report.csv"):
        assert fay.get(path).status_code == 404
    assert fay.sends(address).status_code == 404


def test_importing_twice_keeps_it_once(here: Workshop, dee: Visitor) -> None:
    address = sends_file(dee, a_file(ROW)).headers["location"].split("?")[0]
    assert dee.sends(address).status_code == 303
    answer = dee.sends(address)
    assert answer.status_code == 422
    assert "Choose it again" in answer.text
    assert len(here.all("figures")) == 1


def test_the_book_as_a_file_opens_in_a_spreadsheet_and_reckons_nothing(here: Workshop, dee: Visitor) -> None:
    odd = {**ROW, "document": "=HYPERLINK(1)"}
    address = sends_file(dee, a_file(odd)).headers["location"].split("?")[0]
    dee.sends(address)
    answer = dee.get("/desk/figures/export.csv")
    assert answer.content.startswith(b"\xef\xbb\xbf")
    (row,) = csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")), delimiter=";")
    assert (row["document"], row["low"], row["state"]) == ("'=HYPERLINK(1)", "−1.25°", "waits")
    assert here.all("figures")[0].document == "=HYPERLINK(1)"


@pytest.mark.parametrize("address", [FILE, "/desk/figures/export.csv", SHEETS])
def test_a_technician_does_not_get_in(here: Workshop, address: str) -> None:
    assert visits(here, ADA).get(address).status_code == 403
