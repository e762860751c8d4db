"""Torque sign-offs: a compared figure, a fit wrench, a reading inside the window, the right load state.

Section 7 of trade.md's knowledge is the specification; the sum for an extension is checked against its source in the
reference checks, here only that the rules use it.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.domain import entry as e
from app.domain.case import Reason, Ruling
from app.domain.packet import Fastener, Pass, Stage, Support, Wrench
from app.domain.standing import date_of
from app.domain.torque import at_fastener, setting_for
from tests.builders import ADA, Play, a_fastener, a_figure, a_packet, a_reading, a_step, a_turn, a_wrench, small

TWO_STAGES = a_figure(
    text="60 N·m, then 90°", stages=(Stage(low_mnm=57_000, target_mnm=60_000, high_mnm=63_000), a_turn())
)


def play_with(fastener: Fastener | None = None, *wrenches: Wrench) -> Play:
    step = a_step("work", fasteners=(fastener or a_fastener(),))
    return Play(a_packet(step, gates=(), wrenches=wrenches or (a_wrench(),)))


def why(ruling: Ruling) -> tuple[str, object]:
    return ruling.reason, ruling.details.get("why", ruling.details.get("missing"))


# --- The figure ------------------------------------------------------------------------------------------------------


def test_a_reading_inside_the_window_of_a_compared_figure_is_accepted():
    play = play_with()

    assert play.signs("110 N·m").accepted
    assert play.sheet.step("work").signatures["nut"].values == (110_000,)
    assert play.sheet.step("work").signatures["nut"].texts == ("110 N·m",)


def test_no_figure_no_sign_off():
    assert why(play_with(a_fastener(figure=None)).signs("110 N·m")) == (Reason.SPEC_UNVERIFIED, "absent")


def test_a_figure_without_stages_is_no_figure():
    """Nothing to reach and nothing to read: it must not be signed by reading nothing."""
    assert why(play_with(a_fastener(figure=a_figure(stages=()))).signs()) == (Reason.SPEC_UNVERIFIED, "absent")


def test_a_figure_counts_only_after_a_second_person_compared_it():
    ruling = play_with(a_fastener(figure=a_figure(verified=False))).signs("110 N·m")

    assert why(ruling) == (Reason.SPEC_UNVERIFIED, "not_compared")


def test_a_snug_pass_needs_no_figure_no_wrench_and_no_reading():
    play = play_with(a_fastener(tighten=Pass.SNUG, figure=None))

    assert play.does(ADA, e.SignedOff(step="work", fastener="nut")).accepted


def test_a_snug_pass_takes_no_reading():
    """A value beside "snug" would read later as if it had been torqued."""
    play = play_with(a_fastener(tighten=Pass.SNUG, figure=None))

    assert play.signs("110 N·m").reason == Reason.NOT_HERE
    extension = e.Extension(length_um=50_000, angle_deg=5_000)
    assert play.signs("110 N·m", extension=extension).reason == Reason.NOT_HERE


# --- The window ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "fits"),
    [
        ("104.5 N·m", True),
        ("104.499 N·m", False),
        ("115.5 N·m", True),
        ("115.501 N·m", False),
        ("-110 N·m", False),
        ("0 N·m", False),
    ],
)
def test_the_ends_of_the_window_belong_to_it(typed: str, fits: bool):
    ruling = play_with(None, a_wrench(low_mnm=-(10**9), high_mnm=10**9)).signs(typed)

    assert ruling.accepted is fits
    if not fits:
        assert ruling.reason == Reason.READING_OUTSIDE


def test_a_reading_outside_keeps_the_fastener_open_and_stays_on_record():
    play = play_with()

    outside = play.signs("120 N·m")

    assert outside.reason == Reason.READING_OUTSIDE
    assert (outside.details["typed"], outside.details["window"]) == ("120 N·m", "110 N·m")
    assert play.sheet.step("work").signatures == {}
    assert play.sheet.asides["e-2"].reason == Reason.READING_OUTSIDE
    assert play.finishes("work").reason == Reason.NOT_FINISHED


def test_one_reading_for_each_stage():
    play = play_with(a_fastener(figure=TWO_STAGES))

    assert why(play.signs("60 N·m")) == (Reason.NOT_FINISHED, "reading")
    assert why(play.signs()) == (Reason.NOT_FINISHED, "reading")
    assert why(play.signs("60 N·m", "90 °", "90 °")) == (Reason.NOT_FINISHED, "reading")
    assert play.signs("60 N·m", "90 °").accepted


@pytest.mark.parametrize("readings", [("64 N·m", "90 °"), ("60 N·m", "84 °"), ("60 N·m", "96 °"), ("60 N·m", "-90 °")])
def test_every_stage_has_its_own_window(readings: tuple[str, ...]):
    assert play_with(a_fastener(figure=TWO_STAGES)).signs(*readings).reason == Reason.READING_OUTSIDE


def test_a_window_without_ends_fits_nothing():
    open_ended = a_figure(stages=(Stage(target_mnm=110_000),))

    assert play_with(a_fastener(figure=open_ended)).signs("110 N·m").reason == Reason.READING_OUTSIDE


def test_a_torque_of_nothing_never_fits():
    """Whatever a figure's window says, no joint is tight at nothing."""
    odd = a_figure(stages=(Stage(low_mnm=-5_000, target_mnm=0, high_mnm=5_000),))

    ruling = play_with(a_fastener(figure=odd), a_wrench(low_mnm=-(10**9), high_mnm=10**9)).signs("0 N·m")

    assert ruling.reason == Reason.READING_OUTSIDE


