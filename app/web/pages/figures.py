"""What the pages of torque figures receive. A reading that somebody is still to type blind never reaches them."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """A joint of a model and axle: where its figure stands, and the figure where this person may see it."""

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
class FiguresPage:
    asked: list[AskedLine]
    models: list[tuple[str, str, bool]]
    model: str
    new_at: str
    known: list[PlaceLine]
    others: list[PlaceLine]
    said: list[str]
    title: str = "Figures"


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
    editions: list[Edition]
    procedures: str
    said: list[str]


@dataclass(frozen=True, slots=True)
class FigureFormPage:
    """The form for a new edition. `doubt_key` is set when the sums doubt what was typed."""

    models: list[str]
    axles: list[tuple[str, str]]
    places: list[tuple[str, str]]
    units: list[tuple[str, str]]
    conditions: list[tuple[str, str]]
    strengths: list[str]
    doubts: list[str]
    doubt_key: str
    form: FormShown = field(default_factory=FormShown)
    title: str = "Enter a figure"


@dataclass(frozen=True, slots=True)
class ComparePage:
    """Typing a figure again. `readings` are shown to the foreman alone, when two differ."""

    action: str
    back_at: str
    facts: list[tuple[str, str]]
    units: list[tuple[str, str]]
    refusal: str
    readings: list[tuple[str, str]]
    form: FormShown = field(default_factory=FormShown)
    title: str = "Type the figure again"
