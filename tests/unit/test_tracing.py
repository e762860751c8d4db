"""Tracing: what a reading really was, which left their window, whose vehicles, and one re-check for each.

Deviation: (set - measured)/measured, so what was given is said/(1 + deviation) (ISO 6789, sign as in `torque_tool`).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.offering import figure_keys, procedures_for
from app.domain.packet import Axle, Stage
from app.domain.records import FigureRecord, JobLine, Tool, ToolKind
from app.domain.tracing import place_of, with_figure, with_wrench
from app.trade.problems import InputMissing, OutOfRange
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import AsFound, deviation
from app.use_cases.calibrate_tool import CalibrationWanted, calibrate_tool
from app.use_cases.keep_tool import ToolWanted, change_tool
from app.use_cases.see_pace import see_pace
from app.use_cases.trace_uses import corrected_figures, open_rechecks, recall_figure, recall_wrench, story
from app.use_cases.verify import rebuild, verify
from app.web.desk.vehicle_history import see_history
from tests.builders import ADA, FAY, Play, whole_job
from tests.contract.storage_contract import a_use
from tests.offices import VEHICLE, Workshop, a_small_job, an_office
from tests.unit.test_keep_registers import refused


def nm(amount: float) -> Quantity:
    return Quantity(Dimension.TORQUE, round(amount * 1_000))


# --- The sums --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "really"),
    [
        (100_000, 94_340),  # 100/1.06 = 94.3396
        (106_000, 100_000),
        (53_000, 50_000),
    ],
)
def test_six_percent_out_gives_so_much_less(said: int, really: int) -> None:
    """By hand: a wrench 6 % out promises 1.06 times what it gives."""
    assert AsFound([(nm(106), nm(100))]).given(said) == really


def test_a_wrench_that_gives_more_than_it_says_has_a_negative_deviation() -> None:
    """Set 95, measured 100: -5 %, so 95 said is 100 given."""
    assert AsFound([(nm(95), nm(100))]).given(95_000) == 100_000
    assert deviation(nm(95), nm(100)).value == -50_000


def test_between_the_points_the_deviation_runs_straight_and_beyond_them_the_nearest_holds() -> None:
    """+2 % at 40 and +6 % at 120: at 80, half way, +4 %; at 20 still 2 %, at 200 still 6 %."""
    found = AsFound([(nm(120), Quantity(Dimension.TORQUE, 113_208)), (nm(40.8), nm(40))])
    assert found.deviation_at(20_000) == Fraction(2, 100)
    assert float(found.deviation_at(80_400)) == pytest.approx(0.04, abs=1e-5)
    assert float(found.deviation_at(200_000)) == pytest.approx(0.06, abs=1e-5)
    assert found.given(80_400) == 77_308  # 80.4/1.04 = 77.3077


def test_several_readings_at_a_setting_count_by_their_mean() -> None:
    """Measured 98 and 102 at 100: their mean is what was set."""
    assert AsFound([(nm(100), nm(98)), (nm(100), nm(102))]).given(100_000) == 100_000


def test_a_wrench_with_no_point_or_a_torque_of_nothing_cannot_be_judged() -> None:
    with pytest.raises(InputMissing):
        AsFound([])
    with pytest.raises(OutOfRange):
        AsFound([(nm(0), nm(1))])


TORQUES = st.integers(1_000, 600_000)


@given(TORQUES, st.integers(500, 1_500), TORQUES)
def test_what_was_given_and_what_was_said_have_the_deviation_that_was_found(at: int, permille: int, said: int) -> None:
    """Against the definition itself: (said - given)/given is the deviation found, to the rounding of a mN·m."""
    measured = max(1, at * permille // 1_000)
    found = AsFound([(Quantity(Dimension.TORQUE, at), Quantity(Dimension.TORQUE, measured))])
    real = found.given(said)
    exact = Fraction(said * measured, at)
    assert abs(real - exact) <= Fraction(1, 2)


@given(st.lists(st.tuples(TORQUES, st.integers(900, 1_100)), min_size=1, max_size=6), TORQUES)
def test_no_reading_is_off_by_more_than_the_worst_point(points: list[tuple[int, int]], said: int) -> None:
    pairs = [(at, max(1, at * permille // 1_000)) for at, permille in points]
    found = AsFound([(Quantity(Dimension.TORQUE, at), Quantity(Dimension.TORQUE, got)) for at, got in pairs])
    deviations = [Fraction(at, got) - 1 for at, got in pairs]
    assert min(deviations) <= found.deviation_at(said) <= max(deviations)


def test_with_an_extension_the_joint_is_off_by_the_same_part() -> None:
    """Read 100, 112.5 at the joint; 6 % out: 112.5/1.06 = 106.132."""
    use = a_use(1, reading=100_000, value=112_500, low=100_000, high=120_000)
    (traced,) = with_wrench([use], AsFound([(nm(106), nm(100))]))
    assert abs(traced.given - 106_132) <= 1
    assert not traced.leaves


@pytest.mark.parametrize(
    ("value", "place"), [(99, "below"), (100, "within"), (120, "within"), (121, "above")]
)  # fmt: skip
def test_the_ends_of_a_window_lie_within(value: int, place: str) -> None:
    assert place_of(value, 100, 120) == place


def test_without_a_window_nothing_has_left_it() -> None:
    assert place_of(5, None, None) == ""
    traced = with_figure([a_use(1)], {})
    assert not traced[0].leaves


def test_a_corrected_figure_judges_each_stage_by_its_own_window() -> None:
    stages = {0: Stage(low_mnm=70_000, target_mnm=75_000, high_mnm=80_000)}
    first, second = with_figure([a_use(1), a_use(1, stage=1)], stages)
    assert (first.place, second.place) == ("below", "")


def test_what_was_tightened_again_since_needs_no_re_check() -> None:
    (traced,) = with_wrench([a_use(1, replaced_by=9)], AsFound([(nm(120), nm(100))]))
    assert traced.leaves
    assert not traced.wants_recheck


# --- In the office ---------------------------------------------------------------------------------------------------

WRENCH = Tool(
    "t-1", "W1", ToolKind.TORQUE_WRENCH, "Click wrench", "N·m", 40_000, 200_000, 400_000,
    due_on=date(2026, 12, 31), checked_on=date(2026, 1, 5),
)  # fmt: skip
OUT = CalibrationWanted("cal-1", "2026-06-08", "Hale Metrology", "K-81", (("106", "100"),))


@pytest.fixture
def here() -> Workshop:
    """The builders' job: with W1 a stud's nut at 110 N·m, a second reading of 111, and a pivot bolt at 108."""
    made = an_office()
    made.add("tools", WRENCH)
    a_small_job(made, whole_job())
    return made


def test_every_sign_off_and_second_reading_is_noted_with_its_window(here: Workshop) -> None:
    with here.store.reading() as unit:
        uses = unit.uses.between(0, 999)
    assert [(one.kind, one.fastener, one.tool, one.reading) for one in uses] == [
        ("signed_off", "nut", "W1", 110_000), ("countersigned", "nut", "W1", 111_000),
        ("signed_off", "pivot", "W1", 108_000),
    ]  # fmt: skip
    assert {(one.low, one.high) for one in uses} == {(104_500, 115_500)}


def test_a_wrench_six_percent_out_lists_what_left_its_window(here: Workshop) -> None:
    """By hand, against the window from 104.5: 110/1.06 = 103.774, 111/1.06 = 104.717, 108/1.06 = 101.887 N·m."""
    calibrate_tool(here.office, FAY.id, "t-1", OUT)
    recall = recall_wrench(here.office, "cal-1")
    assert [(one.use.fastener, one.given, one.place) for one in recall.traced] == [
        ("nut", 103_774, "below"), ("nut", 104_717, "within"), ("pivot", 101_887, "below"),
    ]  # fmt: skip
    assert recall.since == date(2026, 1, 5)
    whose = next(iter(recall.whose.values()))
    assert (whose.plate, whose.customer, whose.phone) == ("CP 1001", "Mira Okonjo", "+00 2 555")


def test_three_percent_leaves_them_inside(here: Workshop) -> None:
    """The lowest of them: 108/1.03 = 104.854 N·m, above 104.5. Set right, so that it is traced all the same."""
    typed = replace(OUT, readings=(("103", "100"), ("40", "38")), adjusted="yes")
    calibrate_tool(here.office, FAY.id, "t-1", typed)
    recall = recall_wrench(here.office, "cal-1")
    assert [one.place for one in recall.traced] == ["within"] * 3
    assert recall.by_vehicle == {}


def test_only_what_came_since_it_was_last_good_is_traced(here: Workshop) -> None:
    here.save("tools", replace(WRENCH, checked_on=date(2026, 6, 7)))
    calibrate_tool(here.office, FAY.id, "t-1", OUT)
    assert len(recall_wrench(here.office, "cal-1").traced) == 3
    here.clock.forward(days=3)
    true = (("40", "40"), ("120", "120"), ("200", "200"))
    calibrate_tool(here.office, FAY.id, "t-1", replace(OUT, id="cal-2", done_on="2026-06-10", readings=true))
    calibrate_tool(here.office, FAY.id, "t-1", replace(OUT, id="cal-3", done_on="2026-06-11"))
    assert recall_wrench(here.office, "cal-3").traced == []


def test_the_day_it_was_last_good_is_remembered_when_it_was_set_right(here: Workshop) -> None:
    """Setting it right moves the wrench's own day on; what was tightened before is traced from the old day."""
    calibrate_tool(here.office, FAY.id, "t-1", replace(OUT, adjusted="yes"))
    assert here.get("tools", "t-1").checked_on == date(2026, 6, 8)
    recall = recall_wrench(here.office, "cal-1")
    assert (recall.since, len(recall.traced)) == (date(2026, 1, 5), 3)


