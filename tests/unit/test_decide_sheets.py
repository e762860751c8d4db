"""A verified figure is corrected: sheets that rest on the edition before keep it until the foreman has decided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.domain.problems import NotAllowed, NotFound, Refused
from app.domain.records import Choice, Job, JobState
from app.use_cases.decide_sheets import decide_sheet, undecided
from app.use_cases.keep_figure import FigureWanted, compare_figure, enter_figure, withdraw_figure
from app.use_cases.read_figure import FigureTyped
from app.use_cases.renew_sheets import renew_sheets
from tests.builders import BEN, DEE, FAY
from tests.offices import VEHICLE, Workshop, an_office

STUD = "lower_ball_joint_stud"


def torque(newton_metres: int) -> FigureTyped:
    return FigureTyped("single", "N·m", target=str(newton_metres))


WANTED = FigureWanted(VEHICLE.model, "front", STUD, torque(110), document="Manual", page="1", document_date="2014")
CAMBER = replace(WANTED, place_key="camber", typed=FigureTyped("", "°", low="-1", high="0"))


def typed(here: Workshop, wanted: FigureWanted = WANTED) -> str:
    return enter_figure(here.office, DEE.id, wanted).figure.id


def verified(here: Workshop, wanted: FigureWanted = WANTED) -> str:
    figure = typed(here, wanted)
    return compare_figure(here.office, FAY.id, figure, wanted.typed).figure.id


def corrected(newton_metres: int = 112) -> FigureWanted:
    return replace(WANTED, typed=torque(newton_metres))


def on_sheet(here: Workshop, job: Job) -> tuple[str, bool]:
    """The torque of the stud on this job's sheet, and whether it may be signed against."""
    found = [
        one.figure
        for step in here.sheet(job).packet.steps
        for one in step.fasteners
        if one.figure_key == STUD and one.figure is not None
    ]
    return (found[0].text, found[0].verified) if found else ("", False)


def waiting(here: Workshop, *, kept_too: bool = False) -> list[Any]:
    with here.store.reading() as unit:
        return undecided(unit, kept_too=kept_too)


def decided(here: Workshop, said: str, reason: str = "half of it is done", who: str = FAY.id) -> tuple[Choice, str]:
    return decide_sheet(here.office, who, waiting(here, kept_too=True)[0].choice.id, said, reason)


def refused(act: Callable[[], Any]) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as caught:
        act()
    return [(one.field, one.code) for one in caught.value.problems]


def a_corrected_office() -> tuple[Workshop, Job]:
    here = an_office()
    verified(here)
    job = here.opens()
    typed(here, corrected())
    return here, job


def test_a_correction_leaves_the_sheet_and_asks_the_foreman() -> None:
    here, job = a_corrected_office()
    assert on_sheet(here, job) == ("110 N·m", True)
    assert [(one.job.number, one.figure.text, one.newer.edition) for one in waiting(here)] == [
        (job.number, "110 N·m", 2)
    ]


def test_a_sheet_opened_after_the_correction_has_the_newer_edition() -> None:
    here, _ = a_corrected_office()
    assert on_sheet(here, here.opens(complaint="It squeaks")) == ("112 N·m", False)
    assert len(waiting(here)) == 1


@pytest.mark.parametrize("compare_first", [False, True])
def test_a_sheet_brought_up_to_date_has_the_newer_edition(compare_first: bool) -> None:
    here, job = a_corrected_office()
    newer = waiting(here)[0].newer.id
    if compare_first:
        compare_figure(here.office, FAY.id, newer, torque(112))
        assert on_sheet(here, job) == ("110 N·m", True)
    assert decided(here, "renew", "not begun yet") == (Choice.RENEW, job.number)
    assert on_sheet(here, job) == ("112 N·m", compare_first)
    compare_first or compare_figure(here.office, FAY.id, newer, torque(112))
    assert on_sheet(here, job) == ("112 N·m", True)
    assert waiting(here, kept_too=True) == []


def test_a_sheet_that_keeps_the_edition_before_keeps_it_through_everything_else() -> None:
    here, job = a_corrected_office()
    decided(here, "keep")
    compare_figure(here.office, FAY.id, here.all("figures")[1].id, torque(112))
    renew_sheets(here.office, FAY.id)
    assert on_sheet(here, job) == ("110 N·m", True)
    row = here.all("figure_choices")[0]
    assert (row.choice, row.decided_by, row.decided_at, row.reason) == (
        Choice.KEEP, FAY.id, here.clock.now, "half of it is done",
    )  # fmt: skip
    assert waiting(here) == []
    assert on_sheet(here, here.opens(complaint="Other")) == ("112 N·m", True)


