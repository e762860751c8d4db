"""Figures of the spec book: typed from their source by one person, typed again by another, and only then counted.

Nothing here knows a figure. The sums may doubt what was typed (a unit mixed up, a bolt stretched for good); then it is
kept only when the person confirms it and says why. An edition is never changed: a correction is a new one, and so is
what a second person reads differently. While two readings stand against each other neither counts, and the foreman
types it once more from the source. Newest first: an edition that waits keeps an older one from counting.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

from app.domain.packet import Axle, Pass, Stage
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import FigureKind, FigureRecord, JobState, Role
from app.domain.spec_places import Ends, SpecPlace, spec_places
from app.language.speech import N_
from app.ports import Unit
from app.trade.fastener import INCH_GRADES, METRIC_CLASSES, NUT_FACTORS, QuestionKind, Spec, Thread, question
from app.trade.neighbours import Neighbour, Neighbours, question_beside
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.use_cases.decide_sheets import ask_about_sheets
from app.use_cases.office import Office
from app.use_cases.read_figure import FigureTyped, Value, read_value, value_of
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_fields import Reader


class Stand(StrEnum):
    """Where a place's figure stands: absent, waiting for the second person, two readings apart, counting."""

    ABSENT = "absent"
    WAITS = "waits"
    DIFFERS = "differs"
    COUNTS = "counts"


@dataclass(frozen=True, slots=True)
class FigureWanted:
    """What was typed for a new edition. `confirmed` repeats the figure that was doubted (`doubted_as`)."""

    model: str
    axle: str
    place_key: str
    typed: FigureTyped
    thread: str = ""
    strength: str = ""
    condition: str = ""
    lubrication: str = ""
    one_time: bool = False
    critical: bool = False
    document: str = ""
    page: str = ""
    document_date: str = ""
    confirmed: str = ""
    confirmed_because: str = ""
    point: str = ""


@dataclass(frozen=True, slots=True)
class Entered:
    """The edition, what the sums could not look at (codes), and what became of the open sheets."""

    figure: FigureRecord
    gaps: tuple[str, ...]
    renewed: Renewed


@dataclass(frozen=True, slots=True)
class Compared:
    """Whether the two readings agree; the edition that counts, or the second person's own."""

    agrees: bool
    figure: FigureRecord
    renewed: Renewed


# --- Entering ------------------------------------------------------------------------------------------------------


def enter_figure(office: Office, person: str, wanted: FigureWanted) -> Entered:
    """Keep a new edition of a figure; one that still waits for its second person is withdrawn by it.

    Sheets that rest on a figure which this corrects keep it until the foreman has decided about each.
    Raises: Refused with every problem found, doubts among them (`figure_doubt`).
    """
    places = spec_places(office.book)
    with office.store.writing() as unit:
        known = neighbours(unit.figures.where(place_key=wanted.place_key), places)
        made, gaps = read_wanted(office, person, wanted, places, known)
        before = editions(unit, made.model, made.axle, made.place_key)
        made = replace(made, edition=next_edition(before))
        for one in open_editions(before):
            unit.figures.save(replace(one, withdrawn=True))
        unit.figures.add(made)
        ask_about_sheets(office, unit, person, [made])
        unit.commit()
    return Entered(made, gaps, renew_sheets(office, person, made.model))


def next_edition(before: Sequence[FigureRecord]) -> int:
    return max((one.edition for one in before), default=0) + 1


NeighboursByPlace: TypeAlias = Mapping[str, "KnownElsewhere"]


