"""The tool crib's and tracing's pages: borrowing by a label, certificates with their file, labels, recalls, history."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from html import unescape
from typing import Any

import pytest

from app.domain.records import Tool, ToolKind
from tests.builders import ADA, BEN, DEE, FAY, whole_job
from tests.contract.test_pages_crib import BAD, SCRIPT, told_in, visits
from tests.offices import Visitor, Workshop, a_small_job, an_office, forms_in

WRENCH = Tool(
    "t-1", "W1", ToolKind.TORQUE_WRENCH, "Click wrench", "N·m", 40_000, 200_000, 400_000,
    due_on=date(2026, 12, 31), type="II A", checked_on=date(2026, 1, 5),
)  # fmt: skip
OTHER = replace(WRENCH, id="t-2", tag="W2", name="The other one")
NEW = "/desk/tools/t-1/calibrations/new"
SEND = "/desk/tools/t-1/calibrations"
TRUE = {
    "id": "cal-1", "done_on": "2026-06-08", "done_by": "Hale Metrology", "document": "K-81", "set.0": "40",
    "measured.0": "39", "set.1": "120", "measured.1": "118", "set.2": "200", "measured.2": "195",
}  # fmt: skip
OUT = {**TRUE, "measured.0": "37.736", "measured.1": "113.208", "measured.2": "188.679"}
PDF = ("K 81 é.pdf", b"%PDF-1.7 as it came", "application/pdf")


@pytest.fixture
def here() -> Workshop:
    made = an_office()
    made.add("tools", WRENCH, OTHER)
    a_small_job(made, whole_job())
    return made


@pytest.fixture
def fay(here: Workshop) -> Visitor:
    return visits(here, FAY)


@pytest.fixture
def ada(here: Workshop) -> Visitor:
    return visits(here, ADA)


def sends_file(visitor: Visitor, address: str, fields: dict[str, str], file: tuple[str, bytes, str] | None) -> Any:
    files = {"certificate": file} if file is not None else {"nothing": ("", b"", "text/plain")}
    data = {"csrf": visitor.csrf, **fields}
    return visitor.client.post(address, data=data, files=files, follow_redirects=False)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


# --- In the hand -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["W1", "w1", "http://office.test/tools/W1"])
def test_a_scanner_that_types_opens_the_tool(ada: Visitor, typed: str) -> None:
    answer = ada.client.get("/tools", params={"tag": typed}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/tools/W1")


@pytest.mark.parametrize("typed", [*BAD[1:-1], "W99"])
def test_a_tag_nobody_knows_is_said_and_kept(ada: Visitor, typed: str) -> None:
    answer = ada.client.get("/tools", params={"tag": typed}, follow_redirects=False)
    assert answer.status_code == 422
    assert "There is no tool with the tag" in told_in(answer.text)
    assert SCRIPT not in answer.text
    assert f'value="{typed}"' in unescape(answer.text)


def test_a_tool_is_taken_handed_on_and_given_back(here: Workshop, ada: Visitor) -> None:
    answer = ada.fills_in("/tools/W1", "/tools/W1/borrow")
    assert "You have it" in ada.get(answer.headers["location"]).text
    assert "You have" in words(ada.get("/tools").text)

    ben = visits(here, BEN)
    assert "With Ada, since" in words(ben.get("/tools/W1").text)
    taken = ben.fills_in("/tools/W1", "/tools/W1/borrow")
    assert "off the name of who had it before" in ben.get(taken.headers["location"]).text

    back = ada.fills_in("/tools/W1", "/tools/W1/give-back")
    assert "back in the crib" in ada.get(back.headers["location"]).text
    assert "In the crib." in words(ada.get("/tools/W1").text)


def test_a_tool_out_of_date_says_why_and_what_would_do(here: Workshop, ada: Visitor) -> None:
    here.save("tools", replace(WRENCH, due_on=date(2026, 6, 7)))
    said = words(ada.get("/tools/W1").text)
    assert "Out of date: it was due on 7 Jun 2026" in said
    assert "as far as they reach: W2, The other one (40 N·m to 200 N·m)." in said
    assert "/tools/W1/borrow" not in forms_in(ada.get("/tools/W1").text)
    refused = ada.sends("/tools/W1/borrow")
    assert refused.status_code == 422
    assert "Take another" in told_in(refused.text)


def test_anybody_reports_a_drop_and_the_foreman_looks(here: Workshop, ada: Visitor, fay: Visitor) -> None:
    answer = ada.fills_in("/tools/W1", "/tools/W1/mishaps", {"kind": "drop", "words": "off the bench"})
    assert answer.status_code == 303
    assert "nobody has looked at it yet" in words(ada.get("/tools/W1").text)
    assert "W1 Click wrench to be looked at: Dropped on 8 Jun 2026" in words(fay.get("/floor").text)
    event = here.all("tool_events")[0]
    address = f"/desk/tools/t-1/mishaps/{event.id}"
    assert "ISO 6789 wants it calibrated" in fay.get("/desk/tools/t-1").text

    blank = fay.sends(address, {"seen_words": "", "back": "yes"})
    assert blank.status_code == 422
    fay.sends(address, {"seen_words": "sound", "back": "yes"})

    assert here.get("tools", "t-1").fault == ""
    assert "Looked at: sound" in words(fay.get("/desk/tools/t-1").text)


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize("name", ["id", "kind", "words", "torque"])
def test_whatever_is_reported_gets_an_answer(ada: Visitor, name: str, bad: str) -> None:
    good = {"id": "e-1", "kind": "overload", "words": "nut let go", "torque": "230"}
    answer = ada.sends("/tools/W1/mishaps", {**good, name: bad})
    assert answer.status_code in (303, 422)
    assert SCRIPT not in answer.text


def test_an_unknown_tool_is_not_there(ada: Visitor) -> None:
    assert ada.get("/tools/nothing").status_code == 404
    for what in ("borrow", "give-back", "mishaps"):
        assert ada.sends(f"/tools/nothing/{what}").status_code in (404, 422)


# --- Certificates ----------------------------------------------------------------------------------------------------


def test_a_certificate_is_kept_with_its_file(here: Workshop, fay: Visitor) -> None:
    answer = sends_file(fay, SEND, TRUE, PDF)
    assert answer.status_code == 303, answer.text
    page = fay.get(answer.headers["location"]).text
    assert "The tool stands as the certificate says" in page
    assert "set 40 N·m, measured 39 N·m, +2.56 %" in words(page)

    kept = here.all("calibrations")[0]
    file = fay.get(f"/desk/tools/certificates/{kept.certificate}")
    assert (file.status_code, file.content) == (200, PDF[1])
    assert file.headers["content-type"] == "application/pdf"
    assert file.headers["content-disposition"].startswith("attachment")
    assert "sandbox" in file.headers["content-security-policy"]
    assert fay.get(f"/desk/tools/certificates/{'0' * 64}").status_code == 404


def test_a_certificate_works_without_a_file_and_once(here: Workshop, fay: Visitor) -> None:
    assert sends_file(fay, SEND, TRUE, None).status_code == 303
    assert sends_file(fay, SEND, TRUE, None).status_code == 303
    assert len(here.all("calibrations")) == 1


@pytest.mark.parametrize(
    ("file", "says"),
    [
        (("x.pdf", b"<script>", "application/pdf"), "is no PDF, JPEG or PNG"),
        (("x.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/svg+xml"), "is no PDF, JPEG or PNG"),
        (("x.pdf", b"%PDF-" + b"0" * 5_000_001, "application/pdf"), "larger than 5 MB"),
    ],
)
def test_a_file_that_cannot_be_one_is_refused_and_what_was_typed_kept(
    here: Workshop, fay: Visitor, file: tuple[str, bytes, str], says: str
) -> None:
    answer = sends_file(fay, SEND, TRUE, file)
    assert answer.status_code == 422
    assert says in told_in(answer.text)
    kept = forms_in(answer.text)[SEND]
    assert {name: kept[name] for name in TRUE} == TRUE
    assert here.all("calibrations") == ()


def test_a_certificate_of_thirty_megabytes_is_told_its_size(fay: Visitor) -> None:
    answer = sends_file(fay, SEND, TRUE, ("x.pdf", b"%PDF-" + b"0" * 30_000_000, "application/pdf"))
    assert answer.status_code == 422
    assert "larger than 5 MB" in told_in(answer.text)


def test_a_request_of_no_form_is_too_large(fay: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.forms.READ_LIMIT", 10_000)
    answer = sends_file(fay, SEND, TRUE, ("x.pdf", b"%PDF-" + b"0" * 10_000, "application/pdf"))
    assert answer.status_code == 413


def test_a_certificate_needs_the_desk_and_its_token(here: Workshop, ada: Visitor, fay: Visitor) -> None:
    assert sends_file(ada, SEND, TRUE, None).status_code == 403
    forged = fay.client.post(SEND, data=TRUE, files={"certificate": PDF}, follow_redirects=False)
    assert forged.status_code == 403
    assert here.all("calibrations") == ()


@pytest.mark.parametrize("name", [*TRUE, "due_on", "adjusted", "sure"])
def test_whatever_is_typed_on_a_certificate_gets_an_answer(fay: Visitor, name: str) -> None:
    for bad in BAD:
        answer = sends_file(fay, SEND, {**TRUE, "id": "", name: bad}, None)
        assert answer.status_code in (303, 422), (bad, answer.text)
        assert SCRIPT not in answer.text
        if answer.status_code == 422:
            assert "…" not in told_in(answer.text), bad


def test_a_reading_in_the_wrong_unit_is_asked_about_and_can_be_confirmed(here: Workshop, fay: Visitor) -> None:
    typed = {**TRUE, "measured.0": "28.8"}
    answer = sends_file(fay, SEND, typed, None)
    assert "Look whether both are in the same unit" in told_in(answer.text)
    assert 'name="sure"' in answer.text
    assert sends_file(fay, SEND, {**typed, "sure": "yes"}, None).status_code == 303


def test_the_empty_form_offers_the_points_of_the_range(fay: Visitor) -> None:
    form = forms_in(fay.get(NEW).text)[SEND]
    assert [form[f"set.{row}"] for row in range(4)] == ["40 N·m", "120 N·m", "200 N·m", ""]
    assert form["measured.0"] == ""


# --- Labels ----------------------------------------------------------------------------------------------------------


def test_labels_hold_the_tools_address(here: Workshop, fay: Visitor) -> None:
    page = fay.get("/desk/tools/labels").text
    assert page.count('class="label-card"') == 2
    assert "Code that holds http://office.test/tools/W1" in page
    assert page.count("<svg") >= 2
    assert fay.get("/desk/tools/labels?tag=W2").text.count('class="label-card"') == 1
    assert fay.get("/desk/tools/labels?tag=nothing").text.count('class="label-card"') == 0


# --- Tracing ---------------------------------------------------------------------------------------------------------


def test_a_wrench_out_of_true_leads_to_what_was_tightened_with_it(here: Workshop, fay: Visitor) -> None:
    answer = sends_file(fay, SEND, OUT, None)
    assert answer.headers["location"].startswith("/desk/tracing/calibrations/cal-1")
    said = words(fay.get(answer.headers["location"]).text)
    assert "Kept. It is out of true and tagged out." in said
    assert "Wrench W1: Found out of true on 8 Jun 2026: +6.00 %." in said
    assert "3 readings on record; 2 left their window, on 1 vehicles they still stand so." in said
    assert "CP 1001 Tern 2.0" in said
    assert "Mira Okonjo: +00 2 555 · mira@okonjo.example" in said
    assert "110 N·m with W1 103.8 N·m 104.5 N·m to 115.5 N·m too little" in said
    assert "111 N·m with W1 104.7 N·m 104.5 N·m to 115.5 N·m inside its window" in said
    assert "Found out of true" in words(fay.get("/tools/W1").text)
    assert "W1, Click wrench out of true on 8 Jun 2026" in words(fay.get("/desk/tracing").text)


def test_a_re_check_that_cannot_be_opened_is_counted(here: Workshop, fay: Visitor) -> None:
    sends_file(fay, SEND, OUT, None)
    address = "/desk/tracing/calibrations/cal-1"
    answer = fay.fills_in(address, f"{address}/rechecks")
    said = words(fay.get(answer.headers["location"]).text)
    assert "Opened now: 0 jobs." in said
    assert "Not possible: 1." in said


@pytest.mark.parametrize("query", ["opened=x", "opened=99999", "there=%3Cscript%3E", "not_possible=-1"])
def test_an_address_made_up_says_nothing(fay: Visitor, query: str) -> None:
    sends_file(fay, SEND, OUT, None)
    page = fay.get(f"/desk/tracing/calibrations/cal-1?{query}").text
    assert 'class="said"' not in page


@pytest.mark.parametrize("where", ["calibrations", "figures"])
def test_an_unknown_recall_is_not_there(fay: Visitor, where: str) -> None:
    assert fay.get(f"/desk/tracing/{where}/nothing").status_code == 404
    assert fay.sends(f"/desk/tracing/{where}/nothing/rechecks").status_code == 404


def test_the_history_of_a_vehicle_is_one_page_with_a_search(here: Workshop) -> None:
    dee = visits(here, DEE)
    page = dee.get("/desk/vehicles/v-1/history?find=pivot").text
    assert "<mark>" in page
    assert "Pivot bolt: 108 N·m, wrench W1" in words(page)
    for bad in BAD:
        answer = dee.client.get("/desk/vehicles/v-1/history", params={"find": bad})
        assert answer.status_code == 200
        assert SCRIPT not in answer.text
    assert dee.get("/desk/vehicles/nobody/history").status_code == 404


def test_how_long_steps_take_is_the_foremans_and_names_nobody(here: Workshop, fay: Visitor) -> None:
    said = words(fay.get("/desk/tracing/pace").text)
    assert "Ticked faster than it can be done" in said
    assert "it takes" in said
    main = fay.get("/desk/tracing/pace").text.partition("<main")[2]
    assert ADA.name not in words(main)
    assert visits(here, DEE).get("/desk/tracing/pace").status_code == 403
