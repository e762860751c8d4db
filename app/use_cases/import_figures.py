"""Figures out of a file: looked at first, told line by line, and taken in one go or not at all.

A line counts as typed by whoever sends the file. Where another person's reading of the same place waits, the line is
the second reading: equal, the figure counts; unequal, both stand and the foreman decides, as on the page. Before the
import nobody is told which it will be, or the file could be tried until it fits. A file that is, byte for byte, another
person's file compares nothing and is refused.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeAlias

from app.domain.packet import Axle
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import FigureImport, FigureRecord, Role
from app.domain.spec_places import SpecPlace, spec_places
from app.ports import Unit
from app.use_cases.decide_sheets import ask_about_sheets
from app.use_cases.figure_csv import COLUMNS, NUMBERS, TOLD, Line, cells_of, file_of, lines_of, text_of, wanted_of
from app.use_cases.keep_figure import (
    FigureWanted,
    NeighboursByPlace,
    Settled,
    Stand,
    may_see,
    neighbours,
    next_edition,
    open_editions,
    read_wanted,
    settle_reading,
    stand_of,
)
from app.use_cases.office import Office
from app.use_cases.read_figure import value_of
from app.use_cases.renew_sheets import Renewed, renew_sheets


class Outcome(StrEnum):
    """What a line comes to. `compared` is all that is said before the import; then `agrees` or `differs`.

    blank: a line of the written out book whose figure nobody filled in.
    """

    NEW = "new"
    CORRECTS = "corrects"
    COMPARED = "compared"
    AGREES = "agrees"
    DIFFERS = "differs"
    SAME = "same"
    BLANK = "blank"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Told:
    """One line of the report. `problems` are codes with their blanks; put into words where they are read."""

    number: int
    outcome: Outcome
    model: str = ""
    axle: str = ""
    place: str = ""
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Report:
    """What a file comes to, line by line and counted."""

    lines: tuple[Told, ...] = ()
    counts: Mapping[Outcome, int] = field(default_factory=dict)

    @property
    def can_be_taken(self) -> bool:
        return Outcome.REFUSED not in self.counts and bool(self.counts.keys() - {Outcome.SAME, Outcome.BLANK})


@dataclass(frozen=True, slots=True)
class Looked:
    """A file that was looked at: its row, and what it would come to."""

    row: FigureImport
    report: Report


def look_at_file(office: Office, person: str, file_name: str, data: bytes) -> Looked:
    """Read a file and say what each line would come to. Nothing but the file itself is kept.

    A file of the same person that still waits makes room for it. Raises: Refused when it cannot be read as a whole.
    """
    read = text_of(data)
    if isinstance(read, Problem):
        raise Refused([read])
    text, encoding = read
    digest = hashlib.sha256(data).hexdigest()
    with office.store.reading() as unit:
        _not_anothers(unit, person, digest)
        plan = _plan(office, unit, person, text)
    report, note = report_json(plan.told_before), f"{encoding}, {plan.separator}"
    row = FigureImport(office.new_id(), person, file_name[-200:], digest, text, note, report, office.clock())
    with office.store.writing() as unit:
        for one in unit.figure_imports.where(person=person, done_at=None):
            unit.figure_imports.save(replace(one, text=""))
        unit.figure_imports.add(row)
        unit.commit()
    return Looked(row, _report(plan.told_before))


def _not_anothers(unit: Unit, person: str, digest: str) -> None:
    """Raises: Refused for a file that somebody else imported: nobody types a source the very same, byte by byte."""
    others = [one for one in unit.figure_imports.where(digest=digest) if one.person != person and one.done_at]
    if others:
        found = unit.people.get(others[0].person)
        raise Refused([Problem("file_anothers", "file", {"name": found.name if found else "someone"})])


@dataclass(frozen=True, slots=True)
class Imported:
    report: Report
    renewed: Renewed


def import_figures(office: Office, person: str, import_id: str) -> Imported:
    """Take in a file that was looked at: every line, in one transaction, or none.

    What it comes to is worked out before the write lock is taken, so that nobody waits for it; and again under the lock
    only when the book has changed meanwhile.

    Raises: NotFound for a file of nobody's, or of another person; Refused when it is no longer there, or when a line
            cannot be taken as things stand now; then the report says which, and nothing was changed.
    """
    with office.store.reading() as unit:
        row = _waiting(unit, person, import_id)
        plan = _plan(office, unit, person, row.text)
    with office.store.writing() as unit:
        row = _waiting(unit, person, import_id)
        if unit.book_mark() != plan.mark:
            plan = _plan(office, unit, person, row.text)
        can_be_taken = _report(plan.told).can_be_taken
        if can_be_taken:
            _keep(office, unit, person, plan)
            row = replace(row, text="", report=report_json(plan.told), done_at=office.clock())
        else:
            row = replace(row, report=report_json(plan.told_before))
        unit.figure_imports.save(row)
        unit.commit()
    if not can_be_taken:
        raise Refused([Problem("file_not_taken")])
    return Imported(_report(plan.told), _renew(office, person, plan))


def _waiting(unit: Unit, person: str, import_id: str) -> FigureImport:
    """This person's file, still to be imported. Raises: NotFound; Refused."""
    row = file_of_person(unit, person, import_id)
    if row.done_at is not None or not row.text:
        raise Refused([Problem("file_gone")])
    _not_anothers(unit, person, row.digest)
    return row


