"""Torque figures: typed from their source by one person, typed again by another, and only then counted.

Nothing here knows a torque. The sums may doubt what was typed (a unit mixed up, a bolt stretched for good); then it is
kept only when the person confirms it and says why. An edition is never changed: a correction is a new one, and so is
what a second person reads differently. While two readings stand against each other neither counts, and the foreman
types it once more from the source. Newest first: an edition that waits keeps an older one from counting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from app.domain.offering import figure_keys
from app.domain.packet import Axle, Pass, Stage
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import FigureRecord, JobState, Role
from app.ports import Unit
from app.trade.fastener import INCH_GRADES, METRIC_CLASSES, NUT_FACTORS, QuestionKind, Spec, Thread, question
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.torque_tool import Window, window_of
from app.trade.units import as_typed, parse_quantity
from app.use_cases.keep_tool import TORQUE_MNM, torque_unit
from app.use_cases.office import Office
from app.use_cases.renew_sheets import Renewed, renew_sheets
from app.use_cases.typed_amount import amount_typed
from app.use_cases.typed_fields import Reader

# A single target without a printed tolerance: ±4 %, decided in D-006.
HOUSE_TOLERANCE = Quantity(Dimension.RATIO, 40_000, "%", "4 %")
TURN_MDEG = (1_000, 1_080_000)
STAGES = 4


class Shape(StrEnum):
    """How the source prints the figure."""

    SINGLE = "single"
    RANGE = "range"
    STAGES = "stages"


class Stand(StrEnum):
    """Where a place's figure stands: absent, waiting for the second person, two readings apart, counting."""

    ABSENT = "absent"
    WAITS = "waits"
    DIFFERS = "differs"
    COUNTS = "counts"


