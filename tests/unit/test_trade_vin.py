"""Vehicle identification numbers: every legal one is accepted, and what it shows is explained."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.problems import InputMissing, NotUnderstood, TradeProblem
from app.trade.vin import check_digit, examine, year_candidates

LEGAL = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
NUMBERS = st.text(alphabet=LEGAL, min_size=17, max_size=17)


def _codes(vin: str, **known: bool) -> list[str]:
    return [remark.code for remark in examine(vin, **known).remarks]


def test_a_right_number_is_called_right_and_the_evidence_weak() -> None:
    report = examine("11111111111111111")

    assert report.check.passes
    assert report.remarks[0].code == "check_passes"
    assert "weak evidence" in report.remarks[0].sentence


def test_a_wrong_check_digit_is_accepted_and_explained_with_its_working() -> None:
    report = examine("11111111111111112")

    assert not report.check.passes
    assert report.remarks[0].code == "check_fails"
    assert report.remarks[0].details == {"total": "91", "remainder": "3", "expected": "3", "found": "1"}


def test_a_letter_in_position_9_means_the_rule_was_not_used() -> None:
    report = examine("11111111Z11111111")

    assert report.remarks[0].code == "check_not_used"
    assert report.look_alikes == ()


def test_spaces_hyphens_and_small_letters_are_taken_as_typed() -> None:
    report = examine(" 1a1-11 1111 1111 1111 ")

    assert report.vin == "1A111111111111111"
    assert report.text == "1a1-11 1111 1111 1111"


def test_a_look_alike_that_would_put_it_right_is_offered() -> None:
    """The number was 5xx…: the S in its place changes the sum, and 5 is offered."""
    right = "1" * 16 + "5"
    right = right[:8] + check_digit(right).expected + right[9:]
    misread = right[:16] + "S"

    offered = [(alike.position, alike.typed, alike.perhaps) for alike in examine(misread).look_alikes]

    assert (17, "S", "5") in offered


@pytest.mark.parametrize(
    ("vin", "problem", "detail"),
    [
        ("", InputMissing, None),
        (" - ", InputMissing, None),
        ("1111111111111111", NotUnderstood, ("count", "16")),
        ("1" * 18, NotUnderstood, ("count", "18")),
        ("I1111111111111111", NotUnderstood, ("perhaps", "1")),
        ("1O111111111111111", NotUnderstood, ("perhaps", "0")),
        ("11111Q11111111111", NotUnderstood, ("position", "6")),
        ("111111111111111_1", NotUnderstood, ("character", "_")),
        ("1111111111111111١", NotUnderstood, ("position", "17")),
        ("1" * 5000, NotUnderstood, ("count", "5000")),
    ],
)
def test_what_is_no_number_is_refused_with_the_place(
    vin: str, problem: type[TradeProblem], detail: tuple[str, str] | None
) -> None:
    with pytest.raises(problem) as caught:
        examine(vin)

    assert caught.value.argument == "vin"
    if detail:
        assert caught.value.details[detail[0]] == detail[1]


def test_the_year_is_picked_only_for_a_light_vehicle() -> None:
    figure, letter = "1111111111111111" + "1", "111111A1111111111"

    assert examine(figure).year_if_north_american is None
    assert examine(figure, is_light_vehicle=False).year_if_north_american is None
    assert examine(figure, is_light_vehicle=True).year_if_north_american == 2001
    assert examine(letter, is_light_vehicle=True).year_if_north_american == 2031
    assert "year_open" in _codes(figure)
    assert "year_picked" in _codes(figure, is_light_vehicle=True)


def test_a_character_that_is_no_year_code_gives_no_year() -> None:
    report = examine("111111111U1111111", is_light_vehicle=True)

    assert report.years == ()
    assert report.year_if_north_american is None
    assert "year_unknown" in [remark.code for remark in report.remarks]
    assert year_candidates("") == ()
    assert year_candidates("AB") == ()


def test_a_nine_in_position_3_marks_a_maker_of_few() -> None:
    assert "low_volume" in _codes("11911111111111111")
    assert "low_volume" not in _codes("11111111111111111")


def test_what_cannot_be_concluded_is_always_said_last() -> None:
    for vin in ("11111111111111111", "11111111111111112", "11111111Z11111111"):
        assert _codes(vin)[-1] == "not_concluded"


@given(NUMBERS)
def test_every_legal_number_is_accepted(vin: str) -> None:
    report = examine(vin)

    assert report.vin == vin
    assert report.check.remainder == report.check.total % 11
    assert report.remarks[0].code in {"check_passes", "check_fails", "check_not_used"}


@given(NUMBERS)
def test_position_9_weighs_nothing(vin: str) -> None:
    assert check_digit(vin).expected == check_digit(vin[:8] + "0" + vin[9:]).expected


@given(NUMBERS)
def test_every_offered_look_alike_puts_the_number_right(vin: str) -> None:
    for alike in examine(vin).look_alikes:
        changed = vin[: alike.position - 1] + alike.perhaps + vin[alike.position :]
        assert vin[alike.position - 1] == alike.typed
        assert check_digit(changed).passes


@given(NUMBERS, st.integers(0, 16), st.sampled_from("0123456789"))
def test_one_wrong_figure_is_noticed(vin: str, place: int, figure: str) -> None:
    """A single figure changed to another always changes the remainder: no weight but position 9's is 0 modulo 11."""
    if place == 8 or not vin[place].isdigit() or vin[place] == figure:
        return
    changed = vin[:place] + figure + vin[place + 1 :]

    assert check_digit(changed).expected != check_digit(vin).expected


@given(st.text(max_size=40))
def test_any_text_gives_a_report_or_a_typed_problem(text: str) -> None:
    try:
        report = examine(text)
    except TradeProblem:
        return
    assert len(report.vin) == 17
