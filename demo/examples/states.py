"""The invented workshop in every state a sheet, My work and the tablet's own pages can be in, at one fixed moment.

Shared by the page of patterns, by the tests that compare both ends, and by the pictures that are kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache, partial
from itertools import count, cycle
from typing import Any

from app.bootstrap import wire
from app.domain.case import Ruling
from app.domain.records import Person
from app.domain.sheet import Sheet
from app.domain.view import view_of
from app.domain.view_parts import Look, Scene, Told
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.storage.photos import MemoryPhotos
from app.use_cases.office import Office
from app.use_cases.see_sheet import SheetFound, see_sheet
from app.use_cases.verify import walk
from app.web.rendering import ASSETS, UNSAVED
from app.web.security import Visitor
from app.web.tablet.sheet import scene_of
from app.web.tablet.work import work_page
from demo.seed import seed

NOW = datetime(2026, 5, 12, 10, 40, tzinfo=UTC)
TOKEN = "t<o>&k'e\"n"


@dataclass(frozen=True)
class Shown:
    """One thing to render at both ends; `where` says in a failure which state it was. scene: what a sheet came from."""

    where: str
    template: str
    context: dict[str, Any]
    scene: Scene | None = None


@lru_cache(maxsize=1)
def workshop() -> Office:
    """Filled once, with ids that count up, so that it is the same each time."""
    wired = wire(Settings(_env_file=None), MemoryStore(), now=lambda: NOW)
    numbers = count(1)
    office = replace(
        wired.office, photos=MemoryPhotos(), new_id=lambda: f"01960000-0000-7000-8000-{next(numbers):012x}"
    )
    seed(office, NOW)
    return office


def everything_shown(office: Office) -> Iterator[Shown]:
    with office.store.reading() as unit:
        people = sorted((one for one in unit.people.all()), key=lambda one: one.id)
        numbers = [job.number for job in unit.jobs.all()]
    for person in people:
        yield from work_shown(office, person)
    turn = cycle(people)
    for number in numbers:
        found = see_sheet(office, number)
        for nth, step in enumerate(found.sheet.packet.steps if found.sheet.packet else ()):
            yield from sheet_shown(office, next(turn), found, Look(step.id), nth)
    yield from replayed(office, turn)
    yield from documents_shown(office, people[0], numbers[0])


def documents_shown(office: Office, person: Person, number: str) -> Iterator[Shown]:
    """Whole pages as the tablet makes them: each kind, signed in and not."""
    frame = {
        "title": "A <page>", "csrf": "", "view": {}, "place": "work",
        "may": {"technician": True, "foreman": False, "desk": True},
        "language": "en",
        "assets": {name: f"/bundle/0/{path}" for name, path in ASSETS.items()},
        "unsaved": {name: f"not {name}" for name in UNSAVED},
    }  # fmt: skip
    told = {"lines": [{"field": "pin", "words": "Not this <PIN>."}, {"field": "", "words": "Wait."}]}
    names = [{"id": "p-1", "name": "Zoë <&>", "roles": "foreman"}, {"id": "p-2", "name": "Ada", "roles": ""}]
    sign_in = {"people": names, "chosen": "p-2", "after": "/work?a=1&b=2", "told": told}
    for people in (names, []):
        page = {**sign_in, "people": people}
        yield Shown("Sign in", "tablet/_document.html", {**frame, "kind": "sign_in", "me": "", "page": page})
    work = asdict(work_page(office, person.id))
    yield Shown("My work", "tablet/_document.html", {**frame, "kind": "work", "me": person.name, "page": work})
    for me in ("", person.name):
        page = {"words": "It's away.", "again": "/floor?day=1&x=2"}
        yield Shown("Away", "tablet/_document.html", {**frame, "kind": "away", "me": me, "page": page})
    scene = scene_at(office, person, see_sheet(office, number), Look(), Told())
    shown = {**frame, "kind": "sheet", "me": person.name, "page": {"topic": ""}, "view": view_of(scene)}
    yield Shown("Sheet", "tablet/_document.html", shown, scene)


def replayed(office: Office, turn: Iterator[Person]) -> Iterator[Shown]:
    """Each sheet after each entry of its ledger, seen by who made the entry or by somebody else in turn."""
    sheets: dict[str, Sheet] = {}
    with office.store.reading() as unit:
        rows = list(walk(unit))
        numbers = [(job.id, job.number) for job in unit.jobs.all()]
        people = {one.id: one for one in unit.people.all()}
    jobs = {job: see_sheet(office, number) for job, number in numbers}
    for place, row in enumerate(rows):
        entry = row.heard.entry
        sheet = office.rules.evolve(
            sheets.get(entry.job) or Sheet(entry.job), row.heard, Ruling(row.accepted, row.reason, row.details)
        )
        sheets[entry.job] = sheet
        found = replace(jobs[entry.job], sheet=sheet)
        moment = datetime.fromtimestamp(row.heard.heard_at_ms // 1_000 + 5, UTC)
        at = replace(office, clock=partial(lambda moment: moment, moment))
        who = people[entry.person] if place % 3 else next(turn)
        look = Look(step=getattr(entry.body, "step", "") if place % 4 > 1 else "")
        yield from sheet_shown(at, who, found, look, place)


def sheet_shown(office: Office, person: Person, found: SheetFound, look: Look, nth: int) -> Iterator[Shown]:
    """A sheet as it is; with a wrench in hand where one can be; with the nth of its forms come back wrong."""
    where = f"job {found.job.number}, {person.name}, {look}"
    scene = scene_at(office, person, found, look, Told())
    view = view_of(scene)
    yield Shown(where, "tablet/_sheet_view.html", {"view": view, "csrf": TOKEN}, scene)
    if not view["ready"] or not view["hand"]["shown"]:
        return
    for fastener in view["hand"]["fasteners"]:
        if fastener["mode"] in ("sign", "second"):
            tag = next((one["tag"] for one in fastener["wrenches"]["fit"]), "W08")
            for extension in ("", "150 mm"):
                held = replace(
                    look, fastener=fastener["anchor"].removeprefix("fastener-"), wrench=tag, extension=extension
                )
                scene = scene_at(office, person, found, held, Told())
                context = {"view": view_of(scene), "csrf": TOKEN}
                yield Shown(f"{where}, {held}", "tablet/_sheet_view.html", context, scene)
    forms = sorted(forms_in(view))
    if forms and nth % 2:
        form = forms[nth % len(forms)]
        scene = scene_at(office, person, found, look, told_wrong(form, view))
        page = {"view": view_of(scene), "job": found.job.id}
        yield Shown(f"{where}, {form} came back", "tablet/_sheet.html", {"page": page, "csrf": TOKEN}, scene)


def scene_at(office: Office, person: Person, found: SheetFound, look: Look, told: Told) -> Scene:
    """As a tablet would have it: some of what is on the sheet is not in the office yet."""
    marked = sorted(mark for mark in marks_in(found.sheet.as_json()) if mark)
    return replace(scene_of(office, Visitor(person, TOKEN), found, look, told), waiting=frozenset(marked[::3]))


def marks_in(state: Any) -> Iterator[str]:
    """The ids of the entries that a state shows."""
    if isinstance(state, dict):
        yield state["entry"] if isinstance(state.get("entry"), str) else ""
    for one in state.values() if isinstance(state, dict) else state if isinstance(state, list) else ():
        yield from marks_in(one)


def forms_in(view: Any) -> Iterator[str]:
    """The key of every form in a view."""
    for one in parts_of(view):
        if "hidden" in one and "key" in one:
            yield one["key"]


def parts_of(view: Any) -> Iterator[dict[str, Any]]:
    if isinstance(view, dict):
        yield view
    for one in view.values() if isinstance(view, dict) else view if isinstance(view, list) else ():
        yield from parts_of(one)


def told_wrong(form: str, view: dict[str, Any]) -> Told:
    """This form came back: every field of it is in trouble and has kept what a person typed, awkward as it may be."""
    names = {one["name"] for one in parts_of(view) if str(one.get("id", "")) == f"{form}-{one.get('name')}"}
    words = "<Müller & Sohn's> “4½” \U0001f529"
    return Told(
        form=form,
        typed=dict.fromkeys(names, words),
        troubles={name: f"{words} is no {name}" for name in names} or {"": words},
        lines=(("", words), *((name, words) for name in sorted(names))),
    )


def work_shown(office: Office, person: Person) -> Iterator[Shown]:
    for unknown in (False, True):
        page = asdict(work_page(office, person.id, "26-<1>" if unknown else "", unknown=unknown))
        yield Shown(f"My work of {person.name}", "tablet/_work.html", {"page": page, "csrf": TOKEN})
    unheard = {"now": [], "next": [], "in_hand": [], "second_looks": [], "asides": [], "unheard": True}
    yield Shown("My work, not heard of yet", "tablet/_work.html", {"page": {**page, **unheard}, "csrf": TOKEN})
