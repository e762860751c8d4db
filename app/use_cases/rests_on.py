"""What a sheet rests on of the spec book: which edition is its own, and what of it goes into its packet.

A job has the newest edition of every figure of its vehicle's model, unless the foreman was asked about it and has not
answered, or has said to keep the one before. A withdrawn edition is nobody's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeAlias

from app.domain.compiling import Window
from app.domain.packet import Axle, Figure
from app.domain.procedure import Book
from app.domain.records import AxleFacts, Choice, FigureChoice, FigureKind, FigureRecord, SpringFacts, Vehicle
from app.domain.spec_places import OTHER_PLACES, tyre_key, window_keys
from app.ports import Unit

Own: TypeAlias = Mapping[tuple[Axle, str], FigureRecord]


def own_figures(unit: Unit, model: str, job: str = "") -> dict[tuple[Axle, str], FigureRecord]:
    """The edition of every figure of a model that this job rests on, or that a new job would."""
    all_editions = unit.figures.where(model=model)
    newest: dict[tuple[Axle, str], FigureRecord] = {}
    for one in all_editions:
        key = (one.axle, one.place_key)
        if not one.withdrawn and not one.replaced and (key not in newest or one.edition > newest[key].edition):
            newest[key] = one
    kept = kept_by(unit.figure_choices.where(job=job)) if job else {}
    for one in all_editions:
        if one.id in kept and one.is_verified:
            newest[one.axle, one.place_key] = one
    return newest


def kept_by(choices: Iterable[FigureChoice]) -> dict[str, FigureChoice]:
    """By figure, the last word on each that a job keeps, or keeps until the foreman has spoken."""
    last = {one.figure: one for one in choices}
    return {key: one for key, one in last.items() if one.choice is not Choice.RENEW}


# --- What goes into a packet ---------------------------------------------------------------------------------------


def torque_figures(own: Own) -> dict[str, Figure]:
    """Torques by axle and place, whether they count yet or not."""
    return {
        f"{axle.value}/{key}": figure_of(one)
        for (axle, key), one in own.items()
        if one.kind is FigureKind.FASTENER
    }  # fmt: skip


def figure_of(one: FigureRecord) -> Figure:
    return Figure(
        id=one.id, text=one.text, unit=one.unit, stages=one.stages, source=source_of(one), verified=one.is_verified,
        thread=one.thread, strength=one.strength, lubrication=one.lubrication, one_time=one.one_time,
        critical=one.critical,
    )  # fmt: skip


def source_of(one: FigureRecord) -> str:
    return ", ".join(part for part in (one.document, one.page, one.document_date) if part)


def windows(own: Own, vehicle: Vehicle) -> dict[str, Window]:
    """The maker's limits for the sheet's measures; a side's own comes before the one for both sides."""
    found: dict[str, Window] = {}
    for (axle, key), one in sorted(own.items(), key=lambda item: bool(_side(item[0][1]))):
        if key in OTHER_PLACES:
            window = window_of(one, vehicle)
            found |= dict.fromkeys(window_keys(OTHER_PLACES[key], axle), window)
    return found


def _side(key: str) -> str:
    return OTHER_PLACES[key].side if key in OTHER_PLACES else ""


NOT_COMPARED = "A figure was typed once. It judges nothing until a second person has typed it too."
OTHER_TYRES = "for {tyre}, and this vehicle stands on {fitted}: allow for it; nothing is judged"


def window_of(one: FigureRecord, vehicle: Vehicle) -> Window:
    """One figure as a sheet's window. What does not count is not shown: whoever types it next has to read the source.

    A height given for another tyre than is fitted is shown and judges nothing.
    """
    if not one.is_verified:
        return Window(None, None, NOT_COMPARED, "")
    text = f"{one.text}, to {one.point}" if one.point else one.text
    if one.tyre:
        fitted = vehicle.tyre_front if one.axle is Axle.FRONT else vehicle.tyre_rear
        if tyre_key(fitted) != tyre_key(one.tyre):
            words = OTHER_TYRES.format(tyre=one.tyre, fitted=fitted or "tyres nobody has noted")
            return Window(None, None, f"{text}, {words}", source_of(one))
        text = f"{text}, with {one.tyre}"
    return Window(one.low, one.high, text, source_of(one))


# --- A vehicle's facts ---------------------------------------------------------------------------------------------


def with_book(vehicle: Vehicle, own: Own) -> Vehicle:
    """The vehicle with what counts in the spec book where its own record has nothing; what was noted of it wins."""
    counting = {key: one for key, one in own.items() if one.is_verified}

    def known(axle: Axle, key: str) -> int | None:
        one = counting.get((axle, key))
        return one.target if one is not None else None

    def seconds(key: str) -> int | None:
        waits = known(Axle.BOTH, key)
        return -(-waits // 1_000) if waits is not None else None

    return replace(
        vehicle,
        front=_axle(vehicle.front, Axle.FRONT, counting),
        rear=_axle(vehicle.rear, Axle.REAR, counting),
        hv_wait_s=vehicle.hv_wait_s if vehicle.hv_wait_s is not None else seconds("high_voltage_wait"),
        airbag_wait_s=vehicle.airbag_wait_s if vehicle.airbag_wait_s is not None else seconds("airbag_wait"),
    )


_SPRING = {
    "rate_npm": "spring_rate",
    "free_length_um": "spring_free_length",
    "installed_um": "spring_installed_length",
    "hanging_um": "spring_hanging_length",
    "wire_um": "spring_wire",
}


def _axle(facts: AxleFacts, axle: Axle, counting: Own) -> AxleFacts:
    mass = counting.get((axle, "axle_mass"))
    if facts.mass_g is None and mass is not None:
        facts = replace(facts, mass_g=mass.target)
    return replace(facts, spring=_spring(facts.spring, axle, counting))


def _spring(spring: SpringFacts, axle: Axle, counting: Own) -> SpringFacts:
    taken = {
        name: counting[axle, key]
        for name, key in _SPRING.items()
        if getattr(spring, name) is None and (axle, key) in counting
    }
    if not taken:
        return spring
    sources = dict.fromkeys(source for source in (spring.source, *map(source_of, taken.values())) if source)
    return replace(spring, source="; ".join(sources), **{name: one.target for name, one in taken.items()})


# --- Whether a sheet rests on a figure -----------------------------------------------------------------------------


def is_pinned(book: Book, unit: Unit, job: str, vehicle: Vehicle, figure: FigureRecord) -> bool:
    """Whether a job's sheet, as it is pinned now, uses this figure."""
    sheet = unit.sheets.get(job)
    if sheet is None or sheet.packet is None:
        return False
    if figure.kind is FigureKind.FASTENER:
        return any(
            one.figure is not None and one.figure.id == figure.id
            for step in sheet.packet.steps
            for one in step.fasteners
        )
    own = {(figure.axle, figure.place_key): figure}
    if with_book(vehicle, own) != vehicle:
        return True
    keys = set(windows(own, vehicle))
    families = {line.id: book.procedures[line.procedure].family for line in sheet.packet.lines}
    return any(
        f"{step.axle.value}/{families[step.line]}/{measure.id}" in keys
        for step in sheet.packet.steps
        for measure in step.measures
    )
