"""Figures as a file: read in whatever a spreadsheet writes, told line by line, taken whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import FigureRecord, Role
from app.domain.spec_places import OTHER_PLACES
from app.use_cases import import_figures as import_module
from app.use_cases.decide_sheets import undecided
from app.use_cases.figure_csv import BYTES_LIMIT, COLUMNS, NUMBERS, file_of, harmless, lines_of, text_of, undo
from app.use_cases.import_figures import Imported, Outcome, Report, export_figures, import_figures, look_at_file
from app.use_cases.keep_figure import FigureWanted, Stand, compare_figure, enter_figure, stand_of
from app.use_cases.read_figure import FigureTyped, value_of
from tests.builders import ADA, BEN, DEE, FAY
from tests.offices import VEHICLE, Workshop, an_office

DESK = frozenset({Role.DESK})
SOURCE = {"document": "Manual", "page": "7-3", "document_date": "2014"}
NUTS = {
    "model": VEHICLE.model,
    "axle": "front",
    "place": "wheel_nuts",
    "shape": "single",
    "target": "110 N·m",
    "unit": "N·m",
    **SOURCE,
}
CAMBER = {
    "model": VEHICLE.model, "axle": "front", "place": "camber", "low": "-1.25°", "target": "-0,5",
    "high": "0.25°", **SOURCE,
}  # fmt: skip
HEIGHT = {
    "model": VEHICLE.model, "axle": "rear", "place": "ride_height", "target": "380", "tolerance": "8 mm",
    "tyre": "205/65 R15", "point": "lower edge of the arch", **SOURCE,
}  # fmt: skip
STAGED = {
    "model": VEHICLE.model, "axle": "rear", "place": "shock_lower", "shape": "stages", "stages": "50 N·m | 90° ±5°",
    "one_time": "yes", **SOURCE,
}  # fmt: skip
ROWS = [NUTS, CAMBER, HEIGHT, STAGED]


def a_file(*rows: dict[str, str], separator: str = ";", columns: Any = COLUMNS) -> str:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(columns), delimiter=separator, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def looked(here: Workshop, text: str | bytes, who: str = DEE.id) -> Report:
    data = text if isinstance(text, bytes) else text.encode()
    return look_at_file(here.office, who, "book.csv", data).report


def imported(here: Workshop, text: str | bytes, who: str = DEE.id) -> Imported:
    data = text if isinstance(text, bytes) else text.encode()
    return import_figures(here.office, who, look_at_file(here.office, who, "book.csv", data).row.id)


def outcomes(report: Report) -> list[Outcome]:
    return [one.outcome for one in report.lines]


def whole(act: Callable[[], Any]) -> Problem:
    """The one problem of a file that cannot be read as a whole."""
    with pytest.raises(Refused) as caught:
        act()
    (found,) = caught.value.problems
    return found


def codes(report: Report) -> list[tuple[int, str, str]]:
    return [(one.number, problem.field, problem.code) for one in report.lines for problem in one.problems]


def figures(here: Workshop) -> list[FigureRecord]:
    return list(here.all("figures"))


# --- In one go or not at all -----------------------------------------------------------------------------------------


def test_looking_keeps_nothing_and_importing_keeps_every_line_as_typed_once() -> None:
    here = an_office()
    text = a_file(*ROWS)
    looked_at = look_at_file(here.office, DEE.id, "book.csv", text.encode())
    assert outcomes(looked_at.report) == [Outcome.NEW] * 4
    assert figures(here) == []

    import_figures(here.office, DEE.id, looked_at.row.id)
    assert [one.text for one in figures(here)] == [
        "110 N·m", "−1.25° to 0.25°, target −0,5°", "380 mm ±8 mm", "50 N·m, then 90° ±5°",
    ]  # fmt: skip
    assert {(one.typed_by, one.counts, one.compared_by) for one in figures(here)} == {(DEE.id, False, None)}
    assert whole(lambda: import_figures(here.office, DEE.id, looked_at.row.id)).code == "file_gone"


def test_one_line_that_cannot_be_taken_keeps_all_of_them_out() -> None:
    here = an_office()
    bad = replace_in(CAMBER, low="5°")
    found = look_at_file(here.office, DEE.id, "book.csv", a_file(NUTS, bad, HEIGHT).encode())
    assert outcomes(found.report) == [Outcome.NEW, Outcome.REFUSED, Outcome.NEW]
    assert codes(found.report) == [(3, "high", "range_swapped")]
    assert whole(lambda: import_figures(here.office, DEE.id, found.row.id)).code == "file_not_taken"
    assert figures(here) == []


def test_what_changed_since_it_was_looked_at_keeps_the_file_out() -> None:
    here = an_office()
    found = look_at_file(here.office, DEE.id, "book.csv", a_file(NUTS, CAMBER).encode())
    wanted = FigureWanted(VEHICLE.model, "front", "wheel_nuts", FigureTyped("single", "N·m", target="90"), **SOURCE)
    figure = enter_figure(here.office, BEN.id, wanted).figure
    compare_figure(here.office, FAY.id, figure.id, FigureTyped("single", "N·m", target="95"))
    assert whole(lambda: import_figures(here.office, DEE.id, found.row.id)).code == "file_not_taken"
    assert len(figures(here)) == 2
    report = here.all("figure_imports")[0].report
    assert "figure_foreman" in report


def replace_in(row: dict[str, str], **over: str) -> dict[str, str]:
    return {**row, **over}


def test_what_changes_while_a_file_is_worked_out_is_heeded(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is worked out before the write lock is taken; somebody's figure in between makes it be worked out again."""
    here = an_office()
    found = look_at_file(here.office, DEE.id, "book.csv", a_file(NUTS).encode())
    plan = import_module._plan
    times: list[int] = []

    def overtaken(*given: Any) -> Any:
        made = plan(*given)
        times.append(1)
        if len(times) == 1:
            typed = FigureTyped("single", "N·m", target="90")
            enter_figure(here.office, BEN.id, FigureWanted(VEHICLE.model, "front", "wheel_nuts", typed, **SOURCE))
        return made

    monkeypatch.setattr(import_module, "_plan", overtaken)
    assert outcomes(import_figures(here.office, DEE.id, found.row.id).report) == [Outcome.DIFFERS]
    assert [(one.text, one.edition) for one in figures(here)] == [("90 N·m", 1), ("110 N·m", 2)]
    assert len(times) == 2


