"""Torque figures: typed, doubted, compared, corrected, withdrawn; when one counts and when none does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.domain.packet import Axle
from app.domain.problems import Problem, Refused
from app.domain.records import FigureRecord, Role
from app.use_cases.keep_figure import (
    FigureWanted,
    Stand,
    asked_for,
    compare_figure,
    doubted_as,
    editions,
    enter_figure,
    may_see,
    stand_of,
    withdraw_figure,
)
from app.use_cases.read_figure import FigureTyped
from tests.builders import BEN, DEE, FAY
from tests.offices import VEHICLE, Workshop, an_office

SINGLE = FigureTyped("single", "N·m", target="110")
WANTED = FigureWanted(
    VEHICLE.model, "front", "lower_ball_joint_stud", SINGLE, thread="M14x1.5", strength="8.8",
    document="Workshop manual", page="2-14", document_date="2014",
)  # fmt: skip


def problems(act: Callable[[], Any]) -> list[Problem]:
    with pytest.raises(Refused) as caught:
        act()
    return list(caught.value.problems)


def refused(act: Callable[[], Any]) -> dict[str, str]:
    return {one.field: one.code for one in problems(act)}


def at(here: Workshop) -> list[FigureRecord]:
    with here.store.reading() as unit:
        return editions(unit, VEHICLE.model, Axle.FRONT, "lower_ball_joint_stud")


def entered(here: Workshop, torque: FigureTyped = SINGLE, **over: Any) -> FigureRecord:
    return enter_figure(here.office, DEE.id, replace(WANTED, typed=torque, **over)).figure


# --- Reading what the source prints ----------------------------------------------------------------------------------


def test_a_single_figure_gets_the_house_window() -> None:
    """House rule D-006: ±4 %. Of 110 N·m that is 105.6 to 114.4 N·m."""
    stage = entered(an_office()).stages[0]
    assert (stage.low_mnm, stage.target_mnm, stage.high_mnm) == (105_600, 110_000, 114_400)


@pytest.mark.parametrize(
    ("torque", "ends", "text"),
    [
        (replace(SINGLE, tolerance="±5 N·m"), (105_000, 110_000, 115_000), "110 N·m ±5 N·m"),
        (replace(SINGLE, tolerance="10 %"), (99_000, 110_000, 121_000), "110 N·m ±10 %"),
        (replace(SINGLE, tolerance="5"), (105_000, 110_000, 115_000), "110 N·m ±5 N·m"),
        (FigureTyped("range", "N·m", low="95", high="115 N·m"), (95_000, None, 115_000), "95 N·m to 115 N·m"),
    ],
)
def test_what_is_printed_wins_over_the_house(torque: FigureTyped, ends: tuple[Any, ...], text: str) -> None:
    figure = entered(an_office(), torque)
    stage = figure.stages[0]
    assert (stage.low_mnm, stage.target_mnm, stage.high_mnm) == ends
    assert figure.text == text


def test_the_unit_stays_as_printed() -> None:
    """81 lbf·ft are 109.821 N·m: pound, standard gravity and foot by definition (NIST SP 811, appendix B)."""
    figure = entered(an_office(), FigureTyped("single", "lbf·ft", target="81"))
    assert (figure.unit, figure.text, figure.stages[0].target_mnm) == ("lbf·ft", "81 lbf·ft", 109_821)


def test_stages_are_torques_and_turns_in_order() -> None:
    torque = FigureTyped("stages", "N·m", stages=(("50 N·m", ""), ("90°", "5°"), ("", ""), ("", "")))
    first, turn = entered(an_office(), torque, one_time=True).stages
    assert (first.low_mnm, first.high_mnm) == (48_000, 52_000)
    assert (turn.target_mnm, turn.low_mdeg, turn.target_mdeg, turn.high_mdeg) == (None, 85_000, 90_000, 95_000)


@pytest.mark.parametrize(
    ("torque", "expected"),
    [
        (replace(SINGLE, shape=""), {"shape": "shape_missing"}),
        (replace(SINGLE, unit="kg"), {"unit": "torque_unit_missing"}),
        (replace(SINGLE, target=""), {"target": "value_missing"}),
        (replace(SINGLE, target="0"), {"target": "value_bounds"}),
        (replace(SINGLE, target="-110"), {"target": "value_bounds"}),
        (replace(SINGLE, target="110000000"), {"target": "value_bounds"}),
        (replace(SINGLE, target="1,100"), {"target": "amount_unclear"}),
        (replace(SINGLE, target="110 mm"), {"target": "amount_other_kind"}),
        (replace(SINGLE, target="tight"), {"target": "amount_unclear"}),
        (replace(SINGLE, tolerance="200 N·m"), {"tolerance": "tolerance_too_large"}),
        (replace(SINGLE, tolerance="0"), {"tolerance": "tolerance_too_large"}),
        (FigureTyped("range", "N·m", low="115", high="95"), {"high": "range_swapped"}),
        (FigureTyped("range", "N·m", low="95"), {"high": "value_missing"}),
        (FigureTyped("stages", "N·m", stages=(("50 N·m", ""),)), {"stage1": "stages_few"}),
        (FigureTyped("stages", "N·m", stages=(("90°", "5°"), ("50 N·m", ""))), {"stage1": "turn_first"}),
        (FigureTyped("stages", "N·m", stages=(("50 N·m", ""), ("90°", ""))), {"tolerance2": "turn_tolerance_missing"}),
        (FigureTyped("stages", "N·m", stages=(("50 N·m", ""), ("90", ""))), {"stage2": "amount_unclear"}),
        (FigureTyped("stages", "N·m", stages=(("50 N·m", ""), ("40 turn", "5°"))), {"stage2": "value_bounds"}),
    ],
)
def test_a_figure_that_cannot_be_is_refused(torque: FigureTyped, expected: dict[str, str]) -> None:
    assert refused(lambda: entered(an_office(), torque)) == expected


@pytest.mark.parametrize(
    ("over", "expected"),
    [
        ({"model": " "}, {"model": "figure_model_missing"}),
        ({"axle": "both"}, {"axle": "axle_missing"}),
        ({"place_key": "elsewhere"}, {"place_key": "place_unknown"}),
        ({"thread": "M14 and a bit"}, {"thread": "thread_unclear"}),
        ({"thread": "1/2"}, {"thread": "thread_pitch_missing"}),
        ({"strength": "11.9"}, {"strength": "strength_unknown_here"}),
        ({"strength": "5"}, {"strength": "strength_unknown_here"}),
        ({"condition": "wet"}, {"condition": "condition_unknown"}),
        ({"document": ""}, {"document": "document_missing"}),
        ({"page": ""}, {"page": "page_missing"}),
        ({"document_date": ""}, {"document_date": "document_date_missing"}),
    ],
)
def test_what_goes_with_a_figure_is_asked_for(over: dict[str, str], expected: dict[str, str]) -> None:
    assert refused(lambda: entered(an_office(), **over)) == expected


# --- Doubts ----------------------------------------------------------------------------------------------------------

# Far beyond what an M8 of class 8.8 bears: its proof load is 21.2 kN (ISO 898-1, table 5), about 34 N·m with K = 0.2.
ODD = replace(WANTED, thread="M8", strength="8.8")


def test_a_doubted_figure_is_kept_only_when_confirmed_with_a_reason() -> None:
    here = an_office()
    doubts = problems(lambda: enter_figure(here.office, DEE.id, ODD))
    assert {one.code for one in doubts} == {"figure_doubt"}

    sure = replace(ODD, confirmed=str(doubts[0].details["figure"]))
    assert refused(lambda: enter_figure(here.office, DEE.id, sure)) == {"confirmed_because": "confirm_reason_missing"}
    kept = enter_figure(here.office, DEE.id, replace(sure, confirmed_because="Table 4 says the same")).figure
    assert kept.confirmed_because == "Table 4 says the same"


def test_a_bolt_that_is_turned_on_and_used_again_is_asked_about() -> None:
    """Common practice: what is tightened into yield is new every time. A source that says otherwise is confirmed."""
    here = an_office()
    turned = replace(WANTED, typed=FigureTyped("stages", "N·m", stages=(("50 N·m", ""), ("90°", "5°"))))

    doubts = problems(lambda: enter_figure(here.office, DEE.id, turned))

    assert ["new every time" in str(one.details["says"]) for one in doubts] == [True]
    assert enter_figure(here.office, DEE.id, replace(turned, one_time=True)).figure.one_time
    sure = replace(turned, confirmed=str(doubts[0].details["figure"]), confirmed_because="page 2-14 says reusable")
    assert enter_figure(here.office, DEE.id, sure).figure.confirmed_because == "page 2-14 says reusable"


def test_a_confirmation_is_for_the_figure_that_was_doubted() -> None:
    other = replace(ODD, typed=replace(SINGLE, target="120"), confirmed=doubted_as("110 N·m", ODD),
                    confirmed_because="I looked")  # fmt: skip
    assert refused(lambda: enter_figure(an_office().office, DEE.id, other)) == {"confirmed": "figure_doubt"}


def test_without_a_thread_nothing_is_doubted_and_that_is_said() -> None:
    outcome = enter_figure(an_office().office, DEE.id, replace(WANTED, thread="", strength=""))
    assert outcome.gaps == ("thread_unknown",)


# --- Comparing -------------------------------------------------------------------------------------------------------


def test_a_figure_counts_after_another_person_typed_the_same() -> None:
    here = an_office()
    figure = entered(here)
    assert not figure.counts
    outcome = compare_figure(here.office, FAY.id, figure.id, replace(SINGLE, target="110.0 Nm"))
    assert outcome.agrees
    assert (outcome.figure.counts, outcome.figure.compared_by, stand_of(at(here))) == (True, FAY.id, Stand.COUNTS)


def test_nobody_compares_their_own_reading() -> None:
    here = an_office()
    figure = entered(here)
    assert refused(lambda: compare_figure(here.office, DEE.id, figure.id, SINGLE)) == {"": "figure_yours"}
    assert stand_of(at(here)) is Stand.WAITS


def test_the_second_person_does_not_see_the_first_reading() -> None:
    figure = entered(an_office())
    assert may_see(figure, Stand.WAITS, DEE.id, frozenset({Role.DESK}))
    assert not may_see(figure, Stand.WAITS, FAY.id, frozenset({Role.FOREMAN}))
    assert may_see(figure, Stand.DIFFERS, FAY.id, frozenset({Role.FOREMAN}))
    assert not may_see(figure, Stand.DIFFERS, BEN.id, frozenset({Role.DESK}))


def differing(here: Workshop) -> FigureRecord:
    figure = entered(here)
    outcome = compare_figure(here.office, "p-gus", figure.id, replace(SINGLE, target="101"))
    assert not outcome.agrees
    return figure


def test_two_readings_that_differ_stand_side_by_side_and_neither_counts() -> None:
    here = an_office()
    differing(here)
    assert [(one.text, one.typed_by, one.counts) for one in at(here)] == [
        ("110 N·m", DEE.id, False),
        ("101 N·m", "p-gus", False),
    ]
    assert stand_of(at(here)) is Stand.DIFFERS


@pytest.mark.parametrize(("typed", "winner"), [("110", DEE.id), ("101", "p-gus")])
def test_the_foreman_types_it_and_the_same_reading_counts(typed: str, winner: str) -> None:
    here = an_office()
    figure = differing(here)
    outcome = compare_figure(here.office, FAY.id, figure.id, replace(SINGLE, target=typed))
    assert outcome.agrees
    assert [one.typed_by for one in at(here) if one.counts] == [winner]


def test_a_foremans_third_reading_settles_nothing() -> None:
    here = an_office()
    figure = differing(here)
    third = replace(SINGLE, target="99")
    assert refused(lambda: compare_figure(here.office, FAY.id, figure.id, third)) == {"": "figure_neither"}
    assert stand_of(at(here)) is Stand.DIFFERS


def test_a_foreman_cannot_settle_for_their_own_reading() -> None:
    here = an_office()
    figure = differing(here)
    own = replace(SINGLE, target="101")
    assert refused(lambda: compare_figure(here.office, "p-gus", figure.id, own)) == {"": "figure_yours"}


def test_only_the_foreman_settles() -> None:
    here = an_office()
    figure = differing(here)
    assert refused(lambda: compare_figure(here.office, BEN.id, figure.id, SINGLE)) == {"": "figure_foreman"}


def test_a_correction_is_a_new_edition_and_the_old_counts_no_more() -> None:
    """While someone says that it is wrong, nothing counts; withdrawing the correction brings the old one back."""
    here = an_office()
    first = entered(here)
    compare_figure(here.office, FAY.id, first.id, SINGLE)
    second = entered(here, replace(SINGLE, target="112"))
    assert (second.edition, stand_of(at(here))) == (2, Stand.WAITS)

    withdraw_figure(here.office, FAY.id, second.id)
    assert stand_of(at(here)) is Stand.COUNTS

    third = entered(here, replace(SINGLE, target="112"))
    compare_figure(here.office, FAY.id, third.id, replace(SINGLE, target="112"))
    assert [one.edition for one in at(here) if one.counts] == [3]
    assert here.get("figures", first.id).replaced


def test_a_settled_figure_is_not_compared_again() -> None:
    here = an_office()
    figure = entered(here)
    compare_figure(here.office, FAY.id, figure.id, SINGLE)
    assert refused(lambda: compare_figure(here.office, "p-gus", figure.id, SINGLE)) == {"": "figure_settled"}
    withdraw_figure(here.office, FAY.id, figure.id)
    assert refused(lambda: withdraw_figure(here.office, FAY.id, figure.id)) == {"": "figure_settled"}


# --- The sheets ------------------------------------------------------------------------------------------------------


def figure_on(here: Workshop, job: Any) -> Any:
    fasteners = [f for step in here.sheet(job).packet.steps for f in step.fasteners if f.tighten == "final"]
    return next(one.figure for one in fasteners if one.figure_key == "lower_ball_joint_stud")


def test_an_open_sheet_waits_for_its_figures_and_gets_one_that_counts() -> None:
    here = an_office()
    job = here.opens()
    key = (VEHICLE.model, "front", "lower_ball_joint_stud")
    with here.store.reading() as unit:
        assert asked_for(unit)[key] == [job.number]
    assert figure_on(here, job) is None

    figure = entered(here)
    assert not figure_on(here, job).verified
    compare_figure(here.office, FAY.id, figure.id, SINGLE)
    assert figure_on(here, job).verified
    with here.store.reading() as unit:
        assert key not in asked_for(unit)

    withdraw_figure(here.office, FAY.id, figure.id)
    assert figure_on(here, job) is None
