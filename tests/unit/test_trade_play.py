"""Joint play: the load joint and the follower by their own rules."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.trade.play import Boot, Indicator, JointReading, PlayLimit, Reason, Role, Verdict, judge_joint
from app.trade.problems import CannotTell, InputMissing, OutOfRange, WrongDimension
from tests.si import angle, mm

# TM 9-2320-280-20-2 p. 8-32: the upper joint is replaced at 3/8 in, the lower at 1/2 in, at the tyre's outer edge.
UPPER, LOWER = PlayLimit(mm(9.525), replace_at=True), PlayLimit(mm(12.7), replace_at=True)


def felt(axial=None, radial=None, **more):
    return JointReading(
        weight_on=False,
        axial=None if axial is None else mm(axial),
        radial=None if radial is None else mm(radial),
        **more,
    )


@pytest.mark.parametrize(
    ("play", "limit", "verdict"),
    [
        (0.0, UPPER, Verdict.SOUND),
        (7.6, UPPER, Verdict.SOUND),
        (7.62, UPPER, Verdict.WATCH),
        (9.524, UPPER, Verdict.WATCH),
        (9.525, UPPER, Verdict.REPLACE),
        (12.6, LOWER, Verdict.WATCH),
        (12.7, LOWER, Verdict.REPLACE),
    ],
)
def test_play_against_a_figure_to_replace_at(play, limit, verdict):
    assert judge_joint(Role.LOAD, felt(radial=play), radial_limit=limit).verdict is verdict


def test_a_figure_that_only_rejects_beyond_itself_grants_itself():
    limit = PlayLimit(mm(1.5))
    assert judge_joint(Role.LOAD, felt(axial=1.5), limit).verdict is Verdict.WATCH
    assert judge_joint(Role.LOAD, felt(axial=1.501), limit).reasons == (Reason.AXIAL_OVER,)


def test_a_follower_that_moves_is_replaced_and_a_load_joint_that_moves_is_asked_about():
    assert judge_joint(Role.FOLLOWER, felt(axial=0.2)).reasons == (Reason.FOLLOWER_MOVES,)
    assert judge_joint(Role.FOLLOWER, felt(axial=0)).verdict is Verdict.SOUND
    with pytest.raises(InputMissing) as refused:
        judge_joint(Role.LOAD, felt(axial=0.2))
    assert refused.value.argument == "axial_limit"
    assert judge_joint(Role.LOAD, felt(axial=0)).verdict is Verdict.SOUND


def test_a_followers_own_limit_goes_before_the_rule():
    assert judge_joint(Role.FOLLOWER, felt(radial=0.1), radial_limit=PlayLimit(mm(0.5))).verdict is Verdict.SOUND


def test_a_limit_of_no_play_at_all_rejects_any():
    assert judge_joint(Role.FOLLOWER, felt(axial=0.001), PlayLimit(mm(0))).verdict is Verdict.REPLACE
    assert judge_joint(Role.FOLLOWER, felt(axial=0), PlayLimit(mm(0))).verdict is Verdict.SOUND


@pytest.mark.parametrize(
    ("shows", "verdict"),
    [(Indicator.PROUD, Verdict.SOUND), (Indicator.FLUSH, Verdict.REPLACE), (Indicator.SUNK, Verdict.REPLACE)],
)
def test_a_wear_indicator_flush_or_sunk_is_replaced(shows, verdict):
    assert judge_joint(Role.LOAD, JointReading(weight_on=True, indicator=shows)).verdict is verdict


def test_a_joint_held_the_wrong_way_tells_nothing():
    """An indicator is read loaded, play is felt unloaded: the other way round both look sound."""
    with pytest.raises(CannotTell) as refused:
        judge_joint(Role.LOAD, JointReading(weight_on=False, indicator=Indicator.PROUD))
    assert refused.value.argument == "weight_on"
    with pytest.raises(CannotTell):
        judge_joint(Role.LOAD, JointReading(weight_on=True, axial=mm(0)), UPPER)


@pytest.mark.parametrize(("boot", "reason"), [(Boot.SPLIT, Reason.BOOT_SPLIT), (Boot.GREASY, Reason.BOOT_GREASY)])
def test_a_bad_boot_is_watched_because_the_joint_follows(boot, reason):
    found = judge_joint(Role.LOAD, felt(axial=0, boot=boot))
    assert (found.verdict, found.reasons) == (Verdict.WATCH, (reason,))
    worse = judge_joint(Role.FOLLOWER, felt(axial=1, boot=boot))
    assert worse.verdict is Verdict.REPLACE
    assert worse.reasons == (Reason.FOLLOWER_MOVES, reason)


def test_nothing_measured_is_asked_for():
    with pytest.raises(InputMissing):
        judge_joint(Role.LOAD, JointReading(weight_on=False, boot=Boot.SPLIT))


def test_play_that_cannot_be_is_refused():
    with pytest.raises(OutOfRange):
        judge_joint(Role.LOAD, felt(axial=-0.1), UPPER)
    with pytest.raises(WrongDimension):
        judge_joint(Role.LOAD, JointReading(weight_on=False, axial=angle(1)), UPPER)
    with pytest.raises(WrongDimension):
        judge_joint(Role.LOAD, felt(axial=1), PlayLimit(angle(1)))


ORDER = {Verdict.SOUND: 0, Verdict.WATCH: 1, Verdict.REPLACE: 2}


@given(st.integers(0, 3000), st.integers(0, 500), st.integers(0, 2000), st.booleans(), st.sampled_from(Role))
def test_more_play_never_judges_milder(play, more, most, at, role):
    limit = PlayLimit(mm(most / 1000), at)
    less = judge_joint(role, felt(axial=play / 1000), limit).verdict
    worse = judge_joint(role, felt(axial=(play + more) / 1000), limit).verdict
    assert ORDER[worse] >= ORDER[less]