def _renew(office: Office, person: str, plan: _Plan) -> Renewed:
    models = sorted({one.model for one in (*plan.added, *plan.saved)})
    each = [renew_sheets(office, person, model) for model in models]
    return Renewed(
        tuple(number for one in each for number in one.numbers),
        tuple(number for one in each for number in one.not_possible),
    )


def file_of_person(unit: Unit, person: str, import_id: str) -> FigureImport:
    """A file that this person sent. Raises: NotFound, for another's too."""
    row = unit.figure_imports.get(import_id)
    if row is None or row.person != person:
        raise NotFound("figure_import", import_id)
    return row


# --- What a file comes to --------------------------------------------------------------------------------------------

Key: TypeAlias = tuple[str, Axle, str]


@dataclass
class _Plan:
    """What would be kept, and what is told: before (comparisons not given away) and after."""

    separator: str = ""
    mark: str = ""
    told: list[Told] = field(default_factory=list)
    told_before: list[Told] = field(default_factory=list)
    added: list[FigureRecord] = field(default_factory=list)
    corrections: list[FigureRecord] = field(default_factory=list)
    saved: list[FigureRecord] = field(default_factory=list)

    def tell(self, told: Told, before: Outcome | None = None) -> None:
        self.told.append(told)
        self.told_before.append(replace(told, outcome=before) if before else told)


def _plan(office: Office, unit: Unit, person: str, text: str) -> _Plan:
    sheet = lines_of(text)
    if isinstance(sheet, Problem):
        raise Refused([sheet])
    planner = _Planner(office, person, _is_foreman(unit, person), spec_places(office.book))
    for number, problem in sheet.broken:
        planner.plan.tell(Told(number, Outcome.REFUSED, problems=(problem,)))
    planner.knows(unit.figures.all())
    planner.plan.mark = unit.book_mark()
    for line in sheet.lines:
        planner.takes(line)
    plan = planner.plan
    plan.separator = sheet.note
    plan.told.sort(key=lambda one: one.number)
    plan.told_before.sort(key=lambda one: one.number)
    return plan


@dataclass
class _Planner:
    office: Office
    person: str
    is_foreman: bool
    places: Mapping[str, SpecPlace]
    plan: _Plan = field(default_factory=_Plan)
    known: NeighboursByPlace = field(default_factory=dict)
    book: dict[Key, list[FigureRecord]] = field(default_factory=dict)
    seen: dict[Key, int] = field(default_factory=dict)

    def knows(self, figures: Iterable[FigureRecord]) -> None:
        for one in figures:
            self.book.setdefault((one.model, one.axle, one.place_key), []).append(one)
        self.known = neighbours((one for group in self.book.values() for one in group), self.places)

    def takes(self, line: Line) -> None:
        model, axle, place = (line.cell(name)[:80] for name in ("model", "axle", "place"))
        told = Told(line.number, Outcome.REFUSED, model, axle, place)
        if not any(line.cell(name) for name in NUMBERS):
            self.plan.tell(replace(told, outcome=Outcome.BLANK))
            return
        wanted = wanted_of(line)
        if isinstance(wanted, Problem):
            self.plan.tell(replace(told, problems=(wanted,)))
            return
        try:
            made, _ = read_wanted(
                self.office, self.person, wanted, self.places, self.known, in_file=True, before=self._before(wanted)
            )
        except Refused as refused:
            self.plan.tell(replace(told, problems=_for_a_file(refused.problems)))
            return
        key = (made.model, made.axle, made.place_key)
        if key in self.seen:
            self.plan.tell(replace(told, problems=(Problem("line_doubled", "", {"line": self.seen[key]}),)))
            return
        self.seen[key] = line.number
        self._settle(told, made, self.book.get(key, []))

    def _before(self, wanted: FigureWanted) -> Sequence[FigureRecord]:
        """Every edition of the place a line is for; none where its axle is no axle."""
        if wanted.axle not in set(Axle):
            return ()
        return self.book.get((wanted.model.strip(), Axle(wanted.axle), wanted.place_key), ())

    def _settle(self, told: Told, made: FigureRecord, found: Sequence[FigureRecord]) -> None:
        before = sorted(found, key=lambda one: one.edition)
        value = value_of(made)
        waiting = open_editions(before)
        own = [one for one in waiting if one.typed_by == self.person]
        same_as = own[-1:] or [one for one in before if one.counts and not waiting]
        if len(own) < len(waiting):
            is_foreman = self.is_foreman
            self._compare(told, settle_reading(self.office, self.person, before, value, is_foreman=is_foreman))
        elif any(value.is_same(value_of(one)) for one in same_as):
            self.plan.tell(replace(told, outcome=Outcome.SAME))
        else:
            self._add(told, replace(made, edition=next_edition(before)), before, own)

    def _compare(self, told: Told, settled: Settled | Problem) -> None:
        if isinstance(settled, Problem):
            self.plan.tell(replace(told, problems=(settled,)))
            return
        self.plan.saved += settled.saved
        self.plan.added += settled.added
        outcome = Outcome.AGREES if settled.agrees else Outcome.DIFFERS
        self.plan.tell(replace(told, outcome=outcome), Outcome.COMPARED)

    def _add(self, told: Told, made: FigureRecord, before: Sequence[FigureRecord], own: Sequence[FigureRecord]) -> None:
        corrects = any(one.counts for one in before)
        self.plan.saved += [replace(one, withdrawn=True) for one in own]
        self.plan.added.append(made)
        if corrects:
            self.plan.corrections.append(made)
        self.plan.tell(replace(told, outcome=Outcome.CORRECTS if corrects or own else Outcome.NEW))


