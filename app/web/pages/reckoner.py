"""What the templates of the Reckoner receive: everything already a text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from app.language.speech import _
from app.web.forms import Told


@dataclass(frozen=True, slots=True)
class SumLink:
    title: str
    asks: str
    link: str


@dataclass(frozen=True, slots=True)
class SumGroup:
    title: str
    sums: list[SumLink]


@dataclass(frozen=True, slots=True)
class ReckonerPage:
    groups: list[SumGroup]
    title: str = field(default_factory=lambda: _("Reckoner"))


@dataclass(frozen=True, slots=True)
class Option:
    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class FieldShown:
    """One field. `kind`: amount, word, lines, pick or day. The names of `tablet/_number_field.html` where it is one."""

    kind: str
    id: str
    name: str
    label: str
    hint: str
    trouble: str
    typed: str
    unit: str = ""
    units: str = ""
    longest: int = 64
    options: tuple[Option, ...] = ()


@dataclass(frozen=True, slots=True)
class RowShown:
    words: str
    fields: list[FieldShown]


@dataclass(frozen=True, slots=True)
class Block:
    """A field, or rows of them under one heading. `open_rows`: shown without unfolding."""

    field: FieldShown | None = None
    heading: str = ""
    hint: str = ""
    open_rows: tuple[RowShown, ...] = ()
    more_rows: tuple[RowShown, ...] = ()


@dataclass(frozen=True, slots=True)
class LineShown:
    label: str
    text: str
    note: str


@dataclass(frozen=True, slots=True)
class SumPage:
    title: str
    asks: str
    slug: str
    is_posted: bool
    blocks: list[Block]
    told: Told
    lines: list[LineShown]
    said: list[str]
    assumed: list[str]
    inputs_read: list[LineShown]
    cautions: tuple[str, ...]
    danger: str
    formula: tuple[str, ...]
    valid: str
    sources: tuple[str, ...]
    picture: str
    drawing: Mapping[str, str | int]
    shims: Mapping[str, Any] | None
    example_link: str
    example_inputs: list[LineShown]
    example_figure: str
    example_source: str
    speak: str
    link: str
