"""What the pages of the spec book receive. A reading that somebody is still to type blind never reaches them."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """A place of a model and axle: where its figure stands, and the figure where this person may see it."""

    link: str
    place: str
    axle: str
    state: str
    state_words: str
    figure: str
    source: str
    waiting: str


@dataclass(frozen=True, slots=True)
class AskedLine:
    link: str
    model: str
    axle: str
    place: str
    state_words: str
    jobs: str


@dataclass(frozen=True, slots=True)
class KindLines:
    """The places of one kind: those with a figure, and those without."""

    key: str
    words: str
    new_at: str
    known: list[PlaceLine]
    others: list[PlaceLine]


@dataclass(frozen=True, slots=True)
class FiguresPage:
    """`undecided` counts sheets that wait for the foreman's word about a corrected figure."""

    asked: list[AskedLine]
    models: list[tuple[str, str, bool]]
    model: str
    new_at: str
    kinds: list[KindLines]
    undecided: int
    said: list[str]
    title: str = field(default_factory=lambda: _("Spec book"))


@dataclass(frozen=True, slots=True)
class Edition:
    """One edition as this person may see it: `figure` and `stages` are empty while it is to be typed blind."""

    number: str
    state: str
    state_words: str
    figure: str
    stages: list[str]
    bolt: str
    source: str
    typed: str
    compared: str
    because: str
    compare_at: str
    withdraw_at: str
    note: str


@dataclass(frozen=True, slots=True)
class PlacePage:
    title: str
    model: str
    axle: str
    model_at: str
    state_words: str
    new_at: str
    new_words: str
    next_at: str
    editions: list[Edition]
    procedures: str
    sheets: list[str]
    said: list[str]


@dataclass(frozen=True, slots=True)
class AmountFields:
    """Which fields the figure of a kind is typed into; all false for a torque, which has fields of its own."""

    window: bool = False
    most: bool = False
    value: bool = False
    tyre: bool = False

    @property
    def is_torque(self) -> bool:
        return not (self.window or self.most or self.value)


@dataclass(frozen=True, slots=True)
class FigureFormPage:
    """The form for a new edition of one kind. `doubt_key` is set when the sums doubt what was typed.

    kinds: address, words and whether chosen; ends: which fields an amount of this kind has.
    """

    kind: str
    kinds: list[tuple[str, str, bool]]
    ends: AmountFields
    models: list[str]
    axles: list[tuple[str, str]]
    places: list[tuple[str, str]]
    units: list[tuple[str, str]]
    conditions: list[tuple[str, str]]
    strengths: list[str]
    doubts: list[str]
    doubt_key: str
    form: FormShown = field(default_factory=FormShown)
    title: str = field(default_factory=lambda: _("Enter a figure"))


@dataclass(frozen=True, slots=True)
class ComparePage:
    """Typing a figure again. `readings` are shown to the foreman alone, when two differ."""

    action: str
    back_at: str
    facts: list[tuple[str, str]]
    units: list[tuple[str, str]]
    refusal: str
    readings: list[tuple[str, str]]
    ends: AmountFields
    form: FormShown = field(default_factory=FormShown)
    title: str = field(default_factory=lambda: _("Type the figure again"))


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A sheet that rests on an edition before: what it has, what is there now, and where to decide."""

    id: str
    job: str
    job_at: str
    what: str
    place_at: str
    before: str
    now: str
    state_words: str
    decided: str
    decide_at: str


@dataclass(frozen=True, slots=True)
class SheetsPage:
    lines: list[SheetLine]
    said: list[str]
    title: str = field(default_factory=lambda: _("Sheets on a corrected figure"))


@dataclass(frozen=True, slots=True)
class SheetPage:
    """One such sheet, to decide about."""

    line: SheetLine
    title: str
    form: FormShown = field(default_factory=FormShown)