def test_a_file_of_another_person_is_not_there() -> None:
    here = an_office()
    row = look_at_file(here.office, DEE.id, "book.csv", a_file(NUTS).encode()).row
    with pytest.raises(NotFound):
        import_figures(here.office, FAY.id, row.id)


def test_a_newer_file_of_the_same_person_makes_the_older_one_void() -> None:
    here = an_office()
    first = look_at_file(here.office, DEE.id, "one.csv", a_file(NUTS).encode()).row
    look_at_file(here.office, DEE.id, "two.csv", a_file(CAMBER).encode())
    assert whole(lambda: import_figures(here.office, DEE.id, first.id)).code == "file_gone"


# --- The second person -----------------------------------------------------------------------------------------------


def test_a_second_persons_own_file_is_compared_line_by_line() -> None:
    here = an_office()
    imported(here, a_file(*ROWS))
    theirs = a_file(replace_in(NUTS, target="110.0 Nm"), replace_in(CAMBER, high="0.3"), HEIGHT, STAGED, separator=",")
    assert outcomes(looked(here, theirs, FAY.id)) == [Outcome.COMPARED] * 4, "told beforehand, it could be tried"

    result = imported(here, theirs, FAY.id)
    assert outcomes(result.report) == [Outcome.AGREES, Outcome.DIFFERS, Outcome.AGREES, Outcome.AGREES]
    by_place: dict[str, list[FigureRecord]] = {}
    for one in figures(here):
        by_place.setdefault(one.place_key, []).append(one)
    stands = {key: stand_of(editions) for key, editions in by_place.items()}
    assert stands == {
        "wheel_nuts": Stand.COUNTS, "camber": Stand.DIFFERS, "ride_height": Stand.COUNTS, "shock_lower": Stand.COUNTS,
    }  # fmt: skip


def test_the_very_file_of_another_person_compares_nothing() -> None:
    here = an_office()
    text = a_file(*ROWS)
    imported(here, text)
    problem = whole(lambda: looked(here, text, FAY.id))
    assert (problem.code, problem.details["name"]) == ("file_anothers", DEE.name)


def test_two_who_looked_at_the_same_file_do_not_both_import_it() -> None:
    here = an_office()
    text = a_file(NUTS).encode()
    mine, theirs = (look_at_file(here.office, who, "book.csv", text).row.id for who in (DEE.id, FAY.id))
    import_figures(here.office, DEE.id, mine)
    assert whole(lambda: import_figures(here.office, FAY.id, theirs)).code == "file_anothers"
    assert not any(one.counts for one in figures(here))