# --- The wrench ------------------------------------------------------------------------------------------------------


def test_a_wrench_nobody_knows_is_unfit():
    assert why(play_with().signs("110 N·m", wrench="W9")) == (Reason.TOOL_UNFIT, "unknown")


def test_a_wrench_with_a_fault_is_unfit():
    assert why(play_with(None, a_wrench(fault="dropped")).signs("110 N·m")) == (Reason.TOOL_UNFIT, "fault")


def test_a_wrench_is_in_date_on_the_day_it_is_due_and_not_after():
    """By the UTC date when the packet names no instant (2 March 2026 in this play)."""
    assert play_with(None, a_wrench(due_on="2026-03-02")).signs("110 N·m").accepted
    assert why(play_with(None, a_wrench(due_on="2026-03-01")).signs("110 N·m")) == (Reason.TOOL_UNFIT, "out_of_date")


def test_the_day_a_wrench_is_due_ends_at_the_shops_own_midnight_when_the_packet_says_it():
    """A shop far from Greenwich does not lose, or gain, part of a day: the packet carries the instant."""
    play = play_with(None, a_wrench(due_on="2026-03-01", due_end_ms=1_772_445_600_000))  # 10:00 UTC on 2 March
    assert play.signs("110 N·m", step="work").accepted

    late = play_with(None, a_wrench(due_on="2026-03-02", due_end_ms=1_772_438_400_000))  # 08:00 UTC on 2 March
    assert why(late.signs("110 N·m")) == (Reason.TOOL_UNFIT, "out_of_date")


def test_a_wrench_whose_date_nobody_wrote_down_is_out_of_date():
    assert why(play_with(None, a_wrench(due_on="")).signs("110 N·m")) == (Reason.TOOL_UNFIT, "out_of_date")


@pytest.mark.parametrize(("low", "high"), [(111_000, 200_000), (10_000, 109_000)])
def test_a_wrench_is_used_inside_its_range(low: int, high: int):
    assert why(play_with(None, a_wrench(low_mnm=low, high_mnm=high)).signs("110 N·m")) == (
        Reason.TOOL_UNFIT,
        "out_of_range",
    )


