"""Figures of every kind besides torques: what has to be typed, what is asked about, and what they judge on a sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.domain.compiling import Window
from app.domain.entry import ReadingTaken
from app.domain.offering import figure_keys
from app.domain.packet import Axle, Measure
from app.domain.problems import Problem, Refused
from app.domain.records import FigureKind, FigureRecord, JobLine
from app.domain.sheet import Taken
from app.domain.spec_places import OTHER_PLACES, spec_places, window_keys
from app.trade.quantity import Dimension
from app.trade.units import parse_quantity
from app.use_cases.keep_figure import FigureWanted, compare_figure, enter_figure, withdraw_figure
from app.use_cases.read_figure import FigureTyped
from app.use_cases.rests_on import NOT_COMPARED, own_figures, windows, with_book
from app.use_cases.typed_amount import reading_of
from tests.builders import ADA, DEE, FAY, a_packet, with_step
from tests.offices import VEHICLE, Workshop, an_office, the_book
from tests.twin import TwinPlay

NOTHING = FigureTyped("", "")
CAMBER = replace(NOTHING, unit="°", low="-1.25", high="0,25", target="-0°30'")
HEIGHT = replace(NOTHING, unit="mm", target="380", tolerance="8 mm", tyre="205/65 R15")
WANTED = FigureWanted(
    VEHICLE.model, "front", "camber", CAMBER, document="Workshop manual", page="7-3", document_date="2014"
)
TYPED: dict[str, FigureTyped] = {
    "camber": CAMBER,
    "ride_height": HEIGHT,
    "load_joint_axial": replace(NOTHING, high="0.8 mm"),
    "spring_rate": replace(NOTHING, target="60 N/mm"),
    "axle_mass": replace(NOTHING, target="900"),
}


def wanted(key: str, **over: Any) -> FigureWanted:
    point = "lower edge of the arch" if OTHER_PLACES[key].needs_tyre else ""
    typed = over.pop("typed", None) or TYPED.get(key, NOTHING)
    return replace(WANTED, place_key=key, typed=typed, point=point, **over)


def entered(here: Workshop, key: str, **over: Any) -> FigureRecord:
    return enter_figure(here.office, DEE.id, wanted(key, **over)).figure


def verified(here: Workshop, key: str, **over: Any) -> FigureRecord:
    figure = entered(here, key, **over)
    return compare_figure(here.office, FAY.id, figure.id, wanted(key, **over).typed).figure


def refused(act: Callable[[], Any]) -> dict[str, str]:
    return {one.field: one.code for one in problems(act)}


def problems(act: Callable[[], Any]) -> list[Problem]:
    with pytest.raises(Refused) as caught:
        act()
    return list(caught.value.problems)


# --- The places ------------------------------------------------------------------------------------------------------


def test_no_place_has_the_key_of_a_joint() -> None:
    assert not OTHER_PLACES.keys() & {one.key for one in figure_keys(the_book())}
    assert len(spec_places(the_book())) == len(OTHER_PLACES) + len(figure_keys(the_book()))


def test_every_kind_of_figure_has_a_place() -> None:
    assert {one.kind for one in spec_places(the_book()).values()} == set(FigureKind)


@pytest.mark.parametrize("key", [key for key, one in OTHER_PLACES.items() if one.measures])
def test_every_measure_a_place_judges_is_asked_by_a_procedure(key: str) -> None:
    """With the same dimension, so that the window is in the reading's own small unit."""
    asked = {
        f"{procedure.family}/{measure.id}": measure.dimension
        for procedure in [*the_book().procedures.values()]
        for step in procedure.steps
        for measure in step.measures
    }
    place = OTHER_PLACES[key]
    for measure in place.measures:
        for axle in place.axles:
            assert asked[measure.format(axle=axle.value)] is place.dimension, measure