def read_wanted(
    office: Office,
    person: str,
    wanted: FigureWanted,
    places: Mapping[str, SpecPlace],
    known: NeighboursByPlace,
    *,
    in_file: bool = False,
    before: Sequence[FigureRecord] = (),
) -> tuple[FigureRecord, tuple[str, ...]]:
    """The first edition of what was typed, and codes of what the sums could not look at.

    in_file: a line of a file confirms what is doubted by its reason alone; there is nothing to tick.
    before:  with a line, the place's editions. It is not doubted where another's reading waits for it, or where it was
             read the same before.
    Raises: Refused with every problem found, doubts among them.
    """
    read = Reader()
    model = read.words(wanted.model, "model", missing="figure_model_missing", limit=80)
    place = places.get(wanted.place_key)
    if place is None:
        read.wrong("place_unknown", "place_key")
        place = _NO_PLACE
    if wanted.axle not in {one.value for one in place.axles}:
        read.wrong("axle_missing" if place is _NO_PLACE or len(place.axles) > 1 else "axle_of_place", "axle",
                   axles=" or ".join(_AXLE_WORDS[one] for one in place.axles))  # fmt: skip
    value = read_value(read, place, wanted.typed)
    is_joint = place.kind is FigureKind.FASTENER
    thread = _thread(read, wanted.thread if is_joint else "")
    strength = _strength(read, wanted.strength if is_joint else "", thread)
    if wanted.condition and wanted.condition not in NUT_FACTORS:
        read.wrong("condition_unknown", "condition")
    document = read.words(wanted.document, "document", missing="document_missing", limit=160)
    page = read.words(wanted.page, "page", missing="page_missing", limit=40)
    document_date = read.words(wanted.document_date, "document_date", missing="document_date_missing", limit=40)
    lubrication = read.words(wanted.lubrication if is_joint else "", "lubrication", limit=120)
    because = read.words(wanted.confirmed_because, "confirmed_because", limit=300)
    point = read.words(wanted.point if place.needs_tyre else "", "point",
                       missing="point_missing" if place.needs_tyre else "", limit=120)  # fmt: skip
    gaps: tuple[str, ...] = ()
    doubts: list[str] = []
    if value.stages and not any(one.field in ("thread", "strength", "condition") for one in read.problems):
        doubts, gaps = _questions(read, value.stages, value.unit, thread, strength, wanted)
    if value.text and wanted.place_key in known:
        doubts += _beside(value, place, known[wanted.place_key], (model, wanted.axle))
    if in_file and _needs_no_doubt(value, before, person):
        doubts = []
    elif in_file and because:
        wanted = replace(wanted, confirmed=doubted_as(value.text, wanted))
    if value.text:
        because = _confirmed(read, wanted, doubts, doubted_as(value.text, wanted), because) if doubts else ""
    read.done()
    return FigureRecord(
        id=office.new_id(), model=model, axle=Axle(wanted.axle), place_key=wanted.place_key, edition=1,
        text=value.text, unit=value.unit, stages=value.stages, thread=thread.name if thread else "",
        strength=strength, lubrication=lubrication or (CONDITIONS.get(wanted.condition, "") if is_joint else ""),
        one_time=is_joint and wanted.one_time, critical=is_joint and wanted.critical, document=document, page=page,
        document_date=document_date, typed_by=person, typed_at=office.clock(), confirmed_because=because,
        kind=place.kind, low=value.low, target=value.target, high=value.high, tyre=value.tyre, point=point,
    ), gaps  # fmt: skip


def _needs_no_doubt(value: Value, before: Sequence[FigureRecord], person: str) -> bool:
    """A doubt about a second reading would tell how it compares."""
    waiting = open_editions(before)
    return any(one.typed_by != person for one in waiting) or any(
        value.is_same(value_of(one)) for one in before if one.counts or one in waiting
    )


_AXLE_WORDS = {Axle.FRONT: "front", Axle.REAR: "rear", Axle.BOTH: "both"}
# Stands in for a place nobody knows, so that everything else is read and told as well.
_NO_PLACE = SpecPlace("", FigureKind.FASTENER, "", Dimension.TORQUE, "N·m", Ends.TORQUE, (0, 0))


# --- Neighbours ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class KnownElsewhere:
    """The verified figures of one place: each model and axle's own value, and all of them by value."""

    own: Mapping[tuple[str, str], tuple[Neighbour, ...]]
    by_value: Neighbours


def neighbours(figures: Iterable[FigureRecord], places: Mapping[str, SpecPlace]) -> dict[str, KnownElsewhere]:
    """What counts of each place. A figure that waits is no neighbour: nobody may learn it before typing it."""
    own: dict[str, dict[tuple[str, str], tuple[Neighbour, ...]]] = {}
    for one in figures:
        if one.counts and one.place_key in places and (value := _one_number(value_of(one))) is not None:
            words = f"{one.model}, {_AXLE_WORDS[one.axle]} axle"
            own.setdefault(one.place_key, {})[one.model, one.axle.value] = (Neighbour(value, words),)
    return {
        key: KnownElsewhere(found, Neighbours(one for group in found.values() for one in group))
        for key, found in own.items()
    }