def test_a_turn_is_not_held_against_the_wrenchs_range():
    play = play_with(a_fastener(figure=TWO_STAGES), a_wrench(low_mnm=40_000, high_mnm=70_000))

    assert play.signs("60 N·m", "90 °").accepted


def test_a_reading_is_in_the_unit_the_wrench_shows():
    """A wrench in lbf·ft does not say 110 N·m: somebody did the sum in their head."""
    pounds = a_wrench(unit="lbf·ft")

    assert why(play_with(None, pounds).signs("110 N·m")) == (Reason.TOOL_UNFIT, "unit")
    assert play_with(None, pounds).signs("81 lbf·ft").accepted


# --- The extension ---------------------------------------------------------------------------------------------------


def signs_with(extension: e.Extension, typed: str, *wrenches: Wrench) -> Ruling:
    return play_with(None, *wrenches).signs(typed, extension=extension)


def test_an_extension_in_line_raises_the_torque_at_the_fastener():
    """Wrench 400 mm, extension 40 mm in line: 100 N·m on the scale is 110 N·m at the nut."""
    play = play_with()
    in_line = e.Extension(length_um=40_000)

    assert play.signs("110 N·m", extension=in_line).reason == Reason.READING_OUTSIDE
    assert play.signs("100 N·m", extension=in_line).accepted
    assert play.sheet.step("work").signatures["nut"].values == (110_000,)


def test_an_extension_at_right_angles_changes_nothing():
    assert signs_with(e.Extension(length_um=40_000, angle_deg=90), "110 N·m").accepted


def test_an_extension_turned_back_lowers_the_torque_at_the_fastener():
    back = e.Extension(length_um=40_000, angle_deg=180)

    assert signs_with(back, "110 N·m").reason == Reason.READING_OUTSIDE
    assert signs_with(back, "122.222 N·m").accepted


def test_the_range_of_the_wrench_is_held_against_what_it_is_set_to():
    """Not against the torque at the nut: 100 on the scale is inside a wrench that ends at 105."""
    short = a_wrench(high_mnm=105_000)

    assert signs_with(e.Extension(length_um=40_000), "100 N·m", short).accepted
    assert why(signs_with(e.Extension(length_um=40_000, angle_deg=90), "110 N·m", short)) == (
        Reason.TOOL_UNFIT,
        "out_of_range",
    )


@pytest.mark.parametrize(
    "extension",
    [
        e.Extension(length_um=0),
        e.Extension(length_um=-40_000),
        e.Extension(length_um=2_000_001),
        e.Extension(length_um=40_000, angle_deg=-1),
        e.Extension(length_um=40_000, angle_deg=181),
        e.Extension(length_um=400_000, angle_deg=180),
        e.Extension(length_um=500_000, angle_deg=91),
    ],
)
def test_an_extension_that_cannot_be_makes_the_wrench_unfit(extension: e.Extension):
    assert why(signs_with(extension, "110 N·m")) == (Reason.TOOL_UNFIT, "extension")


@pytest.mark.parametrize("length", [None, 0, -400_000])
def test_without_the_wrenchs_length_no_extension(length: int | None):
    ruling = signs_with(e.Extension(length_um=40_000), "100 N·m", a_wrench(length_um=length))

    assert why(ruling) == (Reason.TOOL_UNFIT, "length_unknown")


def test_the_setting_and_the_torque_at_the_fastener_undo_each_other():
    """T = setting·(L + E·cos θ)/L, statics; 50 lbf·ft, 16 in, 2 in in line give 44.44 lbf·ft (a torque wrench maker's
    manual, model M199, page 7, as printed)."""
    setting = setting_for(small("50 lbf·ft"), small("16 in"), small("2 in"), 1_000_000)

    assert setting is not None
    assert abs(setting - small("44.44 lbf·ft")) < small("0.005 lbf·ft")
    assert abs(at_fastener(setting, small("16 in"), small("2 in"), 1_000_000) - small("50 lbf·ft")) <= 1
    assert setting_for(small("50 lbf·ft"), small("16 in"), small("16 in"), -1_000_000) is None