def test_a_height_is_looked_for_in_steps_of_either_axle() -> None:
    keys = window_keys(OTHER_PLACES["ride_height_left"], Axle.FRONT)
    assert "both/closing/front_left" in keys
    assert "rear/opening/front_left" in keys
    assert not [key for key in keys if "rear_left" in key or "right" in key]


# --- Typing ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "typed", "ends", "text"),
    [
        ("camber", CAMBER, (-1_250, -500, 250), "−1.25° to 0,25°, target -0°30'"),
        ("ride_height", HEIGHT, (372_000, 380_000, 388_000), "380 mm ±8 mm"),
        ("ride_height", replace(HEIGHT, tolerance="2 %"), (372_400, 380_000, 387_600), "380 mm ±2 %"),
        ("load_joint_axial", replace(NOTHING, high="1/32 in"), (None, None, 794), "at most 1/32 in"),
        ("spring_rate", TYPED["spring_rate"], (None, 60_000, None), "60 N/mm"),
        ("axle_mass", replace(NOTHING, target="2000 lb"), (None, 907_185, None), "2000 lb"),
    ],
)
def test_an_amount_is_kept_as_printed_and_in_the_small_unit(
    key: str, typed: FigureTyped, ends: tuple[int | None, ...], text: str
) -> None:
    """1/32 in = 0.79375 mm and 2000 lb = 907.18474 kg: inch and pound by definition (NIST SP 811, appendix B)."""
    figure = entered(an_office(), key, typed=typed)
    assert (figure.low, figure.target, figure.high) == ends
    assert (figure.text, figure.kind, figure.stages) == (text, OTHER_PLACES[key].kind, ())


@pytest.mark.parametrize(
    ("key", "over", "expected"),
    [
        ("camber", {"typed": NOTHING}, {"low": "value_missing", "high": "value_missing"}),
        ("camber", {"typed": replace(CAMBER, low="1", high="-1")}, {"high": "range_swapped"}),
        ("camber", {"typed": replace(CAMBER, target="2")}, {"target": "target_outside"}),
        ("camber", {"typed": replace(CAMBER, low="-80")}, {"low": "value_bounds"}),
        ("camber", {"typed": replace(CAMBER, low="-1.25 mm")}, {"low": "amount_other_kind"}),
        ("camber", {"typed": replace(CAMBER, low="a little")}, {"low": "amount_unclear"}),
        ("camber", {"typed": replace(CAMBER, unit="mm")}, {"unit": "unit_not_for_place"}),
        ("camber", {"typed": replace(CAMBER, tolerance="1")}, {"tolerance": "tolerance_and_ends"}),
        ("camber", {"axle": "both"}, {"axle": "axle_missing"}),
        ("caster", {"axle": "rear", "typed": CAMBER}, {"axle": "axle_of_place"}),
        ("ride_height", {"typed": replace(HEIGHT, tyre=" ")}, {"tyre": "tyre_missing"}),
        ("ride_height", {"typed": replace(HEIGHT, tolerance="0")}, {"tolerance": "tolerance_too_large"}),
        ("ride_height", {"typed": replace(HEIGHT, tolerance="100 %")}, {"tolerance": "tolerance_too_large"}),
        ("ride_height", {"typed": replace(HEIGHT, tolerance="some")}, {"tolerance": "amount_unclear"}),
        (
            "load_joint_axial",
            {"typed": replace(NOTHING, target="0.8")},
            {"high": "value_missing", "target": "only_most"},
        ),
        ("spring_rate", {"typed": NOTHING}, {"target": "value_missing"}),
        ("airbag_wait", {"typed": replace(NOTHING, target="5 min")}, {"axle": "axle_of_place"}),
        ("axle_mass", {"typed": replace(NOTHING, target="9 kg")}, {"target": "value_bounds"}),
        ("axle_mass", {"document": "", "page": ""}, {"document": "document_missing", "page": "page_missing"}),
    ],
)
def test_an_amount_that_cannot_be_is_refused(key: str, over: dict[str, Any], expected: dict[str, str]) -> None:
    assert refused(lambda: entered(an_office(), key, **over)) == expected


