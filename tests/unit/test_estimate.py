"""An estimate's sums, its taxes by the day, and how lines stand after answers and price changes: all pure."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.estimate import (
    Answer,
    Estimate,
    Labour,
    LineAnswer,
    OfferedLine,
    Other,
    Part,
    Parties,
    PutBack,
    TaxRow,
    Way,
    charges,
    holes,
    priced,
    standings,
    tax_problems,
    taxes_on,
)
from app.domain.packet import PriceState
from app.domain.problems import Problem
from app.trade.labour import Basis, LineKind, PartCondition, Rounding, limit_of
from app.trade.problems import OutOfRange

AT = datetime(2026, 6, 8, 9, 0, tzinfo=UTC)
DAY = date(2026, 6, 8)
PARTIES = Parties("Shop", "1 Lane", "", "", "REG", "Mira", "Tern", "CP 1", 1, "It clunks")
NONE, FLORIDA, CALIFORNIA, WASHINGTON = (limit_of(key) for key in ("", "US-FL", "US-CA", "US-WA"))
SALES = TaxRow("Sales tax", date(2020, 1, 1), None, 72_500, (LineKind.PART,))
VAT = TaxRow("VAT", date(2020, 1, 1), None, 200_000, tuple(LineKind))


def a_line(line: str = "l1", minor: int = 10_000, **over: object) -> OfferedLine:
    """A line of one flat hour at a rate, untaxed."""
    made = OfferedLine(line, line, (Labour("Work", 3_600, minor, Basis.FLAT),))
    return priced(replace(made, **over), "USD", Rounding.HALF_UP, ())  # type: ignore[arg-type]


def an_edition(number: int, *lines: OfferedLine) -> Estimate:
    at = AT + timedelta(hours=number)
    return Estimate(
        *(f"e{number}", "j", "1", number, "USD", "", DAY, PARTIES, tuple(lines), "", "p", "Dee"), made_at=at
    )


def an_answer(edition: int, *said: LineAnswer) -> Answer:
    at = AT + timedelta(hours=edition, minutes=10)
    return Answer(*(f"a{edition}", "j", edition, Way.TYPED, "Mira", "", at, 0, "", False, "", said, "p", "Dee", at))


def yes(line: str = "l1") -> LineAnswer:
    return LineAnswer(line, True, 0)


def no(line: str = "l1", back: PutBack = PutBack.NONE) -> LineAnswer:
    return LineAnswer(line, False, 0, back)


# --- Sums ------------------------------------------------------------------------------------------------------------

MINOR = st.integers(0, 1_000_000)
LABOUR = st.builds(Labour, st.just("w"), st.integers(0, 100_000), MINOR, st.sampled_from(Basis))
PART = st.builds(Part, st.just("p"), st.just(""), st.integers(1, 9_999), MINOR)
OTHER = st.builds(Other, st.sampled_from([LineKind.SUBLET, LineKind.FEE]), st.just("o"), st.just("x"), MINOR)
OFFERED = st.builds(
    OfferedLine,
    st.uuids().map(str),
    st.just("Line"),
    st.lists(LABOUR, max_size=3).map(tuple),
    st.lists(PART, max_size=3).map(tuple),
    st.lists(OTHER, max_size=2).map(tuple),
    st.integers(0, 1_000_000),
)


@given(st.lists(OFFERED, max_size=5), st.sampled_from(Rounding))
def test_every_total_is_the_exact_sum_of_what_stands_above_it(lines: list[OfferedLine], rounding: Rounding):
    made = an_edition(1, *(priced(one, "USD", rounding, (SALES, VAT)) for one in lines))

    for line in made.lines:
        assert sum(line.pieces) == line.net_minor == line.labour_minor + line.parts_minor + line.other_minor
        assert line.total_minor == line.net_minor + sum(tax.amount_minor for tax in line.taxes)
    assert made.total_minor() == sum(line.total_minor for line in made.lines)
    assert made.net_minor() == made.labour_minor() + made.parts_minor() + made.other_minor()
    assert made.total_minor() == made.net_minor() + sum(tax.amount_minor for tax in made.taxes())


@given(st.lists(OFFERED, min_size=1, max_size=5), st.data())
def test_a_line_taken_out_leaves_the_price_of_the_others_as_it_was(lines: list[OfferedLine], data: st.DataObject):
    whole = an_edition(1, *(priced(one, "USD", Rounding.HALF_UP, (SALES,)) for one in lines))
    gone = data.draw(st.sampled_from(whole.lines))
    rest = an_edition(2, *(one for one in whole.lines if one is not gone))

    assert rest.total_minor() == whole.total_minor() - gone.total_minor


@given(OFFERED)
def test_no_discount_makes_a_line_dearer_and_all_of_it_makes_it_free(line: OfferedLine):
    full = priced(replace(line, discount_ppm=0), "USD", Rounding.HALF_UP, (VAT,))

    assert priced(line, "USD", Rounding.HALF_UP, (VAT,)).total_minor <= full.total_minor
    assert priced(replace(line, discount_ppm=1_000_000), "USD", Rounding.HALF_UP, (VAT,)).is_free


@pytest.mark.parametrize("ppm", [-1, 1_000_001])
def test_a_discount_beyond_all_of_it_is_refused(ppm: int):
    with pytest.raises(OutOfRange):
        a_line(discount_ppm=ppm)


def test_a_line_with_nothing_in_it_is_free_of_charge():
    made = priced(OfferedLine("l1", "Look"), "USD", Rounding.HALF_UP, (VAT,))

    assert made.is_free
    assert made.taxes[0].amount_minor == 0


def test_the_basis_of_the_hours_is_named():
    clock = Labour("Trace", 3_600, 100, Basis.CLOCK)

    assert an_edition(1, a_line()).basis == "flat"
    assert an_edition(1, a_line(labour=(clock,))).basis == "clock"
    assert an_edition(1, a_line(), a_line("l2", labour=(clock,))).basis == "combination"
    assert an_edition(1, a_line(labour=())).basis == ""


# --- Taxes by the day ---------------------------------------------------------------------------------------------

OLD = TaxRow("VAT", date(2020, 1, 1), date(2020, 6, 30), 190_000, (LineKind.PART,))
LOW = TaxRow("VAT", date(2020, 7, 1), date(2020, 12, 31), 160_000, (LineKind.PART,))
NEW = TaxRow("VAT", date(2021, 1, 1), None, 190_000, (LineKind.PART,))


@pytest.mark.parametrize(
    ("day", "rate"),
    [("2020-01-01", 190_000), ("2020-06-30", 190_000), ("2020-07-01", 160_000), ("2020-12-31", 160_000),
     ("2021-01-01", 190_000), ("2099-01-01", 190_000)],
)  # fmt: skip
def test_the_rate_is_that_of_the_day_ends_included(day: str, rate: int):
    """Source of the days and rates: Germany's lowered rate of 2020, 16 % from 1 July to 31 December in place of 19 %
    (section 28 UStG, from memory)."""
    found = taxes_on((NEW, OLD, LOW), date.fromisoformat(day))

    assert not isinstance(found, Problem)
    assert [row.rate_ppm for row in found] == [rate]


@pytest.mark.parametrize("day", ["2019-12-31", "2020-07-01", "2020-12-31"])
def test_a_day_without_a_rate_is_told_and_never_guessed(day: str):
    found = taxes_on((OLD, NEW), date.fromisoformat(day))

    assert found == Problem("tax_hole", "", {"tax": "VAT", "day": day})


def test_holes_between_and_after_rows_are_found():
    assert [(one.from_on, one.until_on) for one in holes((NEW, OLD))] == [(date(2020, 7, 1), date(2020, 12, 31))]
    assert [(one.from_on, one.until_on) for one in holes((OLD,))] == [(date(2020, 7, 1), None)]
    assert holes((OLD, LOW, NEW)) == ()


def test_rows_that_hold_on_the_same_days_or_end_before_they_begin_are_told():
    again, backwards = replace(LOW, from_on=date(2020, 6, 30)), replace(OLD, until_on=date(2019, 1, 1))

    assert [one.code for one in tax_problems((OLD, again))] == ["tax_twice"]
    assert [one.code for one in tax_problems((NEW, replace(NEW, from_on=date(2030, 1, 1))))] == ["tax_twice"]
    assert [one.code for one in tax_problems((backwards,))] == ["tax_backwards"]
    assert tax_problems((OLD, LOW, NEW, replace(OLD, name="City"))) == ()


# --- How lines stand ------------------------------------------------------------------------------------------------


def stand(*editions: Estimate, answers: tuple[Answer, ...] = (), law=NONE, begun=()):
    lines = list(dict.fromkeys(line.line for one in editions for line in one.lines)) or ["l1"]
    return standings(lines, editions, answers, law, begun)


def test_a_line_nobody_offered_or_answered_waits():
    assert stand()["l1"].state is PriceState.WAITING
    found = stand(an_edition(1, a_line()))["l1"]
    assert (found.state, found.edition) == (PriceState.WAITING, 1)


def test_yes_agrees_a_line_under_its_edition_and_no_refuses_it():
    edition = an_edition(1, a_line("l1"), a_line("l2"))
    found = stand(edition, answers=(an_answer(1, yes("l1"), no("l2")),))

    assert (found["l1"].state, found["l1"].edition) == (PriceState.AGREED, 1)
    assert found["l2"].state is PriceState.REFUSED


def test_what_is_said_later_counts_and_what_was_said_stays_said():
    edition = an_edition(1, a_line())
    answers = (an_answer(1, no()), an_answer(1, yes()))

    assert stand(edition, answers=answers)["l1"].state is PriceState.AGREED
    assert stand(edition, answers=answers[::-1])["l1"].state is PriceState.REFUSED


@pytest.mark.parametrize(
    ("law", "was", "is_now", "state"),
    [
        # The house rule and California: every cent is asked for (Cal. Bus. & Prof. Code 9884.9(a)).
        (NONE, 10_000, 10_001, PriceState.CHANGED),
        (CALIFORNIA, 10_000, 10_001, PriceState.CHANGED),
        (CALIFORNIA, 10_000, 9_999, PriceState.AGREED),
        # Florida: the greater of 10 USD and 10 %, never more than 50 USD (Fla. Stat. 559.909(1)(b)).
        (FLORIDA, 5_000, 6_000, PriceState.AGREED),
        (FLORIDA, 5_000, 6_001, PriceState.CHANGED),
        (FLORIDA, 30_000, 33_000, PriceState.AGREED),
        (FLORIDA, 30_000, 33_001, PriceState.CHANGED),
        (FLORIDA, 100_000, 105_000, PriceState.AGREED),
        (FLORIDA, 100_000, 105_001, PriceState.CHANGED),
        # Washington: 110 % (RCW 46.71.025).
        (WASHINGTON, 100_000, 110_000, PriceState.AGREED),
        (WASHINGTON, 100_000, 110_001, PriceState.CHANGED),
    ],
)
def test_what_may_be_passed_without_asking_is_the_laws(law, was: int, is_now: int, state: PriceState):
    editions = an_edition(1, a_line(minor=was)), an_edition(2, a_line(minor=is_now))
    found = stand(*editions, answers=(an_answer(1, yes()),), law=law)["l1"]

    assert (found.state, found.edition, found.agreed_minor) == (state, 1, was)
    assert found.passed_minor == (max(0, is_now - was) if state is PriceState.AGREED else 0)


def test_what_may_be_passed_is_counted_over_all_that_was_agreed_and_against_the_first_yes():
    """Two small rises cannot add up to more than the law lets pass, and an edition in between does not reset it."""
    first, answers = an_edition(1, a_line("l1", 30_000), a_line("l2", 30_000)), (an_answer(1, yes("l1"), yes("l2")),)
    second = an_edition(2, a_line("l1", 32_500), a_line("l2", 32_500))
    third = an_edition(3, a_line("l1", 32_500), a_line("l2", 32_501))

    assert {one.state for one in stand(first, second, answers=answers, law=FLORIDA).values()} == {PriceState.AGREED}
    assert {one.state for one in stand(first, second, third, answers=answers, law=FLORIDA).values()} == {
        PriceState.CHANGED
    }


def test_only_the_lines_that_rose_are_asked_again():
    first, answers = an_edition(1, a_line("l1"), a_line("l2")), (an_answer(1, yes("l1"), yes("l2")),)
    second = an_edition(2, a_line("l1", 12_000), a_line("l2"))

    found = stand(first, second, answers=answers)
    assert (found["l1"].state, found["l2"].state) == (PriceState.CHANGED, PriceState.AGREED)


def test_a_second_yes_agrees_the_new_price_under_its_own_edition():
    editions = an_edition(1, a_line()), an_edition(2, a_line(minor=20_000))
    found = stand(*editions, answers=(an_answer(1, yes()), an_answer(2, yes())))["l1"]

    assert (found.state, found.edition, found.agreed_minor) == (PriceState.AGREED, 2, 20_000)


def test_a_used_part_in_place_of_a_new_one_asks_again_though_it_is_cheaper():
    """A part counts as new unless it was marked otherwise (16 CCR 3353(a))."""
    new, used = (Part("Joint", "", 1_000, price, kind) for price, kind in ((9_000, "new"), (2_000, "used")))
    then = a_line(parts=(replace(new, condition=PartCondition.NEW),))
    now = a_line(parts=(replace(used, condition=PartCondition.USED),))

    found = stand(an_edition(1, then), an_edition(2, now), answers=(an_answer(1, yes()),))
    assert found["l1"].state is PriceState.CHANGED


def test_work_sent_out_or_put_on_the_clock_asks_again():
    sent = Other(LineKind.SUBLET, "Alignment", "Rig & Co", 0)
    clock = Labour("Work", 3_600, 10_000, Basis.CLOCK)
    for now in (a_line(others=(sent,)), a_line(labour=(clock,))):
        found = stand(an_edition(1, a_line()), an_edition(2, now), answers=(an_answer(1, yes()),))
        assert found["l1"].state is PriceState.CHANGED


@pytest.mark.parametrize(
    ("begun", "back", "state"),
    [
        ((), PutBack.NONE, PriceState.REFUSED),
        (("l1",), PutBack.AS_RECEIVED, PriceState.PUT_BACK),
        (("l1",), PutBack.WAIVED, PriceState.REFUSED),
        (("l1",), PutBack.UNSAFE, PriceState.REFUSED),
    ],
)
def test_work_refused_after_it_was_begun_is_put_back_unless_waived_or_unsafe(begun, back, state):
    """Source: Fla. Stat. 559.909(2)."""
    answers = (an_answer(1, yes()), an_answer(2, no("l1", back)))
    editions = an_edition(1, a_line()), an_edition(2, a_line(minor=20_000))

    assert stand(*editions, answers=answers, begun=begun)["l1"].state is state


# --- What may be charged -------------------------------------------------------------------------------------------


def charged(*editions: Estimate, answers: tuple[Answer, ...], law=NONE, begun=()):
    found = charges(editions, answers, stand(*editions, answers=answers, law=law, begun=begun))
    return {one.line: (one.amount_minor, one.is_tear_down) for one in found}


def test_nothing_is_charged_for_what_waits_or_was_refused():
    edition = an_edition(1, a_line("l1"), a_line("l2"))

    assert charged(edition, answers=(an_answer(1, no("l2")),)) == {}


def test_what_was_agreed_is_charged_until_the_new_price_is():
    editions = an_edition(1, a_line()), an_edition(2, a_line(minor=20_000))
    once, twice = (an_answer(1, yes()),), (an_answer(1, yes()), an_answer(2, yes()))

    assert charged(*editions, answers=once) == {"l1": (10_000, False)}
    assert charged(*editions, answers=twice) == {"l1": (20_000, False)}


def test_taking_apart_is_charged_only_as_it_was_announced_before():
    told, untold = a_line(tear_down="The boot goes", tear_down_minor=4_500), a_line()
    later = a_line(minor=30_000, tear_down="The boot goes", tear_down_minor=9_900)
    answers = (an_answer(1, yes()), an_answer(2, no("l1", PutBack.AS_RECEIVED)))

    assert charged(an_edition(1, told), an_edition(2, later), answers=answers, begun=("l1",)) == {"l1": (4_500, True)}
    assert charged(an_edition(1, untold), an_edition(2, later), answers=answers, begun=("l1",)) == {}
