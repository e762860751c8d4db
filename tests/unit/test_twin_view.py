"""The sheet's view as the tablet builds it against the office's: the same bytes, in every state of the invented
workshop and after made-up histories.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import invariant, rule

from app.bundle.compile import compile_templates
from app.domain import entry as e
from app.domain.canonical import canonical
from app.domain.drawing import picture_of
from app.domain.findings import findings
from app.domain.packet import Axle, Packet, Support
from app.domain.pictures import Asked, asked_for, picture_at, picture_key
from app.domain.sheet import Sheet, SupportNow, in_order, sheet_from
from app.domain.view import LOAD_JOINTS, view_of
from app.domain.view_parts import Look, Scene, Told
from app.texts import say_ruling
from app.trade.units import unit_symbols
from app.use_cases.see_sheet import see_sheet
from app.web.rendering import environment
from demo.examples.states import TOKEN, everything_shown, forms_in, told_wrong, workshop
from tests.builders import ADA, BEN, DEE, FAY, GUS, STANDS_OPEN, Play, Someone, a_fastener, a_packet, a_step, whole_job
from tests.contract.test_tablet_templates import NAMES
from tests.tablet_js import Templates
from tests.twin_view import by_python, by_script, pictures_of, spoken, the_script
from tests.unit import test_rules_history as histories
from tests.unit import test_twin_rules as odd_histories
from tests.unit.test_findings import FOUR, a_measuring_step, taken
from tests.unit.test_view import on_stands, scene

EVERYBODY = (ADA, BEN, FAY, GUS, DEE)
PEOPLE = st.sampled_from(EVERYBODY)
ODD_TEXT = st.sampled_from(
    ("", "150 mm", "6 in", "0", "1/2 in", "90", "-5", "4½", "nothing", "<\U0001f529>", "a&b=c#d")
)


# --- The whole view -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def sheets_shown() -> list[tuple[str, Scene]]:
    """Every sheet of the invented workshop, for every step and after every entry of its ledger."""
    return [(one.where, one.scene) for one in everything_shown(workshop()) if one.scene is not None]


def test_every_state_of_the_invented_workshop_has_the_same_view_at_both_ends():
    """As it opens or comes back wrong."""
    for where, at in sheets_shown():
        assert by_script(at) == by_python(at), where

    assert len(sheets_shown()) > 1_000


def test_the_focus_goes_on_to_the_same_thing_after_something_was_recorded():
    focused = set()
    for where, at in sheets_shown()[::2]:
        after = replace(at, told=Told(recorded=True))
        made = by_script(after)
        assert made == by_python(after), where
        focused.add(json.loads(made).get("focus", "").partition("-")[0])

    assert focused >= {"finished", "gate", "in", "measures", "fastener", "finish"}


def test_the_page_is_the_same_to_the_byte():
    """The tablet's view in the house's words, through the compiled templates, against the office's through its own."""
    office_end, tablet_end = environment(), Templates(compile_templates(environment(), NAMES))
    name = "tablet/_sheet_view.html"
    for where, at in sheets_shown()[::13]:
        here = office_end.get_template(name).render(view=view_of(spoken(at, house=True)), csrf=TOKEN)
        view = json.loads(by_script(at, house=True))
        assert tablet_end.render(name, {"view": view, "csrf": TOKEN}) == here, where
        assert "Something is not right here" not in here, where


def test_a_sheet_without_a_packet_waits_at_both_ends():
    bare = replace(scene(whole_job()), sheet=Sheet("j-1"))

    assert by_script(bare) == by_python(bare)
    assert '"ready":false' in by_script(bare)


@pytest.mark.parametrize("who", [ADA, BEN, FAY, DEE])
def test_a_whole_job_looks_the_same_after_every_entry(who: Someone):
    played = Play()
    for heard, _ in whole_job().history:
        played.hears(heard)
        played.wait(seconds=1)
        for look in looks_at(played.sheet):
            at = scene(played, who, look)
            assert by_script(at) == by_python(at), f"{heard.entry.kind}, {look}"


