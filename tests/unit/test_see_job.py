"""What a new edition of a sheet would change, and which figures are still wanted."""

from __future__ import annotations

from dataclasses import replace

from app.use_cases.see_job import Drift, drift_of, figures_wanted
from tests.builders import FAY, Play, a_figure, a_packet, a_step, a_wrench, with_step
from tests.offices import a_small_job, an_office, the_book

NOTHING = Drift((), (), (), (), False, ())


def test_the_same_again_is_no_drift() -> None:
    packet = a_packet()

    assert drift_of(packet, replace(packet, edition=2), Play(packet).sheet) is None


def test_a_changed_step_that_was_begun_would_start_again() -> None:
    play = Play(a_packet())
    play.tests()
    before = a_packet()

    begun = drift_of(before, with_step(before, "look", do="Look twice."), play.sheet)
    untouched = drift_of(before, with_step(before, "undo", do="Undo it slowly."), play.sheet)

    assert begun == replace(NOTHING, changed=("Look",), again=("Look",))
    assert untouched == replace(NOTHING, changed=("Undo",))


def test_steps_that_come_and_go_are_named() -> None:
    before = a_packet(a_step("one"), a_step("two"))
    play = Play(before)
    play.finishes("one")
    after = a_packet(a_step("two"), a_step("three"), edition=2)

    assert drift_of(before, after, play.sheet) == replace(NOTHING, added=("Three",), gone=("One",), again=("One",))


def test_gates_and_wrenches_are_named_apart() -> None:
    before = a_packet()
    gates = tuple(replace(one, stale_after_s=60) for one in before.gates)
    after = replace(before, edition=2, gates=gates, wrenches=(a_wrench("W2"),))

    drift = drift_of(before, after, Play(before).sheet)

    assert drift == replace(NOTHING, gates=tuple(one.title for one in gates), wrenches=True)


def test_what_would_start_again_does_when_it_is_pinned() -> None:
    """The page's warning and the rules agree."""
    play = Play(a_packet())
    play.tests()
    play.finishes("look")
    here = an_office()
    job = a_small_job(here, play)
    before = here.sheet(job)
    after = with_step(before.packet, "look", do="Look twice.")

    drift = drift_of(before.packet, after, before)
    play.pins(after, FAY)

    assert drift is not None
    assert drift.again == ("Look",)
    assert play.sheet.step("look").done is None


def test_a_figure_is_wanted_while_there_is_none_or_nobody_has_compared_it() -> None:
    here = an_office()
    packet = here.sheet(here.opens()).packet
    key = "lower_ball_joint_stud"

    def with_figure(verified: bool) -> bool:
        steps = tuple(
            replace(step, fasteners=tuple(
                replace(one, figure=a_figure(verified=verified)) if one.figure_key == key else one
                for one in step.fasteners
            ))
            for step in packet.steps
        )  # fmt: skip
        found = figures_wanted(the_book(), replace(packet, steps=steps))
        return [one.typed for one in found if "stud nut" in one.place] == ([] if verified else [True])

    assert [one.typed for one in figures_wanted(the_book(), packet)] == [False, False, False]
    assert with_figure(verified=False)
    assert with_figure(verified=True)
