"""What the page of a job's suspects receives: every number already a text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GroupShown:
    """judged: not_yet, sound or found. left: steps still to be judged, each with where it is done."""

    title: str
    judged: str
    left: list[tuple[str, str]]
    found: list[str]


@dataclass(frozen=True, slots=True)
class AxleRuledOut:
    title: str
    groups: list[GroupShown]


@dataclass(frozen=True, slots=True)
class WeightShown:
    """by: points of a hundred, signed. yields: another part explains it, and the rank leaves this one where it was."""

    test: str
    seen: str
    link: str
    speaks_for: bool
    by: str
    yields: bool


@dataclass(frozen=True, slots=True)
class SuspectShown:
    """figure, began: chances in a hundred. others: what was seen of other parts did to it, "" for next to nothing.

    outside: not a part of the suspension: to be put right, or ruled out, first.
    """

    part: str
    figure: str
    began: str
    outside: bool
    weights: list[WeightShown]
    others: str


@dataclass(frozen=True, slots=True)
class TestShown:
    """bits: what it is expected to tell. held: the ways it may be held for it, in words; now: it can be made now."""

    title: str
    link: str
    bits: str
    held: str
    now: bool


@dataclass(frozen=True, slots=True)
class UncountedShown:
    words: str
    link: str


@dataclass(frozen=True, slots=True)
class CountShown:
    part: str
    first: int
    mended: int
    gone: int
    back: int


@dataclass(frozen=True, slots=True)
class SuspectsPage:
    """has_inspection: whether there is anything to rank. fits: False when what was seen does not fit the table.

    waiting: findings that do not count until everything is judged; overruled: seen, and judged sound all the same.
    answers: what the complaint's questions brought; unasked: those still to be asked.
    """

    title: str
    plate: str
    sheet_link: str
    job_link: str
    may_see_job: bool
    complaint: str
    has_inspection: bool
    fits: bool
    begun: bool
    answers: list[tuple[str, str]]
    unasked: list[tuple[str, str]]
    ruled_out: list[AxleRuledOut]
    waiting: list[UncountedShown]
    overruled: list[UncountedShown]
    suspects: list[SuspectShown]
    less: list[tuple[str, str]]
    tests: list[TestShown]
    own_link: str


@dataclass(frozen=True, slots=True)
class OwnCountsPage:
    """jobs: in how many of the newest `most` closed ones something spoke for a part."""

    title: str
    back_link: str
    jobs: int
    most: int
    counts: list[CountShown]
