"""The promise of `templates/tablet`: both ends render the same bytes.

The subset is defined once, in `app/bundle/compile.py`. Here: that our partials keep to it, that what is outside it is
told with file and line, and that every real partial gives equal bytes from Jinja2 and from JavaScript, on the sheets of
the invented workshop after every entry of their ledgers, for every step and for people of every role.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache, partial
from itertools import cycle
from pathlib import Path
from typing import Any

import pytest
from jinja2 import DictLoader, Environment, Template

from app.bootstrap import wire
from app.bundle.compile import NotInSubset, compile_all, compile_one, compile_templates, names_in
from app.domain.case import Ruling
from app.domain.records import Person
from app.domain.sheet import Sheet
from app.domain.view import view_of
from app.domain.view_parts import Look, Scene, Told
from app.language.templates import SpeakingEnvironment
from app.settings import Settings
from app.storage.memory import MemoryStore
from app.storage.photos import MemoryPhotos
from app.use_cases.office import Office
from app.use_cases.see_sheet import SheetFound, see_sheet
from app.use_cases.verify import walk
from app.web.rendering import ASSETS, TEMPLATES, UNSAVED, environment
from app.web.security import Visitor
from app.web.tablet.sheet import scene_of
from app.web.tablet.work import work_page
from demo.seed import seed
from tests.tablet_js import Templates

NOW = datetime(2026, 5, 12, 10, 40, tzinfo=UTC)
NAMES = tuple(names_in(environment(), "tablet"))
TOKEN = "t<o>&k'e\"n"


# --- The subset ---------------------------------------------------------------------------------------------------


def test_our_partials_keep_to_what_both_ends_render_alike():
    done, wrong = compile_all(environment(), NAMES)

    assert [str(one) for one in wrong] == []
    assert {"tablet/_sheet_view.html", "tablet/_fastener.html", "tablet/_gate.html"} <= set(done)


def test_a_tablet_partial_includes_only_tablet_partials_and_symbols():
    """What the tablet carries is closed: every include is there too, and none of it is the office's."""
    done, _ = compile_all(environment(), NAMES)

    frame = {"_frame_top.html", "_frame_end.html", "_top_bar.html", "_told.html"}
    others = {name for name in done if not name.startswith(("tablet/", "symbols/", "drawings/"))}
    assert others == frame


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("{{ a|upper }}", "`|upper`"),
        ("{{ a|safe }}", "`|safe`"),
        ("{{ a|length(1) }}", "`|length`"),
        ("{% filter upper %}a{% endfilter %}", "FilterBlock"),
        ("{{ a.items }}", "`.items`"),
        ("{{ a.count }}", "`.count`"),
        ("{{ a.title }}", "`.title`"),
        ("{{ a[0] }}", "Getitem"),
        ("{{ a['b'] }}", "Getitem"),
        ("{{ a[1:] }}", "Getitem"),
        ("{{ a() }}", "Call"),
        ("{{ a.b() }}", "Call"),
        ("{{ 1.5 }}", "constant 1.5"),
        ("{{ none }}", "constant None"),
        ("{{ 9007199254740992 }}", "constant 9007199254740992"),
        ("{{ -1 }}", "Neg"),
        ("{{ [a] }}", "List"),
        ("{{ (a, b) }}", "Tuple"),
        ("{{ {'a': b} }}", "Dict"),
        ("{{ a ~ b }}", "Concat"),
        ("{{ a + 1 }}", "Add"),
        ("{{ 'x' if a else 'y' }}", "CondExpr"),
        ("{% if 1 < a < 3 %}{% endif %}", "one comparison"),
        ("{% if a < 3 %}{% endif %}", "one comparison"),
        ("{% if a == b == c %}{% endif %}", "one comparison"),
        ("{% if a is defined %}{% endif %}", "Test"),
        ("{% for x in a %}{% set y = x %}{% endfor %}", "`set` stands"),
        ("{% if a %}{% set y = a %}{% endif %}", "`set` stands"),
        ("{% with b = a %}{% set y = b %}{% endwith %}", "`set` stands"),
        ("{{ y }}{% set y = a %}", "`set y`"),
        ("{% set y = y %}", "`set y`"),
        ("{% for y in a %}{% endfor %}{% set y = a %}", "`set y`"),
        ("{% set y %}a{% endset %}", "AssignBlock"),
        ("{% set a.b = 1 %}", "one plain name"),
        ("{% set a, b = c %}", "one plain name"),
        ("{% for x in a if x %}{% endfor %}", "a loop has neither"),
        ("{% for x in a recursive %}{% endfor %}", "a loop has neither"),
        ("{% for x, y in a %}{% endfor %}", "one plain name"),
        ("{{ loop.index }}", "`loop` is read"),
        ("{% for x in a %}{{ loop.cycle }}{% endfor %}", "`loop.cycle`"),
        ("{% for x in a %}{{ loop }}{% endfor %}", "`loop` has a meaning"),
        ("{% for x in a %}{% with loop = x %}{% endwith %}{% endfor %}", "`loop` has a meaning"),
        ("{% for x in a %}{% else %}{{ loop.index }}{% endfor %}", "`loop` is read"),
        ("{{ range }}", "`range` has a meaning"),
        ("{{ self }}", "`self` has a meaning"),
        ("{% with dict = a %}{% endwith %}", "`dict` has a meaning"),
        ("{{ _a }}", "plain letters"),
        ("{{ größe }}", "plain letters"),
        ("{% extends 'base.html' %}", "Extends"),
        ("{% block a %}{% endblock %}", "Block"),
        ("{% include a %}", "`include` names one"),
        ("{% include ['a.html', 'b.html'] %}", "`include` names one"),
        ("{% include 'a.html' ignore missing %}", "`include` has neither"),
        ("{% include 'a.html' without context %}", "`include` has neither"),
        ("{% import 'a.html' as a %}", "Import"),
        ("{% from 'a.html' import b %}", "FromImport"),
        ("{% macro m() %}{% endmacro %}", "Macro"),
        ("{% call a() %}{% endcall %}", "CallBlock"),
        ("{% autoescape false %}{% endautoescape %}", "ScopedEvalContextModifier"),
        ("{% if a %}", "Unexpected end of template"),
        ("{{ a| }}", "expected token"),
        ("{% frob %}", "Encountered unknown tag"),
    ],
)  # fmt: skip
def test_what_is_not_in_the_subset_is_told_with_file_and_line(source, words):
    """Two lines of something allowed stand before it, so that a line that is always 1 would be found."""
    found = compile_one(environment(), "tablet/probe.html", f"<p>\n{{{{ b.c }}}}</p>\n{source}").breaches

    assert any(str(one).startswith("templates/tablet/probe.html:3: ") and words in one.words for one in found), found