def test_a_foreman_may_think_again_and_both_words_stay() -> None:
    here, job = a_corrected_office()
    decided(here, "keep")
    decided(here, "renew", "done anew")
    assert [(one.choice, one.reason) for one in here.all("figure_choices")] == [
        (Choice.KEEP, "half of it is done"),
        (Choice.RENEW, "done anew"),
    ]
    assert on_sheet(here, job)[0] == "112 N·m"


def test_withdrawing_the_edition_a_sheet_keeps_stops_it_at_once() -> None:
    here, job = a_corrected_office()
    old = waiting(here)[0].figure.id
    decided(here, "keep")
    withdraw_figure(here.office, FAY.id, old)
    assert on_sheet(here, job) == ("112 N·m", False)
    assert waiting(here, kept_too=True) == []


def test_taking_the_correction_back_leaves_nothing_to_decide() -> None:
    here, job = a_corrected_office()
    withdraw_figure(here.office, FAY.id, waiting(here)[0].newer.id)
    assert waiting(here) == []
    assert on_sheet(here, job) == ("110 N·m", True)


def test_a_correction_of_the_correction_asks_again_about_the_edition_in_use() -> None:
    here, job = a_corrected_office()
    decided(here, "keep")
    second = typed(here, corrected(114))
    assert [(one.figure.edition, one.newer.id) for one in waiting(here)] == [(1, second)]
    assert on_sheet(here, job) == ("110 N·m", True)


def test_a_figure_that_never_counted_asks_nobody() -> None:
    here = an_office()
    typed(here)
    job = here.opens()
    typed(here, corrected())
    assert waiting(here) == []
    assert on_sheet(here, job) == ("112 N·m", False)


def test_a_sheet_without_the_joint_is_not_asked_about() -> None:
    here = an_office()
    elsewhere = replace(WANTED, axle="rear", place_key="shock_lower")
    verified(here, elsewhere)
    here.opens()
    typed(here, replace(elsewhere, typed=torque(115)))
    assert waiting(here) == []


def test_a_window_is_decided_about_like_a_torque() -> None:
    here = an_office()
    verified(here, CAMBER)
    job = here.opens()
    newer = typed(here, replace(CAMBER, typed=replace(CAMBER.typed, high="0.5")))
    compare_figure(here.office, FAY.id, newer, FigureTyped("", "°", low="-1", high="0.5"))

    def high() -> Any:
        steps = here.sheet(job).packet.steps
        return next(one.high for step in steps for one in step.measures if one.id == "camber_left")

    assert high() == 0
    decided(here, "renew")
    assert high() == 500


def test_a_closed_job_is_not_asked_about() -> None:
    here, job = a_corrected_office()
    here.save("jobs", replace(here.get("jobs", job.id), state=JobState.CANCELLED))
    assert waiting(here) == []


@pytest.mark.parametrize(
    ("said", "reason", "expected"),
    [
        ("", "why", [("choice", "sheet_choice_missing")]),
        ("asked", "why", [("choice", "sheet_choice_missing")]),
        ("keep", "  ", [("reason", "sheet_reason_missing")]),
        ("", "", [("choice", "sheet_choice_missing"), ("reason", "sheet_reason_missing")]),
        ("keep", "x" * 301, [("reason", "too_long")]),
    ],
)
def test_a_decision_has_a_choice_and_a_reason(said: str, reason: str, expected: list[tuple[str, str]]) -> None:
    here, _ = a_corrected_office()
    assert refused(lambda: decided(here, said, reason)) == expected
    assert here.all("figure_choices")[0].choice is Choice.ASKED


@pytest.mark.parametrize("who", [DEE.id, BEN.id])
def test_only_a_foreman_decides(who: str) -> None:
    here, _ = a_corrected_office()
    with pytest.raises(NotAllowed):
        decided(here, "keep", who=who)


def test_what_is_settled_is_not_decided_twice() -> None:
    here, _ = a_corrected_office()
    row = waiting(here)[0].choice.id
    decided(here, "renew")
    assert refused(lambda: decide_sheet(here.office, FAY.id, row, "keep", "why")) == [("", "sheet_settled")]
    with pytest.raises(NotFound):
        decide_sheet(here.office, FAY.id, "nothing-here", "keep", "why")