def _for_a_file(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """A doubt is answered in a column of the file, and the page's words about ticking do not fit."""
    return tuple(
        Problem("line_doubt", one.field, {"says": one.details["says"]}) if one.code == "figure_doubt" else one
        for one in problems
    )


def _keep(office: Office, unit: Unit, person: str, plan: _Plan) -> None:
    unit.figures.save_all(plan.saved)
    unit.figures.add_all(plan.added)
    ask_about_sheets(office, unit, person, plan.corrections)


def _is_foreman(unit: Unit, person: str) -> bool:
    found = unit.people.get(person)
    return found is not None and Role.FOREMAN in found.roles


# --- The report ------------------------------------------------------------------------------------------------------


def _report(lines: Sequence[Told]) -> Report:
    counts: dict[Outcome, int] = {}
    for one in lines:
        counts[one.outcome] = counts.get(one.outcome, 0) + 1
    return Report(tuple(lines), counts)


def report_json(lines: Sequence[Told]) -> str:
    rows = [
        [
            one.number, one.outcome.value, one.model, one.axle, one.place,
            [[problem.code, problem.field, dict(problem.details)] for problem in one.problems],
        ]
        for one in lines
    ]  # fmt: skip
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":"))


def report_from(text: str) -> Report:
    return _report(
        [
            Told(number, Outcome(outcome), model, axle, place, tuple(Problem(*problem) for problem in problems))
            for number, outcome, model, axle, place, problems in json.loads(text)
        ]
    )


# --- Out -------------------------------------------------------------------------------------------------------------

FIGURE_CELLS = frozenset({"shape", "low", "target", "high", "tolerance", "stages", "unit", "tyre", "confirmed_because"})


def export_figures(office: Office, person: str, roles: frozenset[Role], model: str = "") -> str:
    """The book, or one model's part, as a file: the newest edition of each place, a line each.

    Where this person has still to type the figure without having seen it, or where two readings differ, its cells are
    empty: filled in from the source and sent back, the line is a reading of its own.
    """
    with office.store.reading() as unit:
        figures = unit.figures.where(model=model) if model else unit.figures.all()
        people = {one.id: one.name for one in unit.people.all()}
    by_place: dict[Key, list[FigureRecord]] = {}
    for one in figures:
        if not one.withdrawn and not one.replaced:
            by_place.setdefault((one.model, one.axle, one.place_key), []).append(one)
    rows = []
    for key in sorted(by_place, key=lambda key: (key[0].casefold(), key[0], key[1].value, key[2])):
        editions = sorted(by_place[key], key=lambda one: one.edition)
        stand, newest = stand_of(editions), editions[-1]
        cells = cells_of(newest)
        if stand is Stand.DIFFERS or not may_see(newest, stand, person, roles):
            cells |= dict.fromkeys(FIGURE_CELLS, "")
        rows.append(cells | _told_cells(newest, stand.value, people))
    return file_of([*COLUMNS, *TOLD], rows)


def _told_cells(one: FigureRecord, stand: str, people: Mapping[str, str]) -> dict[str, str]:
    return {
        "edition": str(one.edition),
        "state": stand,
        "typed_by": people.get(one.typed_by, ""),
        "typed_at": one.typed_at.isoformat(timespec="seconds"),
        "compared_by": people.get(one.compared_by or "", ""),
        "compared_at": one.compared_at.isoformat(timespec="seconds") if one.compared_at else "",
    }