def test_a_height_says_what_it_is_measured_to() -> None:
    bare = replace(wanted("ride_height"), point=" ")
    assert refused(lambda: enter_figure(an_office().office, DEE.id, bare)) == {"point": "point_missing"}


# --- The second person -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "typed",
    [
        replace(CAMBER, unit="", low="−1°15'", high="0.25 deg", target="-30'"),
        replace(CAMBER, low="-75 min", high="15′"),
    ],
)
def test_the_same_window_in_other_words_is_equal(typed: FigureTyped) -> None:
    here = an_office()
    outcome = compare_figure(here.office, FAY.id, entered(here, "camber").id, typed)
    assert outcome.agrees
    assert outcome.figure.counts


@pytest.mark.parametrize(
    ("key", "typed"),
    [
        ("camber", replace(CAMBER, high="0.26")),
        ("camber", replace(CAMBER, target="")),
        ("ride_height", replace(HEIGHT, tyre="205/60 R15")),
        ("load_joint_axial", replace(NOTHING, high="0.9 mm")),
    ],
)
def test_an_unequal_reading_stands_beside_the_first(key: str, typed: FigureTyped) -> None:
    here = an_office()
    first = entered(here, key)
    outcome = compare_figure(here.office, FAY.id, first.id, typed)
    assert not outcome.agrees
    assert [one.counts for one in here.all("figures")] == [False, False]
    assert outcome.figure.point == first.point


def test_nobody_compares_their_own() -> None:
    here = an_office()
    figure = entered(here, "camber")
    assert refused(lambda: compare_figure(here.office, DEE.id, figure.id, CAMBER)) == {"": "figure_yours"}


# --- Doubts ----------------------------------------------------------------------------------------------------------


def doubts(act: Callable[[], Any]) -> list[str]:
    return [str(one.details["says"]) for one in problems(act) if one.code == "figure_doubt"]


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("axle_mass", replace(NOTHING, target="410"), "far from the nearest known"),
        ("axle_mass", replace(NOTHING, target="408 lb"), "far from the nearest known"),
        ("spring_rate", replace(NOTHING, target="342 N/mm"), "in lbf/in would be like"),
        ("camber", replace(CAMBER, low="3", high="4", target=""), "far from the nearest known"),
        ("load_joint_axial", replace(NOTHING, high="8 mm"), "far from the nearest known"),
    ],
)
def test_a_figure_that_is_odd_beside_its_neighbours_is_asked_about(key: str, typed: FigureTyped, says: str) -> None:
    """60 N/mm are 342.6 lbf/in; the other axle and sister models are the neighbours."""
    here = an_office()
    verified(here, key)
    assert says in doubts(lambda: entered(here, key, axle="rear", typed=typed))[0]
    sister = doubts(lambda: entered(here, key, model="Tern 1.6", typed=typed))
    assert "Tern 2.0, front axle" in sister[0]


def test_an_answer_to_a_doubt_is_kept() -> None:
    here = an_office()
    verified(here, "axle_mass")
    light = wanted("axle_mass", axle="rear", typed=replace(NOTHING, target="410"))
    asked = problems(lambda: enter_figure(here.office, DEE.id, light))[0]
    sure = replace(light, confirmed=str(asked.details["figure"]))
    assert refused(lambda: enter_figure(here.office, DEE.id, sure)) == {"confirmed_because": "confirm_reason_missing"}
    figure = enter_figure(here.office, DEE.id, replace(sure, confirmed_because="weighed it")).figure
    assert figure.confirmed_because == "weighed it"


def test_a_torque_is_laid_beside_other_axles_too() -> None:
    here = an_office()
    first = replace(WANTED, place_key="wheel_nuts", typed=FigureTyped("single", "N·m", target="110"))
    figure = enter_figure(here.office, DEE.id, first).figure
    compare_figure(here.office, FAY.id, figure.id, first.typed)
    mixed = replace(first, axle="rear", typed=FigureTyped("single", "N·m", target="81"))
    assert "in lbf·ft would be like" in doubts(lambda: enter_figure(here.office, DEE.id, mixed))[0]