# --- Load state and parts --------------------------------------------------------------------------------------------


def test_snug_now_and_torque_at_ride_height():
    """The final pass counts only with the weight on the arm."""
    final = a_fastener(load_states=(Support.ON_WHEELS, Support.ON_RAMP))
    play = play_with(final)
    play.holds_vehicle(Support.STANDS_FRAME)

    hanging = play.signs("110 N·m")
    play.holds_vehicle(Support.ON_RAMP)
    loaded = play.signs("110 N·m")

    assert hanging.reason == Reason.WRONG_SUPPORT
    assert hanging.details["wanted"] == "on_wheels,on_ramp"
    assert loaded.accepted


def test_the_second_reading_counts_in_the_same_load_states_only():
    play = play_with(a_fastener(load_states=(Support.ON_WHEELS,)))
    play.signs("110 N·m")
    play.holds_vehicle(Support.STANDS_FRAME)

    assert play.counters("110 N·m").reason == Reason.WRONG_SUPPORT


def test_a_figure_for_no_load_state_at_all_is_never_signed():
    assert play_with(a_fastener(load_states=())).signs("110 N·m").reason == Reason.WRONG_SUPPORT


@pytest.mark.parametrize("tighten", list(Pass))
def test_a_one_time_part_is_new_every_time(tighten: Pass):
    """Whichever pass the packet asks it at."""
    play = play_with(a_fastener(one_time=True, tighten=tighten))
    readings = () if tighten is Pass.SNUG else ("110 N·m",)

    assert why(play.signs(*readings)) == (Reason.NOT_FINISHED, "new_part")
    assert play.signs(*readings, new_part=True).accepted


def test_a_part_that_its_figure_calls_one_time_is_new_every_time():
    play = play_with(a_fastener(figure=a_figure(one_time=True)))

    assert why(play.signs("110 N·m")) == (Reason.NOT_FINISHED, "new_part")


def test_a_second_sign_off_is_kept_as_a_second_record_and_says_whether_the_values_differ():
    """Unequal values ask for a re-check."""
    play = play_with()
    play.signs("110 N·m")

    same = play.signs("110 N·m")
    other = play.signs("114 N·m")

    assert (same.reason, same.details["unequal"]) == (Reason.ALREADY_SIGNED, 0)
    assert (other.reason, other.details["unequal"]) == (Reason.ALREADY_SIGNED, 1)
    assert (other.details["first"], other.details["second"]) == ("110 N·m", "114 N·m")
    assert play.sheet.step("work").signatures["nut"].values == (110_000,)


def test_a_sign_off_for_a_fastener_that_is_not_there_is_set_aside():
    assert play_with().signs("110 N·m", fastener="bolt").reason == Reason.NOT_HERE


@pytest.mark.parametrize(
    ("at_ms", "day"),
    [
        (0, "1970-01-01"),
        (-1, "1969-12-31"),
        (951_782_399_999, "2000-02-28"),
        (951_782_400_000, "2000-02-29"),
        (1_772_409_600_000, "2026-03-02"),
        (4_107_542_399_999, "2100-02-28"),
        (4_107_542_400_000, "2100-03-01"),
    ],
)
def test_the_date_of_an_instant_is_its_utc_date(at_ms: int, day: str):
    """Leap years by the Gregorian rule; instants from the definition of POSIX time, days counted by hand."""
    assert date_of(at_ms) == day


def test_replacing_a_wrench_in_the_packet_takes_effect_at_once():
    play = play_with()
    packet = play.sheet.packet
    assert packet is not None
    play.pins(replace(packet, edition=2, wrenches=(a_wrench(fault="out_of_true"),)))

    assert why(play.signs("110 N·m")) == (Reason.TOOL_UNFIT, "fault")
    assert a_reading("110 N·m").value == 110_000