def test_a_template_that_is_not_escaped_is_refused():
    (found,) = compile_one(environment(), "tablet/probe.txt", "plain").breaches

    assert str(found).startswith("templates/tablet/probe.txt:1: is not escaped")


def test_an_include_of_what_is_not_there_is_told_where_it_stands():
    with pytest.raises(NotInSubset) as told:
        compile_templates(of({"a.html": "\n\n{% include 'gone.html' %}"}), ["a.html"])

    assert str(told.value) == "templates/a.html:3: includes gone.html, which is not there"


def test_every_breach_of_every_template_is_told_at_once():
    with pytest.raises(NotInSubset) as told:
        compile_templates(
            of({"a.html": "{{ x|e }}\n{{ 1.5 }}{% include 'b.html' %}", "b.html": "{{ y[0] }}"}), ["a.html"]
        )

    assert [str(one).rsplit(":", 1)[0].split(": ")[0] for one in told.value.breaches] == [
        "templates/a.html:1", "templates/a.html:2", "templates/b.html:1",
    ]  # fmt: skip


def test_a_comment_on_top_says_what_a_partial_reads():
    """House rule: a partial lists its variables in a comment on top."""
    texts = {name: Path(TEMPLATES / name).read_text("utf-8") for name in NAMES}

    assert [
        name for name, text in texts.items() if not text.startswith("{#") or "Reads" not in text.split("#}")[0]
    ] == []


def of(templates: dict[str, str]) -> Environment:
    """The product's own environment, on these templates."""
    return environment().overlay(loader=DictLoader(templates), cache_size=0)


# --- Equal bytes --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shown:
    """One thing to render at both ends; `where` says in a failure which state it was. scene: what a sheet came from."""

    where: str
    template: str
    context: dict[str, Any]
    scene: Scene | None = None


@lru_cache(maxsize=1)
def workshop() -> Office:
    wired = wire(Settings(_env_file=None), MemoryStore(), now=lambda: NOW)  # type: ignore[call-arg]
    office = replace(wired.office, photos=MemoryPhotos())
    seed(office, NOW)
    return office


def test_every_partial_gives_equal_bytes_in_every_state_of_the_invented_workshop():
    rendered: set[str] = set()
    office_end, tablet_end = recording(rendered), Templates(compile_templates(environment(), NAMES))
    states = 0
    for shown in everything_shown(workshop()):
        states += 1
        here = office_end.get_template(shown.template).render(shown.context)
        assert tablet_end.render(shown.template, shown.context) == here, shown.where

    assert states > 1_000
    assert set(NAMES) - rendered == set(), "partials that no state shows"


def recording(rendered: set[str]) -> Environment:
    """The product's environment, noting each template it renders, included ones too."""

    class Recording(SpeakingEnvironment):
        def get_template(self, name: Any, *more: Any, **named: Any) -> Template:
            rendered.add(str(name))
            return super().get_template(name, *more, **named)

    made = environment().overlay(cache_size=-1)
    made.__class__ = Recording
    return made


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
    work = asdict(work_page(office, Visitor(person, TOKEN)))
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