@dataclass(frozen=True, slots=True)
class TorqueTyped:
    """The figure as typed from the source. Which fields count depends on the shape; a bare number is in `unit`.

    stages: (torque or turn, tolerance) in order.
    """

    shape: str
    unit: str
    target: str = ""
    tolerance: str = ""
    low: str = ""
    high: str = ""
    stages: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class FigureWanted:
    """What was typed for a new edition. `confirmed` repeats the figure that was doubted (`doubted_as`)."""

    model: str
    axle: str
    place_key: str
    torque: TorqueTyped
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

    Raises: Refused with every problem found, doubts among them (`figure_doubt`).
    """
    made, gaps = _read(office, person, wanted)
    with office.store.writing() as unit:
        before = editions(unit, made.model, made.axle, made.place_key)
        made = replace(made, edition=max((one.edition for one in before), default=0) + 1)
        for one in open_editions(before):
            unit.figures.save(replace(one, withdrawn=True))
        unit.figures.add(made)
        unit.commit()
    return Entered(made, gaps, renew_sheets(office, person, made.model))


def _read(office: Office, person: str, wanted: FigureWanted) -> tuple[FigureRecord, tuple[str, ...]]:
    read = Reader()
    model = read.words(wanted.model, "model", missing="figure_model_missing", limit=80)
    if wanted.axle not in (Axle.FRONT.value, Axle.REAR.value):
        read.wrong("axle_missing", "axle")
    if wanted.place_key not in {place.key for place in figure_keys(office.book)}:
        read.wrong("place_unknown", "place_key")
    stages, text, unit = read_torque(read, wanted.torque)
    thread = _thread(read, wanted.thread)
    strength = _strength(read, wanted.strength, thread)
    if wanted.condition and wanted.condition not in NUT_FACTORS:
        read.wrong("condition_unknown", "condition")
    document = read.words(wanted.document, "document", missing="document_missing", limit=160)
    page = read.words(wanted.page, "page", missing="page_missing", limit=40)
    document_date = read.words(wanted.document_date, "document_date", missing="document_date_missing", limit=40)
    lubrication = read.words(wanted.lubrication, "lubrication", limit=120)
    because = read.words(wanted.confirmed_because, "confirmed_because", limit=300)
    gaps: tuple[str, ...] = ()
    if stages and not any(one.field in ("thread", "strength", "condition") for one in read.problems):
        doubts, gaps = _questions(read, stages, unit, thread, strength, wanted)
        because = _confirmed(read, wanted, doubts, doubted_as(text, wanted), because) if doubts else ""
    read.done()
    return FigureRecord(
        id=office.new_id(), model=model, axle=Axle(wanted.axle), place_key=wanted.place_key, edition=1, text=text,
        unit=unit, stages=stages, thread=thread.name if thread else "", strength=strength,
        lubrication=lubrication or CONDITIONS.get(wanted.condition, ""), one_time=wanted.one_time,
        critical=wanted.critical, document=document, page=page, document_date=document_date, typed_by=person,
        typed_at=office.clock(), confirmed_because=because,
    ), gaps  # fmt: skip


# What a person chooses from for the sums; the keys are those of `NUT_FACTORS`.
CONDITIONS = {
    "dry": "dry",
    "lubricated": "oiled or greased",
    "zinc": "zinc plated, dry",
    "cadmium": "cadmium plated",
    "anti_seize": "with anti-seize paste",
    "black_dry": "black, dry",
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


# --- The figure itself ---------------------------------------------------------------------------------------------


def read_torque(read: Reader, typed: TorqueTyped) -> tuple[tuple[Stage, ...], str, str]:
    """The stages, the figure as printed, and its unit; no stages after a problem."""
    unit = torque_unit(read, typed.unit, "unit") or "N·m"
    before = len(read.problems)
    match typed.shape:
        case Shape.SINGLE:
            made = [_stage(read, typed.target, typed.tolerance, unit, "target", "tolerance")]
        case Shape.RANGE:
            made = [_range(read, typed.low, typed.high, unit)]
        case Shape.STAGES:
            made = _staged(read, typed.stages, unit)
        case _:
            read.wrong("shape_missing", "shape")
            made = []
    stages = tuple(one for one in made if one is not None)
    if len(read.problems) > before:
        return (), "", unit
    return stages, ", then ".join(stage.text for stage in stages), unit


def _range(read: Reader, low_text: str, high_text: str, unit: str) -> Stage | None:
    low = read.amount(low_text, "low", Dimension.TORQUE, unit, *TORQUE_MNM)
    high = read.amount(high_text, "high", Dimension.TORQUE, unit, *TORQUE_MNM)
    if low is None or high is None:
        return None
    if low.value >= high.value:
        read.wrong("range_swapped", "high")
        return None
    window = window_of(low=low, high=high)
    return Stage(window.low.value, None, window.high.value, text=f"{as_typed(low)} to {as_typed(high)}")


def _staged(read: Reader, rows: Sequence[tuple[str, str]], unit: str) -> list[Stage | None]:
    filled = [(at, value, tolerance) for at, (value, tolerance) in enumerate(rows, 1) if value.strip()]
    for at, (value, tolerance) in enumerate(rows, 1):
        if tolerance.strip() and not value.strip():
            read.wrong("value_missing", f"stage{at}", example="50 N·m")
    if len(filled) < 2:
        read.wrong("stages_few", "stage1")
        return []
    if _is_turn(filled[0][1]):
        read.wrong("turn_first", f"stage{filled[0][0]}")
        return []
    return [
        _stage(read, value, tolerance, "", f"stage{at}", f"tolerance{at}", turn=_is_turn(value))
        for at, value, tolerance in filled
    ]


def _is_turn(text: str) -> bool:
    try:
        parse_quantity(text, Dimension.ANGLE)
    except TradeProblem:
        return False
    return True


def _stage(
    read: Reader, text: str, tolerance_text: str, unit: str, name: str, tolerance_name: str, *, turn: bool = False
) -> Stage | None:
    dimension, ends = (Dimension.ANGLE, TURN_MDEG) if turn else (Dimension.TORQUE, TORQUE_MNM)
    target = read.amount(text, name, dimension, unit, *ends)
    if target is None:
        return None
    tolerance = _tolerance(read, tolerance_text, target, tolerance_name)
    if tolerance is None:
        return None
    try:
        window = window_of(target, tolerance=tolerance)
    except TradeProblem:
        read.wrong("tolerance_too_large", tolerance_name, typed=tolerance_text.strip()[:40])
        return None
    printed = f" ±{as_typed(tolerance)}" if tolerance_text.strip() else ""
    return _stage_of(window, target, f"{as_typed(target)}{printed}", turn=turn)


def _stage_of(window: Window, target: Quantity, text: str, *, turn: bool) -> Stage:
    low, high = window.low.value, window.high.value
    if turn:
        return Stage(low_mdeg=low, target_mdeg=target.value, high_mdeg=high, text=text)
    return Stage(low_mnm=low, target_mnm=target.value, high_mnm=high, text=text)


def _tolerance(read: Reader, text: str, target: Quantity, name: str) -> Quantity | None:
    """The printed tolerance: a percentage or an amount. A torque without one has the house's; a turn needs one."""
    typed = text.strip().removeprefix("+/-").removeprefix("±").strip()
    if not typed:
        if target.dimension is Dimension.TORQUE:
            return HOUSE_TOLERANCE
        read.wrong("turn_tolerance_missing", name)
        return None
    dimension = Dimension.RATIO if "%" in typed else target.dimension
    found = amount_typed(typed, dimension, "" if dimension is Dimension.RATIO else target.unit, name)
    if isinstance(found, Problem):
        read.problems.append(found)
        return None
    if found.value <= 0:
        read.wrong("tolerance_too_large", name, typed=typed[:40])
        return None
    return found