def test_what_waits_for_a_second_person_is_nobodys_neighbour() -> None:
    """A doubt would tell what was typed before it is typed again."""
    here = an_office()
    entered(here, "axle_mass")
    assert entered(here, "axle_mass", axle="rear", typed=replace(NOTHING, target="410")).text == "410 kg"


def test_a_correction_is_not_doubted_for_what_it_corrects() -> None:
    here = an_office()
    verified(here, "axle_mass")
    assert entered(here, "axle_mass", typed=replace(NOTHING, target="410")).edition == 2


# --- On the sheet ----------------------------------------------------------------------------------------------------


def measure(here: Workshop, job: Any, family: str, key: str) -> Any:
    packet = here.sheet(job).packet
    lines = {one.id for one in packet.lines if the_book().procedures[one.procedure].family == family}
    found = [one for step in packet.steps if step.line in lines for one in step.measures if one.id == key]
    return found[0]


def test_a_verified_window_judges_the_reading_on_an_open_sheet() -> None:
    here = an_office()
    job = here.opens()
    verified(here, "camber")
    for family in ("opening", "closing"):
        for side in ("camber_left", "camber_right"):
            one = measure(here, job, family, side)
            assert (one.low, one.high) == (-1_250, 250)
            assert one.source == "Workshop manual, 7-3, 2014"
    assert measure(here, job, "closing", "toe_left").low is None


def test_a_window_typed_once_is_told_and_neither_shown_nor_judging() -> None:
    here = an_office()
    job = here.opens()
    entered(here, "camber")
    one = measure(here, job, "closing", "camber_left")
    assert (one.low, one.high, one.window_text) == (None, None, NOT_COMPARED)


def test_two_readings_that_differ_judge_nothing() -> None:
    here = an_office()
    job = here.opens()
    figure = entered(here, "camber")
    compare_figure(here.office, FAY.id, figure.id, replace(CAMBER, high="1"))
    assert measure(here, job, "closing", "camber_left").high is None


def test_withdrawing_a_window_takes_it_off_open_sheets() -> None:
    here = an_office()
    job = here.opens()
    figure = verified(here, "camber")
    withdraw_figure(here.office, FAY.id, figure.id)
    assert measure(here, job, "closing", "camber_left").window_text == ""


def test_a_sides_own_window_comes_before_the_one_for_both() -> None:
    here = an_office()
    verified(here, "camber")
    verified(here, "camber_left", typed=replace(CAMBER, low="-0.75"))
    job = here.opens()
    assert measure(here, job, "closing", "camber_left").low == -750
    assert measure(here, job, "closing", "camber_right").low == -1_250


def test_a_height_judges_only_with_the_tyres_it_is_given_for() -> None:
    here = an_office()
    verified(here, "ride_height")
    job = here.opens()
    one = measure(here, job, "closing", "front_left")
    assert (one.low, one.high) == (372_000, 388_000)
    assert one.window_text == "380 mm ±8 mm, to lower edge of the arch, with 205/65 R15"
    assert measure(here, job, "closing", "rear_left").low is None

    here.save("vehicles", replace(VEHICLE, tyre_front="205/60 R15"))
    other = here.opens(complaint="It sags")
    one = measure(here, other, "closing", "front_left")
    assert (one.low, one.high) == (None, None)
    assert "stands on 205/60 R15: allow for it; nothing is judged" in one.window_text


