"""What the pages of the tool crib receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ToolLine:
    link: str
    tag: str
    name: str
    reach: str
    due: str
    state: str


@dataclass(frozen=True, slots=True)
class ToolGroup:
    kind: str
    words: str
    tools: list[ToolLine]


@dataclass(frozen=True, slots=True)
class ToolsPage:
    groups: list[ToolGroup]
    said: list[str]
    title: str = "Tools"


@dataclass(frozen=True, slots=True)
class ToolPage:
    """One tool, or an empty form for a new one of a kind. `fault` is why it is out of use."""

    title: str
    action: str
    is_new: bool
    kind: str
    kind_words: str
    units: list[tuple[str, str]]
    bases: list[tuple[str, str]]
    fault: str = ""
    form: FormShown = field(default_factory=FormShown)
    fault_form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