def test_ones_own_lines_again_change_nothing_and_other_ones_replace_them() -> None:
    here = an_office()
    imported(here, a_file(*ROWS))
    again = looked(here, a_file(*ROWS))
    assert outcomes(again) == [Outcome.SAME] * 4
    assert not again.can_be_taken

    imported(here, a_file(replace_in(NUTS, target="115")))
    nuts = [one for one in figures(here) if one.place_key == "wheel_nuts"]
    assert [(one.text, one.withdrawn) for one in nuts] == [("110 N·m", True), ("115 N·m", False)]


def test_where_two_readings_differ_only_the_foremans_file_settles() -> None:
    here = an_office()
    imported(here, a_file(NUTS))
    imported(here, a_file(replace_in(NUTS, target="115")), BEN.id)
    assert codes(looked(here, a_file(replace_in(NUTS, target="115", page="7-4")), ADA.id))[0][2] == "figure_foreman"
    imported(here, a_file(replace_in(NUTS, target="115.0")), FAY.id)
    assert [one.text for one in figures(here) if one.counts] == ["115 N·m"]


def test_a_line_that_corrects_a_verified_figure_asks_about_sheets() -> None:
    here = an_office()
    imported(here, a_file(CAMBER))
    imported(here, a_file(CAMBER, separator=","), FAY.id)
    here.opens()
    report = imported(here, a_file(replace_in(CAMBER, high="0.5"))).report
    assert outcomes(report) == [Outcome.CORRECTS]
    with here.store.reading() as unit:
        assert [one.newer.edition for one in undecided(unit)] == [2]


def test_a_doubt_is_answered_in_the_file_and_kept() -> None:
    here = an_office()
    odd = replace_in(NUTS, thread="M8", strength="8.8")
    report = looked(here, a_file(odd))
    assert {code for _, _, code in codes(report)} == {"line_doubt"}
    imported(here, a_file(replace_in(odd, confirmed_because="table 4 says the same")))
    assert figures(here)[0].confirmed_because == "table 4 says the same"


def test_a_second_reading_is_not_doubted_for_that_would_tell_the_first() -> None:
    here = an_office()
    odd = replace_in(NUTS, thread="M8", strength="8.8", confirmed_because="table 4")
    imported(here, a_file(odd))
    for target in ("110", "120"):
        bare = replace_in(NUTS, thread="M8", strength="8.8", target=target)
        assert outcomes(looked(here, a_file(bare), FAY.id)) == [Outcome.COMPARED]


# --- Whatever a spreadsheet writes -----------------------------------------------------------------------------------


@pytest.mark.parametrize("separator", [";", ",", "\t"])
@pytest.mark.parametrize(
    ("encoding", "mark", "told"),
    [
        ("utf-8", b"", "UTF-8"),
        ("utf-8-sig", b"", "UTF-8"),
        ("utf-16", b"", "UTF-16"),
        ("utf-16-le", b"", "UTF-16"),
        ("utf-16-be", b"\xfe\xff", "UTF-16"),
        ("cp1252", b"", "Windows-1252"),
    ],
)
def test_a_file_is_read_however_it_was_saved(encoding: str, mark: bytes, told: str, separator: str) -> None:
    here = an_office()
    data = mark + a_file(*ROWS, separator=separator).encode(encoding)
    found = look_at_file(here.office, DEE.id, "book.csv", data)
    assert outcomes(found.report) == [Outcome.NEW] * 4
    assert found.row.note.startswith(told)
    import_figures(here.office, DEE.id, found.row.id)
    assert figures(here)[0].text == "110 N·m"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file_empty"),
        (b"\xef\xbb\xbf \r\n", "file_empty"),
        (b"\xff\xfe", "file_empty"),
        (b"PK\x03\x04 a workbook", "file_no_text"),
        (b"\xd0\xcf\x11\xe0 an old workbook", "file_no_text"),
        (b"model;axle;place\0;document;page;document_date\n", "file_no_text"),
        (b"model;axle\n\x81\x8d", "file_encoding"),
        ("model;axle\n1".encode("utf-16") + b"\x00", "file_encoding"),
        (b"x" * (BYTES_LIMIT + 1), "file_large"),
        (b"hello", "header_unknown"),
        (b"model|axle|place\n", "header_unknown"),
        (b"model;axle;place\nTern;front;camber\n", "header_lacks"),
        (b"model;model;axle;place;document;page;document_date\n", "header_twice"),
        (b"model;axle;place;document;page;document_date;torque\n", "header_strange"),
        (b"model;axle;place;document;page;document_date\n\n;;;;;\n", "file_no_lines"),
        (b'model;axle;place;document;page;document_date\n"Tern;front;camber;M;1;2\n', "file_quotes"),
        (b'model;axle;place;document;page;document_date\n"Te"rn;front;camber;M;1;2\n', "file_quotes"),
    ],
)
def test_a_file_that_is_none_is_refused_in_a_sentence(data: bytes, code: str) -> None:
    here = an_office()
    assert whole(lambda: looked(here, data)).code == code
    assert here.all("figure_imports") == ()


