"""Joint play: readings against the maker's limits, the load joint and the follower judged each by its own rule.

A reading means something only with the joint held the right way: a joint with a wear indicator is read with the
weight on it, one without is felt with the weight off. Which joint of an axle carries load is the layout's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.trade.problems import CannotTell, InputMissing
from app.trade.quantity import Dimension, Quantity, need


class Role(StrEnum):
    """LOAD: the spring's force goes through this joint. FOLLOWER: it only steers or guides."""

    LOAD = "load"
    FOLLOWER = "follower"


class Indicator(StrEnum):
    """What the collar of a wear indicator does. NONE: the joint has none."""

    NONE = "none"
    PROUD = "proud"
    FLUSH = "flush"
    SUNK = "sunk"


class Boot(StrEnum):
    SOUND = "sound"
    SPLIT = "split"
    GREASY = "greasy"
    NOT_LOOKED_AT = "not_looked_at"


class Verdict(StrEnum):
    SOUND = "sound"
    WATCH = "watch"
    REPLACE = "replace"


class Reason(StrEnum):
    AXIAL_OVER = "axial_over"
    RADIAL_OVER = "radial_over"
    AXIAL_NEAR = "axial_near"
    RADIAL_NEAR = "radial_near"
    FOLLOWER_MOVES = "follower_moves"
    INDICATOR_FLUSH = "indicator_flush"
    INDICATOR_SUNK = "indicator_sunk"
    BOOT_SPLIT = "boot_split"
    BOOT_GREASY = "boot_greasy"


@dataclass(frozen=True, slots=True)
class PlayLimit:
    """The maker's figure for one direction.

    replace_at: True where the maker says "replace at this figure", False where only play *over* it rejects.
    """

    most: Quantity
    replace_at: bool = False


@dataclass(frozen=True, slots=True)
class JointReading:
    """What was found at one joint. None: not measured. `weight_on` says whether the joint carried load meanwhile."""

    weight_on: bool
    axial: Quantity | None = None
    radial: Quantity | None = None
    indicator: Indicator = Indicator.NONE
    boot: Boot = Boot.NOT_LOOKED_AT


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict and every reason for it, the weightiest first."""

    verdict: Verdict
    reasons: tuple[Reason, ...]


# House rule (no source): from four fifths of the limit on, the joint is worth looking at again at the next visit.
NEAR = (4, 5)


def judge_joint(
    role: Role,
    found: JointReading,
    axial_limit: PlayLimit | None = None,
    radial_limit: PlayLimit | None = None,
) -> Judgement:
    """Judge one joint: sound, watch or replace, with the reasons.

    Over the maker's limit, an indicator flush or sunk, or any movement in a follower without a limit: replace. Near the
    limit, or a boot that is split or greasy (the joint follows): watch.

    Units:  lengths, compared in whole micrometres.
    Raises: InputMissing if nothing was measured, or a load joint moves and nobody has given the maker's limit;
            CannotTell if the joint was held the wrong way for what was read (naming `weight_on`);
            OutOfRange for negative play.
    Source: limits are the maker's, passed in. Indicator flush or sunk, and torn boot: Utah R714-160-10(1); joints
            without an indicator are unloaded before checking: the same rule; all read 25 Nov 2026. That a follower
            should have no visible play: common practice, no source.
    """
    if found.axial is None and found.radial is None and found.indicator is Indicator.NONE:
        raise InputMissing("axial", "needs play in at least one direction, or what the wear indicator shows")
    _held_right(found)
    reasons = [
        *_direction(role, found.axial, axial_limit, "axial", Reason.AXIAL_OVER, Reason.AXIAL_NEAR),
        *_direction(role, found.radial, radial_limit, "radial", Reason.RADIAL_OVER, Reason.RADIAL_NEAR),
    ]
    reasons += {Indicator.FLUSH: [Reason.INDICATOR_FLUSH], Indicator.SUNK: [Reason.INDICATOR_SUNK]}.get(
        found.indicator, []
    )
    reasons += {Boot.SPLIT: [Reason.BOOT_SPLIT], Boot.GREASY: [Reason.BOOT_GREASY]}.get(found.boot, [])
    grave = [reason for reason in dict.fromkeys(reasons) if reason in _REPLACES]
    slight = [reason for reason in dict.fromkeys(reasons) if reason not in _REPLACES]
    verdict = Verdict.REPLACE if grave else Verdict.WATCH if slight else Verdict.SOUND
    return Judgement(verdict, (*grave, *slight))


_REPLACES = {
    Reason.AXIAL_OVER,
    Reason.RADIAL_OVER,
    Reason.FOLLOWER_MOVES,
    Reason.INDICATOR_FLUSH,
    Reason.INDICATOR_SUNK,
}


def _held_right(found: JointReading) -> None:
    if found.indicator is not Indicator.NONE and not found.weight_on:
        raise CannotTell(
            "weight_on", "a wear indicator is read with the weight on the joint; set it down and look again"
        )
    felt = found.axial is not None or found.radial is not None
    if found.indicator is Indicator.NONE and felt and found.weight_on:
        raise CannotTell("weight_on", "play is felt with the weight off the joint; unload it and measure again")


def _direction(
    role: Role,
    measured: Quantity | None,
    limit: PlayLimit | None,
    argument: str,
    over: Reason,
    near: Reason,
) -> list[Reason]:
    if measured is None:
        return []
    need(measured, Dimension.LENGTH, argument, at_least_zero=True)
    if limit is None:
        if measured.value == 0:
            return []
        if role is Role.FOLLOWER:
            return [Reason.FOLLOWER_MOVES]
        raise InputMissing(
            f"{argument}_limit", "needs the maker's limit: a load joint may have some play, and how much"
        )
    need(limit.most, Dimension.LENGTH, f"{argument}_limit", at_least_zero=True)
    if measured.value > limit.most.value or (limit.replace_at and measured.value == limit.most.value):
        return [over]
    times, of = NEAR
    if measured.value and measured.value * of >= limit.most.value * times:
        return [near]
    return []