def looks_at(sheet: Sheet) -> list[Look]:
    packet = sheet.packet
    assert packet is not None
    at_joints = [
        Look(step.id, fastener.id, wrench.tag, extension, "0")
        for step in packet.steps
        for fastener in step.fasteners
        for wrench in packet.wrenches
        for extension in ("", "150 mm")
    ]
    return [Look(), *(Look(step.id) for step in packet.steps), *at_joints]


@pytest.mark.parametrize("answered", range(4))
def test_the_focus_goes_to_the_first_question_that_is_not_answered(answered: int):
    """At a gate not begun it goes to the gate itself."""
    play = on_stands()
    play.answers(dict(list(STANDS_OPEN.items())[:answered]))
    at = scene(play, told=Told(recorded=True))
    asked = ["", *[f"-{one}" for one in STANDS_OPEN][1:]]

    assert by_script(at) == by_python(at)
    assert view_of(at)["focus"] == f"gate-stands:front{asked[answered]}"


def test_a_reading_outside_keeps_its_step_open_at_both_ends():
    play = Play(a_packet(a_step(fasteners=(a_fastener(),))))
    play.signs("150 N·m")
    at = scene(play, look=Look("work"))

    assert by_script(at) == by_python(at)
    assert {"kind": "reading_inside", "words": "150 N·m"} in view_of(at)["hand"]["finish"]["missing"]


@pytest.mark.parametrize("axle", list(Axle))
def test_what_holds_one_axle_is_not_drawn_at_the_other(axle: Axle):
    play = Play(a_packet())
    play.does(ADA, e.SupportChanged(Support.STANDS_FRAME, axle, "the frame, behind the pad"))
    at = scene(play)

    assert by_script(at) == by_python(at)
    assert bool(view_of(at)["drawing"]["bears"]) == (axle is not Axle.REAR)


# --- Made-up histories --------------------------------------------------------------------------------------------


def look_closely(data: st.DataObject, play: Play, who: Someone) -> None:
    """Somebody looks at something; perhaps a form of it has just come back, or was recorded."""
    packet = play.sheet.packet
    assert packet is not None
    step = data.draw(st.sampled_from([None, *packet.steps]))
    fasteners = [one.id for one in step.fasteners] if step is not None else []
    look = Look(
        step=step.id if step is not None else data.draw(st.sampled_from(("", "nowhere"))),
        fastener=data.draw(st.sampled_from(["", "no such", *fasteners])),
        wrench=data.draw(st.sampled_from(["", "no such", *(one.tag for one in packet.wrenches)])),
        extension=data.draw(ODD_TEXT),
        angle=data.draw(ODD_TEXT),
    )
    at = scene(play, who, look, saved="Saved")
    ids = sorted({heard.entry.id for heard, _ in play.history})
    at = replace(at, waiting=frozenset(data.draw(st.lists(st.sampled_from(ids), max_size=3))))
    assert by_script(at) == by_python(at)
    view = view_of(at)
    told = data.draw(st.sampled_from([*sorted(forms_in(view)), "recorded", ""]))
    after = replace(at, told=Told(recorded=True) if told == "recorded" else told_wrong(told, view))
    assert by_script(after) == by_python(after)


def look_as_it_opens(play: Play) -> None:
    """The page as somebody comes to it, another person each time."""
    who = EVERYBODY[len(play.history) % len(EVERYBODY)]
    at = scene(play, who)
    assert by_script(at) == by_python(at)


class ViewHistory(histories.SheetHistory):
    """The rules' own machine, with somebody looking at the sheet at both ends after every entry."""

    @rule(data=st.data(), who=PEOPLE, times=st.integers(1, 4))
    def somebody_looks(self, data: st.DataObject, who: Someone, times: int) -> None:
        for _ in range(times):
            look_closely(data, self.bench.play, who)

    @invariant()
    def the_page_opens_the_same(self) -> None:
        if hasattr(self, "bench"):
            look_as_it_opens(self.bench.play)