def test_an_encoding_that_does_not_fit_names_the_line() -> None:
    problem = whole(lambda: looked(an_office(), b"model;axle\nx\n\xb0\x81"))
    assert (problem.details["line"], problem.details["encoding"]) == (3, "Windows-1252")


@pytest.mark.parametrize(
    ("over", "expected"),
    [
        ({"model": ""}, ("model", "figure_model_missing")),
        ({"axle": "middle"}, ("axle", "axle_missing")),
        ({"place": "bonnet"}, ("place_key", "place_unknown")),
        ({"shape": "round"}, ("shape", "shape_missing")),
        ({"target": "=1+1"}, ("target", "cell_formula")),
        ({"target": "@SUM(A1)"}, ("target", "cell_formula")),
        ({"target": "+A1"}, ("target", "cell_formula")),
        ({"target": "-A1"}, ("target", "cell_formula")),
        ({"target": "1,100"}, ("target", "amount_unclear")),
        ({"target": "110 mm"}, ("target", "amount_other_kind")),
        ({"target": "-110"}, ("target", "value_bounds")),
        ({"unit": "kg"}, ("unit", "torque_unit_missing")),
        ({"one_time": "perhaps"}, ("one_time", "yes_no_unclear")),
        ({"stages": "1|2|3|4|5", "shape": "stages"}, ("stages", "stages_many")),
        ({"document": ""}, ("document", "document_missing")),
        ({"lubrication": "x" * 2_001}, ("", "cell_long")),
        ({"page": "x" * 41}, ("page", "too_long")),
        ({"thread": "M12 and a bit"}, ("thread", "thread_unclear")),
        ({"condition": "wet"}, ("condition", "condition_unknown")),
    ],
)
def test_a_line_that_cannot_be_taken_says_why(over: dict[str, str], expected: tuple[str, str]) -> None:
    here = an_office()
    report = looked(here, a_file(CAMBER, replace_in(NUTS, **over)))
    assert codes(report)[0] == (3, *expected)
    assert not report.can_be_taken


def test_a_decimal_comma_without_quotation_marks_is_told_as_such() -> None:
    text = a_file(CAMBER, separator=",").replace('"-0,5"', "-0,5")
    assert codes(looked(an_office(), text)) == [(2, "", "line_cells_comma")]
    semicolons = a_file(CAMBER).replace("\r\n", ";more\r\n").replace(";more", "", 1)
    assert codes(looked(an_office(), semicolons)) == [(2, "", "line_cells")]


def test_the_same_place_twice_names_the_first_line() -> None:
    report = looked(an_office(), a_file(NUTS, CAMBER, replace_in(NUTS, model=f" {VEHICLE.model} ")))
    (number, _, code), problem = codes(report)[0], report.lines[2].problems[0]
    assert (number, code, problem.details["line"]) == (4, "line_doubled", 2)


def test_too_many_lines_are_refused_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.use_cases.figure_csv.LINES_LIMIT", 3)
    assert whole(lambda: looked(an_office(), a_file(*ROWS))).code == "file_lines"


def test_order_and_case_of_columns_are_free_and_blank_lines_left_out() -> None:
    text = (
        a_file(NUTS, columns=reversed(list(COLUMNS)))
        .replace("model", "Model")
        .replace("document_date", "Document date")
    )
    assert outcomes(looked(an_office(), "\n\n" + text + "\n;;;\n")) == [Outcome.NEW]


# --- Out and in again ------------------------------------------------------------------------------------------------


def test_what_somebody_has_still_to_type_leaves_with_empty_cells_and_comes_back_as_their_reading() -> None:
    here = an_office()
    imported(here, a_file(NUTS, CAMBER))
    theirs = export_figures(here.office, FAY.id, frozenset({Role.FOREMAN}))
    assert "110" not in theirs
    assert "1.25" not in theirs
    assert "110 N·m" in export_figures(here.office, DEE.id, DESK)

    assert outcomes(looked(here, theirs, FAY.id)) == [Outcome.BLANK] * 2
    rows = list(csv.DictReader(io.StringIO(theirs), delimiter=";"))
    rows[1] |= {"shape": "single", "target": "110 N·m"}
    filled = a_file(*rows, columns=rows[0])
    assert outcomes(imported(here, filled, FAY.id).report) == [Outcome.BLANK, Outcome.AGREES]