def test_what_was_tightened_after_it_was_set_right_is_not_traced(here: Workshop) -> None:
    """The job was done on 8 June; a certificate of the 7th that set it right has nothing to do with it."""
    calibrate_tool(here.office, FAY.id, "t-1", replace(OUT, done_on="2026-06-07", adjusted="yes"))
    assert recall_wrench(here.office, "cal-1").traced == []


def test_a_joint_no_procedure_knows_is_named_and_not_guessed(here: Workshop) -> None:
    """The builders' joints have figure keys of their own; no re-check asks for them."""
    calibrate_tool(here.office, FAY.id, "t-1", OUT)
    made = open_rechecks(here.office, FAY.id, recall_wrench(here.office, "cal-1"))
    assert (made.opened, made.not_possible) == ((), (("CP 1001", "lines_missing"),))
    assert len(here.all("jobs")) == 1


def test_a_long_story_is_cut_and_says_so(here: Workshop) -> None:
    calibrate_tool(here.office, FAY.id, "t-1", OUT)
    recall = recall_wrench(here.office, "cal-1")
    told = story(recall, list(recall.traced) * 40)
    assert len(told) <= 1_000
    assert told.endswith("more: see Tracing.")


def test_a_tag_that_was_signed_with_stays(here: Workshop) -> None:
    wanted = ToolWanted("W77", "torque_wrench", "Click wrench", "N·m", "40", "200")
    assert refused(lambda: change_tool(here.office, FAY.id, "t-1", wanted)) == {"tag": "tag_used"}