TestViewHistory = ViewHistory.TestCase
TestViewHistory.settings = settings(
    max_examples=60, stateful_step_count=15, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


class OddView(odd_histories.OddHistory):
    """Jobs no book would compile."""

    @rule(data=st.data(), who=PEOPLE, times=st.integers(1, 4))
    def somebody_looks(self, data: st.DataObject, who: Someone, times: int) -> None:
        for _ in range(times):
            look_closely(data, self.play, who)

    @invariant()
    def the_page_opens_the_same(self) -> None:
        if hasattr(self, "play"):
            look_as_it_opens(self.play)


TestOddView = OddView.TestCase
TestOddView.settings = settings(
    max_examples=60,
    stateful_step_count=15,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def test_what_was_hung_and_set_aside_is_shown_in_the_order_it_was_heard():
    """A sheet read back has its keys sorted; one replayed has them as they came. A person sees no difference."""
    play = Play(a_packet())
    for number, one_id in enumerate(("z-1", "a-2", "m-3")):
        play.wait(seconds=number)
        play.does(FAY, e.HoldPlaced(reason=f"reason {number}", step=""), id=one_id)
    for one_id in ("z-4", "a-5"):
        play.wait(seconds=1)
        play.does(ADA, e.StepDone(step="look"), id=one_id)
    read_back = replace(scene(play), sheet=sheet_from(json.loads(canonical(play.sheet.as_json())), play.sheet.packet))
    assert list(play.sheet.holds) != list(read_back.sheet.holds), "the keys came sorted by themselves"

    view = view_of(scene(play))

    assert [one["reason"] for one in view["tags"]] == ["reason 0", "reason 1", "reason 2"]
    assert [key for key, _ in in_order(play.sheet.asides)] == ["z-4", "a-5"]
    assert view == view_of(read_back)
    assert by_script(scene(play)) == by_python(scene(play))


# --- Where an entry is --------------------------------------------------------------------------------------------


def test_an_entry_on_this_tablet_only_says_so_and_one_in_the_office_says_nothing():
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    done = play.last_id

    here, there = scene(play, look=Look("look")), replace(scene(play, look=Look("look")), waiting=frozenset({done}))

    assert view_of(here)["hand"]["done"]["where"] == ""
    assert view_of(there)["hand"]["done"]["where"] == "on this tablet"
    assert view_of(there)["hand"]["trial"]["recorded"]["where"] == ""
    template = environment().get_template("tablet/_sheet_view.html")
    pages = [template.render(view=view_of(one), csrf="") for one in (here, there)]
    assert ["on this tablet" in page for page in pages] == [False, True]


# --- Findings -----------------------------------------------------------------------------------------------------

NAMES_OF_READINGS = (
    *FOUR, *(f"height_{one}" for one in FOUR), "height_stated", "toe_left", "toe_right", "camber_left", "camber_right",
    "caster_left", "caster_right", "load_axial", "load_axial_limit", "load_radial", "load_limit", "toString_left",
    "toString_right", "_left", "_right", "left",
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(
    dimension=st.sampled_from(("length", "angle", "force", "ratio")),
    names=st.lists(st.sampled_from(NAMES_OF_READINGS), unique=True, max_size=14),
    axle=st.sampled_from(Axle),
    data=st.data(),
)
def test_readings_say_the_same_together_at_both_ends(dimension: str, names: list[str], axle: Axle, data: st.DataObject):
    """Odd halves, readings as far apart as a packet can hold, names that every object has of its own."""
    amounts = st.one_of(st.integers(-3, 3), st.integers(-900_000, 900_000), st.integers(-(2**53) + 1, 2**53 - 1))
    unit = data.draw(st.sampled_from(unit_symbols(dimension)))  # type: ignore[arg-type]
    step = a_measuring_step(dimension, *names, axle=axle)
    step = replace(step, measures=tuple(replace(one, unit=unit) for one in step.measures))
    read = [name for name in names if data.draw(st.integers(0, 5))]
    readings = taken(**{name: data.draw(amounts) for name in read})
    values = {name: {"value": one.value} for name, one in readings.items()}
    measures = [{"id": one.id, "dimension": dimension, "unit": unit} for one in step.measures]
    plain = {"axle": str(axle), "measures": measures}

    assert found_by_script(plain, values) == [
        [one.key, str(one.amount.value), one.text, list(one.made_from)] for one in findings(step, readings)
    ]


def found_by_script(step: dict[str, Any], readings: dict[str, Any]) -> Any:
    return json.loads(the_script().run(f"findingsFrom({json.dumps(json.dumps([step, readings]))})"))


@pytest.mark.parametrize(("apart", "thrust"), [(1, 0), (2, 1), (3, 2), (5, 2), (-1, 0), (-3, -2), (-5, -2)])
def test_half_of_an_odd_thrust_goes_to_the_even_one_at_both_ends(apart: int, thrust: int):
    """Half to even, by hand. What is shown rounds it away in most units."""
    step = a_measuring_step("angle", "toe_left", "toe_right", axle=Axle.REAR)
    measures = [{"id": one.id, "dimension": one.dimension, "unit": one.unit} for one in step.measures]
    values = {"toe_left": {"value": 10 + apart}, "toe_right": {"value": 10}}

    here = {one.key: one.amount.value for one in findings(step, taken(toe_left=10 + apart, toe_right=10))}
    there = {key: value for key, value, *_ in found_by_script({"axle": "rear", "measures": measures}, values)}

    assert (here["thrust"], there["thrust"]) == (thrust, str(thrust))


# --- Drawings -----------------------------------------------------------------------------------------------------


def sheets_of_the_workshop() -> list[Sheet]:
    office = workshop()
    with office.store.reading() as unit:
        numbers = [job.number for job in unit.jobs.all()]
    return [see_sheet(office, number).sheet for number in numbers]


def every_asked(packet: Packet) -> set[Asked]:
    held = [SupportNow(state, axle) for state in Support for axle in Axle]
    return {asked_for(packet, step, now) for step in (None, *packet.steps) for now in held}


def test_the_pictures_beside_a_packet_are_those_that_the_office_draws():
    """Put together from its parts, each is what would be drawn anew; and no two that differ share a key."""
    drawn = 0
    for sheet in sheets_of_the_workshop():
        if sheet.packet is None:
            continue
        pictures, asked = pictures_of(sheet.packet), every_asked(sheet.packet)
        assert len({picture_key(one) for one in asked}) == len(asked) == len(pictures["by_key"])
        for one in asked:
            drawn += 1
            assert picture_at(pictures, one) == picture_of(one, lambda group, key: f"«{group}.{key}»")

    assert drawn > 200


def test_pictures_are_small_enough_to_travel():
    """House limit: 300 kB for the largest sheet of the invented workshop."""
    sizes = [len(canonical(pictures_of(one.packet))) for one in sheets_of_the_workshop() if one.packet is not None]

    assert max(sizes) < 300_000


def test_a_picture_that_has_not_come_yet_is_not_shown_and_its_words_are():
    at = scene(whole_job())
    assert json.loads(by_script(at))["drawing"]["picture"]["shown"]

    without = json.loads(by_script(at, pictures=False))["drawing"]

    assert without["picture"] == {"shown": False}
    assert without["layout_words"] == json.loads(by_python(at))["drawing"]["layout_words"]


def test_both_ends_know_the_same_load_joints():
    assert json.loads(the_script().run('JSON.stringify(modules["view.js"].LOAD_JOINTS)')) == LOAD_JOINTS


def test_a_sheet_says_what_became_of_its_job_and_both_ends_say_the_same() -> None:
    cancelled = scene(Play(a_packet()), closed=True)
    assert view_of(cancelled)["closed_words"] == say_ruling("job_closed", {})
    assert by_script(cancelled) == by_python(cancelled)

    back = whole_job()
    back.does(FAY, e.HandedBack("Done"))
    for closed in (False, True):
        handed = scene(back, closed=closed)
        assert view_of(handed)["closed_words"] == say_ruling("handed_back", {"name": FAY.name})
        assert by_script(handed) == by_python(handed)