def test_the_book_written_out_and_sent_back_changes_nothing() -> None:
    here = an_office()
    imported(here, a_file(*ROWS))
    imported(here, a_file(*ROWS, separator=","), FAY.id)
    out = export_figures(here.office, BEN.id, DESK)
    assert set(outcomes(looked(here, out, BEN.id))) == {Outcome.SAME}
    assert export_figures(here.office, BEN.id, DESK, "Gull") == ";".join(out.splitlines()[0].split(";")) + "\r\n"


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).map(
    lambda text: "".join(text.split()) or "x"
)
ODD_WORDS = WORDS | st.sampled_from(["=1+1", "+x", "-x", "@x", "'=x", "''-", "'plain", 'a "b" c', "a;b,c", "a\nb"])


def number(low: int, high: int, unit: str) -> st.SearchStrategy[str]:
    return st.decimals(low, high, places=2).map(lambda value: f"{value} {unit}")


@st.composite
def rows(draw: st.DrawFn) -> dict[str, str]:
    row = {"model": draw(ODD_WORDS), "document": draw(ODD_WORDS), "page": draw(WORDS), "document_date": draw(ODD_WORDS)}
    row["axle"] = draw(st.sampled_from(["front", "rear"]))
    match draw(st.sampled_from(["single", "range", "stages", "window", "around", "most", "value", "height"])):
        case "single":
            tolerance = draw(st.sampled_from(["", "4 %", "5 N·m", "3 lbf·ft"]))
            target = draw(number(20, 300, draw(st.sampled_from(["N·m", "lbf·ft"]))))
            row |= {"place": "wheel_nuts", "shape": "single", "target": target, "tolerance": tolerance}
        case "range":
            row |= {"place": "wheel_nuts", "shape": "range", "low": draw(number(20, 50, "N·m"))}
            row |= {"high": draw(number(51, 90, "lbf·ft")), "lubrication": draw(ODD_WORDS)}
        case "stages":
            stages = [draw(number(20, 90, "N·m")), f"{draw(number(10, 180, '°'))} ±5°"]
            row |= {"place": "shock_lower", "shape": "stages", "stages": " | ".join(stages), "one_time": "yes"}
        case "window":
            row |= {"place": "camber", "low": draw(number(-5, -1, "°")), "high": draw(number(0, 5, "°"))}
            row["target"] = draw(st.sampled_from(["", "-0°30'", "−0.25°"]))
        case "around":
            row |= {"place": "toe_total", "target": draw(number(-2, 2, "°")), "tolerance": draw(number(1, 2, "°"))}
        case "most":
            row |= {"place": "load_joint_axial", "high": draw(st.sampled_from(["1/32 in", "0,8 mm", "1"]))}
        case "value":
            row |= {"place": "spring_rate", "target": draw(number(20, 200, "N/mm"))}
        case _:
            row |= {"place": "ride_height", "low": "14 1/2 in", "high": draw(number(380, 400, "mm"))}
            row |= {"tyre": draw(WORDS), "point": draw(ODD_WORDS)}
    return row


def keys(here: Workshop) -> list[Any]:
    return sorted(
        (one.model, one.axle, one.place_key, one.stages, one.low, one.target, one.high, one.tyre, one.point,
         one.one_time, one.document, one.page, one.document_date, one.lubrication, one.text)
        for one in figures(here)
    )  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(rows(), min_size=1, max_size=6, unique_by=lambda row: (row["model"], row["axle"], row["place"])))
def test_what_is_written_out_comes_back_the_same(found: list[dict[str, str]]) -> None:
    """Export, then import into an empty house: the same figures to the last digit and word, formulas and all."""
    here, there = an_office(), an_office()
    imported(here, file_of(COLUMNS, found))
    out = export_figures(here.office, DEE.id, DESK)
    imported(there, out)
    assert keys(there) == keys(here)
    assert [value_of(one).is_same(value_of(other)) for one, other in zip(figures(here), figures(here), strict=True)]
    assert export_figures(there.office, DEE.id, DESK).splitlines()[1:] == out.splitlines()[1:]


@given(st.text(st.characters(codec="utf-8")))
def test_no_cell_that_leaves_begins_as_a_formula_and_each_comes_back(cell: str) -> None:
    """OWASP, "CSV Injection" (from memory): a cell must not begin with = + - @, tab or carriage return."""
    assert not harmless(cell).startswith(("=", "+", "-", "@", "\t", "\r"))
    assert undo(harmless(cell)) == cell


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reading(data: bytes) -> None:
    read = text_of(data)
    if not isinstance(read, Problem):
        lines_of(read[0])


def test_every_number_column_and_place_is_known() -> None:
    assert set(NUMBERS) < set(COLUMNS)
    assert "ride_height" in OTHER_PLACES