def test_what_is_kept_for_tracing_is_verified_and_made_anew(here: Workshop) -> None:
    assert [one for one in verify(here.office).breaches if one.code == "uses"] == []
    with here.store.reading() as unit:
        kept = list(unit.uses.between(0, 999))

    for spoilt in (
        lambda unit: unit.uses.clear(),
        lambda unit: unit.uses.add([a_use(9_999)]),
        lambda unit: unit.uses.add([kept[0]._replace(reading=1)]),
        lambda unit: unit.uses.add([kept[0]._replace(replaced_by=3)]),
        lambda unit: unit.uses.add([a_use(1)]),
    ):
        with here.store.writing() as unit:
            spoilt(unit)
            unit.commit()
        assert any(one.code == "uses" for one in verify(here.office).breaches)
        rebuild(here.office)
        assert not any(one.code == "uses" for one in verify(here.office).breaches)
        with here.store.reading() as unit:
            assert list(unit.uses.between(0, 999)) == kept


def test_a_set_aside_sign_off_is_no_use(here: Workshop) -> None:
    other = an_office()
    play = Play(whole_job().sheet.packet)  # type: ignore[arg-type]
    play.signs("90 N·m", step="ride_height", fastener="pivot")
    a_small_job(other, play)
    with other.store.reading() as unit:
        assert list(unit.uses.between(0, 999)) == []


