"""What the pages of the tool crib receive."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.desk.tool_story import ToolStory
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
    title: str = field(default_factory=lambda: _("Tools"))


@dataclass(frozen=True, slots=True)
class ToolPage:
    """One tool, or an empty form for a new one of a kind. `fault` is why it is out of use.

    types: the wrench's types by ISO 6789, or the compressor's kinds. story: what is known of it, not for a new one.
    """

    title: str
    action: str
    is_new: bool
    kind: str
    kind_words: str
    units: list[tuple[str, str]]
    bases: list[tuple[str, str]]
    types: list[tuple[str, str]]
    fault: str = ""
    form: FormShown = field(default_factory=FormShown)
    fault_form: FormShown = field(default_factory=FormShown)
    said: list[str] = field(default_factory=list)
    story: ToolStory = field(default_factory=ToolStory)


@dataclass(frozen=True, slots=True)
class CalibrationPage:
    """An empty certificate, or one sent back. `rows`: the numbers of its lines of readings."""

    title: str
    action: str
    back: str
    tag: str
    unit: str
    allowed: str
    rows: list[int]
    form: FormShown


@dataclass(frozen=True, slots=True)
class LabelShown:
    """A label to print: the tag as a picture (SVG) and in words. `address` is what the picture holds."""

    tag: str
    name: str
    kind: str
    address: str
    picture: str


@dataclass(frozen=True, slots=True)
class LabelsPage:
    labels: list[LabelShown]
    chosen: list[str]
    all_tags: list[tuple[str, str]]
    title: str = field(default_factory=lambda: _("Labels"))


@dataclass(frozen=True, slots=True)
class CribLine:
    link: str
    tag: str
    name: str
    state: str
    holder: str


@dataclass(frozen=True, slots=True)
class CribPage:
    """What anybody sees of the crib: who has what."""

    tools: list[CribLine]
    mine: list[CribLine]
    form: FormShown
    said: str = ""
    title: str = field(default_factory=lambda: _("Tools"))


@dataclass(frozen=True, slots=True)
class HeldToolPage:
    """A tool in the hand of whoever scanned its label."""

    title: str
    tag: str
    name: str
    kind: str
    reach: str
    state: str
    due: str
    holder: str
    mine: bool
    instead: list[str]
    is_wrench: bool
    unit: str
    address: str
    mishaps: list[tuple[str, str]]
    form: FormShown
    said: str = ""
    desk_link: str = ""
