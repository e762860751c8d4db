"""Find jobs and vehicles by what somebody remembers of them: plate, VIN, customer, complaint, part, number."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.domain.problems import Problem
from app.domain.search_words import ASKED_LIMIT, asked_words, words_in
from app.ports import Hit
from app.use_cases.office import Office

# House rule: more than somebody looks through; then another word helps more than another page.
FOUND_LIMIT = 50
TYPED_LIMIT = 200
CODE_LIMIT = 40


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle with those of its jobs that were found, the last first; none where only the vehicle itself fits."""

    id: str
    plate: str
    vin: str
    model: str
    customer: str
    jobs: tuple[Hit, ...]


@dataclass(frozen=True, slots=True)
class Searched:
    """problem: why nothing was looked for. more: there is more than is shown. jobs: how many of those shown."""

    vehicles: tuple[Vehicle, ...] = ()
    jobs: int = 0
    more: bool = False
    problem: Problem | None = None
    words: tuple[str, ...] = field(default=())


def search(office: Office, typed: str) -> Searched:
    """What has every word typed, or words beginning so, grouped by vehicle; what was opened last comes first."""
    words = asked_words(typed[: TYPED_LIMIT + 1])
    if not typed.strip():
        return Searched()
    if len(typed) > TYPED_LIMIT or len(words) > ASKED_LIMIT:
        return Searched(problem=Problem("search_long", "q", {"words": ASKED_LIMIT, "limit": TYPED_LIMIT}))
    if not words:
        return Searched(problem=Problem("search_no_word", "q"))
    with office.store.reading() as unit:
        tried = (unit.search.find(way, FOUND_LIMIT + 1) for way in ways(typed))
        found = next((hits for hits in tried if hits), ())
    shown = found[:FOUND_LIMIT]
    by_vehicle: dict[str, list[Hit]] = {}
    for one in shown:
        by_vehicle.setdefault(one.vehicle, []).append(one)
    return Searched(
        vehicles=tuple(_vehicle(hits) for hits in by_vehicle.values()),
        jobs=sum(bool(one.job) for one in shown),
        more=len(found) > FOUND_LIMIT,
        words=words,
    )


def ways(typed: str) -> tuple[tuple[str, ...], ...]:
    """What is asked for, in this order, until something is found. With a figure in it, what was typed may be a plate or
    a number that somebody spaced: then it is looked for as one, or its pieces would find half the town."""
    words = asked_words(typed)
    joined = "".join(words_in(typed))
    is_code = len(words) > 1 and len(joined) <= CODE_LIMIT and any(one.isdigit() for one in typed)
    return ((joined,), words) if is_code else (words,)


def _vehicle(hits: list[Hit]) -> Vehicle:
    """The owner's name where the vehicle itself was found, else whom its last job was for."""
    first = next((one for one in hits if not one.job), hits[0])
    jobs = tuple(one for one in hits if one.job)
    return Vehicle(first.vehicle, first.plate, first.vin, first.model, first.customer, jobs)