def _one_number(value: Value) -> int | None:
    """What stands for a figure when it is laid beside others: its target, the middle of its window, or its one end."""
    torques = [one for one in value.stages if one.target_mdeg is None]
    if torques:
        return max(one.target_mnm or ((one.low_mnm or 0) + (one.high_mnm or 0)) // 2 for one in torques)
    if value.target is not None:
        return value.target
    if value.low is not None and value.high is not None:
        return (value.low + value.high) // 2
    return value.high if value.high is not None else value.low


def _beside(value: Value, place: SpecPlace, known: KnownElsewhere, own: tuple[str, str]) -> list[str]:
    number = _one_number(value)
    if number is None:
        return []
    others = known.by_value.without(known.own.get(own, ()))
    asked = question_beside(Quantity(place.dimension, number, value.unit), others, reach=place.reach)
    return [one.sentence for one in asked]


# What a person chooses from for the sums; the keys are those of `NUT_FACTORS`.
CONDITIONS = {
    "dry": N_("dry"),
    "lubricated": N_("oiled or greased"),
    "zinc": N_("zinc plated, dry"),
    "cadmium": N_("cadmium plated"),
    "anti_seize": N_("with anti-seize paste"),
    "black_dry": N_("black, dry"),
}


def doubted_as(text: str, wanted: FigureWanted) -> str:
    """What a confirmation is for: this figure on this bolt. Another one is doubted anew."""
    bolt = (wanted.thread.strip() or "-", wanted.strength.strip() or "-", wanted.condition or "-")
    return " | ".join((text, *bolt, "new every time" if wanted.one_time else "used again"))


def _confirmed(read: Reader, wanted: FigureWanted, doubts: Sequence[str], figure: str, because: str) -> str:
    if wanted.confirmed != figure:
        for says in doubts:
            read.wrong("figure_doubt", "confirmed", says=says, figure=figure)
    elif not because:
        read.wrong("confirm_reason_missing", "confirmed_because")
    return because


def _questions(
    read: Reader, stages: tuple[Stage, ...], unit: str, thread: Thread | None, strength: str, wanted: FigureWanted
) -> tuple[list[str], tuple[str, ...]]:
    """What the sums ask about a figure: doubts as sentences, and codes of what kept them from looking."""
    torques = [stage for stage in stages if stage.target_mdeg is None]
    highest = max(one.target_mnm or one.high_mnm or 0 for one in torques)
    spec = Spec(
        Quantity(Dimension.TORQUE, highest, unit),
        thread=thread,
        strength_class=strength,
        condition=wanted.condition,
        is_yield_tightened=len(torques) < len(stages),
        is_kept=not wanted.one_time,
    )
    try:
        asked = question(spec)
    except TradeProblem:
        read.wrong("strength_unknown_here", "strength", known=", ".join(_classes(thread)))
        return [], ()
    return (
        [one.sentence for one in asked if one.kind is QuestionKind.DOUBT],
        tuple(one.code for one in asked if one.kind is QuestionKind.GAP),
    )


def _thread(read: Reader, text: str) -> Thread | None:
    if not text.strip():
        return None
    try:
        return Thread.parse(text)
    except TradeProblem as problem:
        code = "thread_pitch_missing" if problem.details.get("reason") == "pitch" else "thread_unclear"
        read.wrong(code, "thread", typed=text.strip()[:40])
        return None


def _strength(read: Reader, text: str, thread: Thread | None) -> str:
    typed = text.strip()
    if typed and typed not in _classes(thread):
        read.wrong("strength_unknown_here", "strength", known=", ".join(_classes(thread)))
    return typed


def _classes(thread: Thread | None) -> tuple[str, ...]:
    if thread is None:
        return (*METRIC_CLASSES, *INCH_GRADES)
    return INCH_GRADES if thread.is_inch else METRIC_CLASSES


# --- Comparing -----------------------------------------------------------------------------------------------------


def compare_figure(office: Office, person: str, figure_id: str, typed: FigureTyped) -> Compared:
    """Type a waiting figure again from its source.

    Equal to another person's reading: that one counts, and every other edition is withdrawn. Unequal: what was typed
    now is an edition of its own beside the first, and neither counts until the foreman types it too.
    Raises: Refused, NotFound.
    """
    places = spec_places(office.book)
    with office.store.writing() as unit:
        figure = unit.figures.get(figure_id)
        if figure is None:
            raise NotFound("figure", figure_id)
        read = Reader()
        value = read_value(read, places.get(figure.place_key, _NO_PLACE), typed)
        read.done()
        before = editions(unit, figure.model, figure.axle, figure.place_key)
        if figure not in open_editions(before):
            raise Refused([Problem("figure_settled", "")])
        settled = settle_reading(office, person, before, value, is_foreman=_is_foreman(unit, person))
        if isinstance(settled, Problem):
            raise Refused([settled])
        settled.keep(unit)
        unit.commit()
    return Compared(settled.agrees, settled.figure, renew_sheets(office, person, figure.model))


@dataclass(frozen=True, slots=True)
class Settled:
    """What another reading comes to: which edition to look at, those to save, and the reading's own when it differs."""

    agrees: bool
    figure: FigureRecord
    saved: tuple[FigureRecord, ...] = ()
    added: tuple[FigureRecord, ...] = ()

    def keep(self, unit: Unit) -> None:
        for one in self.saved:
            unit.figures.save(one)
        unit.figures.add_all(self.added)


def settle_reading(
    office: Office, person: str, before: Sequence[FigureRecord], value: Value, *, is_foreman: bool
) -> Settled | Problem:
    """Lay a person's reading beside those that wait, of the same place; pure but for the new edition's id."""
    waiting = open_editions(before)
    differed = len(waiting) > 1
    if differed and not is_foreman:
        return Problem("figure_foreman", "")
    of_others = [one for one in waiting if one.typed_by != person]
    if not of_others or (differed and _equal(value, [one for one in waiting if one.typed_by == person])):
        return Problem("figure_yours", "")
    equal = _equal(value, of_others)
    if equal is None and differed:
        return Problem("figure_neither", "")
    if equal is None:
        own = replace(
            of_others[0], id=office.new_id(), edition=next_edition(before), text=value.text, unit=value.unit,
            stages=value.stages, low=value.low, target=value.target, high=value.high, tyre=value.tyre,
            typed_by=person, typed_at=office.clock(), confirmed_because="",
        )  # fmt: skip
        return Settled(False, own, added=(own,))
    counts = replace(equal, compared_by=person, compared_at=office.clock(), compared_text=value.text)
    others = [one for one in before if one.id != counts.id and not one.withdrawn and not one.replaced]
    replaced = [replace(one, replaced=True) if one.is_verified else replace(one, withdrawn=True) for one in others]
    return Settled(True, counts, saved=(counts, *replaced))


def _equal(value: Value, among: Sequence[FigureRecord]) -> FigureRecord | None:
    return next((one for one in among if value.is_same(value_of(one))), None)


def _is_foreman(unit: Unit, person: str) -> bool:
    found = unit.people.get(person)
    return found is not None and Role.FOREMAN in found.roles


def withdraw_figure(office: Office, person: str, figure_id: str) -> Renewed:
    """Take an edition out of use; it stays on record. Raises: NotFound; Refused when it was withdrawn before."""
    with office.store.writing() as unit:
        figure = unit.figures.get(figure_id)
        if figure is None:
            raise NotFound("figure", figure_id)
        if figure.withdrawn:
            raise Refused([Problem("figure_settled", "")])
        unit.figures.save(replace(figure, withdrawn=True))
        unit.commit()
    return renew_sheets(office, person, figure.model)


# --- Looking -------------------------------------------------------------------------------------------------------


def editions(unit: Unit, model: str, axle: Axle, place_key: str) -> list[FigureRecord]:
    """Every edition of a place's figure, oldest first."""
    return sorted(unit.figures.where(model=model, axle=axle, place_key=place_key), key=lambda one: one.edition)


def open_editions(all_editions: Sequence[FigureRecord]) -> list[FigureRecord]:
    """Those that wait for a second person; two of them stand against each other."""
    return [one for one in all_editions if not one.withdrawn and one.compared_by is None]


def stand_of(all_editions: Sequence[FigureRecord]) -> Stand:
    waiting = open_editions(all_editions)
    if waiting:
        return Stand.DIFFERS if len(waiting) > 1 else Stand.WAITS
    return Stand.COUNTS if any(one.counts for one in all_editions) else Stand.ABSENT


def may_see(figure: FigureRecord, stand: Stand, person: str, roles: frozenset[Role]) -> bool:
    """Whether this person may read the figure: a second person types it without having seen the first reading."""
    if figure.compared_by is not None or figure.withdrawn or figure.typed_by == person:
        return True
    return stand is Stand.DIFFERS and Role.FOREMAN in roles


def models(unit: Unit) -> list[str]:
    """Every kind of vehicle the shop has or has figures of."""
    names = {one.model for one in unit.vehicles.all()} | {one.model for one in unit.figures.all()}
    return sorted((name for name in names if name), key=str.casefold)


def asked_for(unit: Unit) -> dict[tuple[str, str, str], list[str]]:
    """What open sheets wait for: (model, axle, place) with the numbers of the jobs, in the order they were opened."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for job in unit.jobs.where(state=JobState.OPEN):
        sheet, vehicle = unit.sheets.get(job.id), unit.vehicles.get(job.vehicle)
        if sheet is None or sheet.packet is None or vehicle is None:
            continue
        for step in sheet.packet.steps:
            for fastener in step.fasteners:
                if fastener.tighten is Pass.FINAL and (fastener.figure is None or not fastener.figure.verified):
                    numbers = found.setdefault((vehicle.model, step.axle.value, fastener.figure_key), [])
                    if job.number not in numbers:
                        numbers.append(job.number)
    return found