# --- Comparing -----------------------------------------------------------------------------------------------------


def compare_figure(office: Office, person: str, figure_id: str, typed: TorqueTyped) -> Compared:
    """Type a waiting figure again from its source.

    Equal to another person's reading: that one counts, and every other edition is withdrawn. Unequal: what was typed
    now is an edition of its own beside the first, and neither counts until the foreman types it too.
    Raises: Refused, NotFound.
    """
    read = Reader()
    stages, text, unit_text = read_torque(read, typed)
    read.done()
    with office.store.writing() as unit:
        figure = unit.figures.get(figure_id)
        if figure is None:
            raise NotFound("figure", figure_id)
        all_editions = editions(unit, figure.model, figure.axle, figure.place_key)
        waiting = open_editions(all_editions)
        if figure not in waiting:
            raise Refused([Problem("figure_settled", "")])
        differed = len(waiting) > 1
        if differed and not _is_foreman(unit, person):
            raise Refused([Problem("figure_foreman", "")])
        of_others = [one for one in waiting if one.typed_by != person]
        if not of_others or (differed and _equal(stages, [x for x in waiting if x.typed_by == person])):
            raise Refused([Problem("figure_yours", "")])
        equal = _equal(stages, of_others)
        if equal is None and differed:
            raise Refused([Problem("figure_neither", "")])
        if equal is not None:
            counts = replace(equal, compared_by=person, compared_at=office.clock(), compared_text=text)
            unit.figures.save(counts)
            for one in all_editions:
                if one.id != counts.id and not one.withdrawn:
                    unit.figures.save(replace(one, withdrawn=True))
        else:
            counts = replace(
                figure, id=office.new_id(), edition=max(one.edition for one in all_editions) + 1, text=text,
                unit=unit_text, stages=stages, typed_by=person, typed_at=office.clock(), confirmed_because="",
            )  # fmt: skip
            unit.figures.add(counts)
        unit.commit()
    return Compared(equal is not None, counts, renew_sheets(office, person, figure.model))


def _equal(stages: tuple[Stage, ...], among: Sequence[FigureRecord]) -> FigureRecord | None:
    """The edition with the very same windows and targets; what the texts look like does not matter."""
    wanted = [replace(stage, text="") for stage in stages]
    return next((one for one in among if [replace(stage, text="") for stage in one.stages] == wanted), None)


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