def test_what_counts_fills_in_a_vehicles_facts_and_never_replaces_them() -> None:
    here = an_office()
    for key, value in (("spring_rate", "55 N/mm"), ("spring_free_length", "400 mm"), ("axle_mass", "850 kg")):
        for axle in ("front", "rear"):
            verified(here, key, axle=axle, typed=replace(NOTHING, target=value))
    verified(here, "airbag_wait", axle="both", typed=replace(NOTHING, target="61.5 s"))
    entered(here, "high_voltage_wait", axle="both", typed=replace(NOTHING, target="10 min"))
    with here.store.reading() as unit:
        own = own_figures(unit, VEHICLE.model)
    bare = replace(VEHICLE, rear=replace(VEHICLE.rear, mass_g=None))
    told = with_book(bare, own)
    assert (told.front.mass_g, told.rear.mass_g) == (900_000, 850_000)
    assert told.front.spring == VEHICLE.front.spring
    assert (told.rear.spring.rate_npm, told.rear.spring.free_length_um) == (55_000, 400_000)
    assert told.rear.spring.source == "Workshop manual, 7-3, 2014"
    assert (told.airbag_wait_s, told.hv_wait_s) == (62, None)


def test_windows_are_made_of_what_a_job_rests_on() -> None:
    here = an_office()
    verified(here, "toe_total", typed=replace(CAMBER, low="0", high="0.2", target=""))
    with here.store.reading() as unit:
        found = windows(own_figures(unit, VEHICLE.model), VEHICLE)
    expected = Window(0, 200, "0° to 0.2°", "Workshop manual, 7-3, 2014")
    assert found == {"front/opening/toe_total": expected, "front/closing/toe_total": expected}


# --- Judged at both ends ---------------------------------------------------------------------------------------------


def at_both_ends(*measures: Measure) -> TwinPlay:
    """A step that asks these, ready for its readings; the tablet hears everything too and has to say the same."""
    play = TwinPlay(replace(with_step(a_packet(), "fit", measures=measures), edition=1))
    play.tests()
    play.finishes("look")
    play.gets_onto_stands()
    play.finishes("undo")
    return play


@pytest.mark.parametrize(
    ("typed", "within"),
    [("-1.25°", True), ("-1.26°", False), ("0°15'", True), ("0.251 °", False), ("-30'", True), ("0", True)],
)
def test_a_reading_is_judged_by_the_books_window_at_both_ends(typed: str, within: bool) -> None:
    here = an_office()
    verified(here, "camber")
    job = here.opens()
    play = at_both_ends(measure(here, job, "closing", "camber_left"))
    taken = read(play, typed, "camber_left", Dimension.ANGLE)
    assert taken.within is within


@pytest.mark.parametrize(("typed", "within"), [("0.8 mm", True), ("0.81 mm", False), ("1/32 in", True), ("0", True)])
def test_play_is_judged_by_its_limit_at_both_ends(typed: str, within: bool) -> None:
    here = an_office()
    verified(here, "load_joint_axial")
    job = here.opens(VEHICLE.id, JobLine("l1", "inspection", Axle.FRONT))
    play = at_both_ends(measure(here, job, "inspection", "load_axial"))
    assert read(play, typed, "load_axial", Dimension.LENGTH).within is within


def test_a_height_is_judged_at_both_ends_and_what_waits_judges_nothing() -> None:
    here = an_office()
    verified(here, "ride_height")
    entered(here, "toe", typed=replace(CAMBER, low="-0.1", high="0.1", target=""))
    job = here.opens()
    height, toe = measure(here, job, "closing", "front_left"), measure(here, job, "closing", "toe_left")
    play = at_both_ends(height, toe)
    assert read(play, "371 mm", "front_left", Dimension.LENGTH).within is False
    assert read(play, "388 mm", "front_left", Dimension.LENGTH).within is True
    assert read(play, "3°", "toe_left", Dimension.ANGLE).within is None


def read(play: TwinPlay, typed: str, key: str, dimension: Dimension) -> Taken:
    quantity = parse_quantity(typed, dimension, default_unit="°" if dimension is Dimension.ANGLE else "mm")
    ruling = play.does(ADA, ReadingTaken("fit", key, reading_of(quantity)))
    assert ruling.accepted, ruling
    return play.sheet.step("fit").readings[key]
