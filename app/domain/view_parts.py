"""What the view of a sheet is made with: who looks, at what, how it speaks, and the small parts every form is built of.

The tablet builds the same view, so everything here is text, whole numbers, yes and no, lists and text-keyed objects.
No key is named like something every list, text or object has of its own (`items`, `count`, `title` …), so that a
template means the same at both ends.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias
from urllib.parse import quote

from app.domain.rule_table import RuleTable
from app.domain.sheet import Mark, Sheet, in_order
from app.trade.problems import TradeProblem
from app.trade.quantity import Dimension, Quantity
from app.trade.units import show

View: TypeAlias = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Viewer:
    """The person at this screen."""

    person: str
    name: str
    roles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Voice:
    """How a view speaks. The sentences are the house's (`app/texts.py`), the time of day is the shop's.

    say:    the sentence for a reason and its details. word: a short word by its key, "support.on_wheels".
    when:   an instant as a person reads it. new_id: an id for an entry that a form may become.
    """

    say: Callable[[str, Mapping[str, str | int]], str]
    word: Callable[[str], str]
    when: Callable[[int], str]
    new_id: Callable[[], str]


@dataclass(frozen=True, slots=True)
class About:
    """What is said of a sheet that its packet does not hold.

    people: (id, name) of those it can go to. photos_missing: photos on it whose bytes are not here yet, by hash;
    photos_refused: those of them that never will be. closed: the job is not open any more.
    """

    complaint: str = ""
    promised: str = ""
    saved: str = ""
    people: tuple[tuple[str, str], ...] = ()
    photos_missing: tuple[str, ...] = ()
    photos_refused: tuple[str, ...] = ()
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Look:
    """What the person asked to see: a step, a fastener in it, the wrench in hand with what is put on it (as typed).

    seen: the last own acts, by entry, after which the line about a break was put away; blanks between them.
    """

    step: str = ""
    fastener: str = ""
    wrench: str = ""
    extension: str = ""
    angle: str = ""
    seen: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Told:
    """What is said about the form that was just sent. `typed` and `troubles` are by field name and belong to `form`.

    lines: (field name or "", sentence). recorded: the answer was accepted, so the focus goes on to the next thing.
    """

    form: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    troubles: Mapping[str, str] = field(default_factory=dict)
    lines: tuple[tuple[str, str], ...] = ()
    recorded: bool = False


@dataclass(frozen=True)
class Scene:
    """Everything a view is made from, handed from part to part.

    waiting: ids of the entries that are on this tablet only; none where the office itself shows the sheet.
    """

    sheet: Sheet
    viewer: Viewer
    now_ms: int
    table: RuleTable
    voice: Voice
    about: About = About()
    look: Look = Look()
    told: Told = Told()
    waiting: frozenset[str] = frozenset()

    @property
    def address(self) -> str:
        number = self.sheet.packet.number if self.sheet.packet else ""
        return f"/jobs/{encoded(number)}/sheet"

    def may(self, kind: str) -> bool:
        """Whether this person's roles cover such an entry, and the sheet still takes any."""
        takes = self.sheet.handed_back is None or kind in self.table.after_handback
        return takes and bool(set(self.table.kinds[kind].roles) & set(self.viewer.roles))

    def word(self, group: str, key: str) -> str:
        return self.voice.word(f"{group}.{key}")

    def step_address(self, step: str, **more: str) -> str:
        """Where a step, and perhaps something in it, can be looked at."""
        parts = {"step": step, **more}
        asked = "&".join(f"{name}={encoded(text)}" for name, text in parts.items() if text)
        return f"{self.address}?{asked}"


def encoded(text: str) -> str:
    """Text for an address, the way browsers encode a part of one."""
    return quote(text, safe="!'()*~")


def amount(dimension: str, value: int, unit: str) -> str:
    """A value as a person reads it, in this unit, or in the usual one if the unit is of no use here."""
    kind = Dimension(dimension)
    try:
        return show(Quantity(kind, value), unit or None)
    except TradeProblem:
        return show(Quantity(kind, value))


def where_of(scene: Scene, entry: str) -> str:
    """Where an entry is, in words: nothing for what the office has."""
    return scene.word("where", "tablet") if entry in scene.waiting else ""


def mark_view(scene: Scene, mark: Mark | None) -> View:
    if mark is None:
        return {"shown": False, "name": "", "at": "", "where": ""}
    return {
        "shown": True,
        "name": mark.name,
        "at": scene.voice.when(mark.at_ms),
        "where": where_of(scene, mark.entry),
    }


def form_view(scene: Scene, key: str, kind: str, hidden: Sequence[tuple[str, str | int]] = ()) -> View:
    """A form that becomes an entry: its id, what was seen when it was made, and whatever it is about.

    No field is called `form` or `id`: in a browser such a field hides the form's own property of that name.
    """
    basis: list[tuple[str, str | int]] = [
        ("sheet_form", key),
        ("kind", kind),
        ("entry", scene.voice.new_id()),
        ("basis_packet", scene.sheet.packet.hash if scene.sheet.packet else ""),
        ("basis_support", scene.sheet.support.revision),
        ("basis_holds", " ".join(hold for hold, _ in in_order(scene.sheet.holds))),
        *hidden,
    ]
    return {
        "key": key,
        "hidden": [{"name": name, "value": str(value)} for name, value in basis],
    }


def field_view(
    scene: Scene,
    form: str,
    name: str,
    label: str,
    *,
    hint: str = "",
    unit: str = "",
    units: Sequence[str] = (),
    typed: str = "",
) -> View:
    """A field of a form, with what was typed into it if this form was the one just sent."""
    mine = scene.told.form == form
    return {
        "id": field_id(form, name),
        "name": name,
        "label": label,
        "hint": hint,
        "unit": unit,
        "units": "|".join(units),
        "typed": scene.told.typed.get(name, typed) if mine else typed,
        "trouble": scene.told.troubles.get(name, "") if mine else "",
    }


def choice_view(scene: Scene, form: str, name: str, label: str, options: Sequence[tuple[str, str]]) -> View:
    """A question with a closed set of answers. Nothing is chosen unless this form was just sent with it."""
    chosen = scene.told.typed.get(name, "") if scene.told.form == form else ""
    return {
        "id": field_id(form, name),
        "name": name,
        "label": label,
        "options": [
            {"id": f"{field_id(form, name)}-{key}", "value": key, "words": words, "chosen": key == chosen}
            for key, words in options
        ],
        "trouble": scene.told.troubles.get(name, "") if scene.told.form == form else "",
    }


def field_id(form: str, name: str) -> str:
    return f"{form}-{name}"