# --- Figures, history, pace ------------------------------------------------------------------------------------------


def test_a_figure_nobody_corrected_is_not_listed(here: Workshop) -> None:
    with here.store.reading() as unit:
        assert corrected_figures(unit) == []
        assert unit.uses.of_figure("no-such")[0] in ((), [])
    with pytest.raises(Exception, match="no-such"):
        recall_figure(here.office, "no-such")


def test_the_history_holds_what_was_recorded_and_marks_a_word(here: Workshop) -> None:
    found = see_history(here.office, "v-1", "pivot")
    (job,) = found.jobs
    words = [f"{one.where}: {one.what}" for one in job.lines]
    assert any("Pivot bolt: 108 N·m, wrench W1" in one for one in words)
    assert any("second reading" in one for one in words)
    assert found.found == sum(one.found for one in job.lines) > 0
    assert see_history(here.office, "v-1").found == 0


def test_ticks_faster_than_possible_are_named_without_a_person(here: Workshop) -> None:
    """The builders' entries are all noted at one instant: every one that takes time came too fast."""
    pace = see_pace(here.office)
    assert pace.jobs == 1
    assert {(one.kind, one.seconds) for one in pace.too_fast} >= {("gate_answered", 0), ("signed_off", 0)}
    assert all(set(one.__slots__) == {"number", "step", "kind", "seconds", "least_s"} for one in pace.too_fast)
    assert pace.steps == ()


def test_an_unknown_entry_body_is_no_tick() -> None:
    assert e.read_body(replace(whole_job().history[0][0].entry, kind="step_done", body={"x": 1})) is None


def test_a_re_check_knows_every_joint_some_procedure_asks_a_figure_for(here: Workshop) -> None:
    """And what holds a loaded spring is not tightened on the vehicle, but told to the foreman."""
    book = here.office.book
    recheck = book.procedures["recheck"]
    assert set(recheck.options["checked"].choices) == {one.key for one in figure_keys(book)}
    for joint, step in (("strut_centre_nut", "not_here"), ("upper_spring_seat", "not_here"), ("wheel_nuts", "tighten")):
        options = (("checked", joint), ("where", "left"))
        job = here.opens("v-1", JobLine("", "recheck", Axle.FRONT, "", options))
        keys = [one.key for one in here.sheet(job).packet.steps]
        assert keys == ["story", "look", step]


def test_a_re_check_is_not_offered_at_the_desk(here: Workshop) -> None:
    offers = procedures_for(here.office.book, VEHICLE.front)
    assert "recheck" not in {one.procedure for one in offers}
    assert "inspection" in {one.procedure for one in offers}


def test_a_corrected_figure_lists_what_was_signed_against_the_old_edition(here: Workshop) -> None:
    """The old edition printed 104.5 to 115.5 N·m, the new one 112 to 118: a nut signed off at 110 got too little."""
    old = FigureRecord(
        id="figure-1", model="Tern 2.0", axle=Axle.FRONT, place_key="x", edition=1, text="110 N·m", unit="N·m",
        stages=(Stage(104_500, 110_000, 115_500),), thread="", strength="", lubrication="", one_time=False,
        critical=False, document="", page="", document_date="", typed_by=FAY.id, typed_at=here.clock.now,
        compared_by=ADA.id, compared_at=here.clock.now,
    )  # fmt: skip
    new = replace(old, id="figure-2", edition=2, text="115 N·m", stages=(Stage(112_000, 115_000, 118_000),))
    with here.store.writing() as unit:
        held = unit.uses.between(0, 999)
        unit.uses.clear()
        unit.uses.add([one._replace(figure="figure-1") for one in held[:1]])
        unit.figures.add(replace(old, withdrawn=True))
        unit.figures.add(new)
        unit.commit()

    recall = recall_figure(here.office, "figure-1")

    assert "corrected to 115 N·m (edition 2)" in recall.why
    assert [(one.given, one.place, one.use.low) for one in recall.traced] == [(110_000, "below", 112_000)]
    with here.store.reading() as unit:
        assert [one.id for one in corrected_figures(unit)] == ["figure-1"]
