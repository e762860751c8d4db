"""What the Desk's first page and the intake form receive: every time and number already a text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from app.language.speech import _
from app.web.forms import Told
from app.web.pages.desk_vehicles import Choice, FactField, VehicleRow
from app.web.pages.history import EarlierJob
from app.web.pages.photos import PhotoShown


@dataclass(frozen=True, slots=True)
class OpenJobRow:
    """An open job. `mark` is the castle nut that says how far it is; `late` says that the promised time has passed.

    comeback_of: the number of the job whose complaint it is again; "" for none.
    """

    number: str
    plate: str
    vehicle: str
    customer: str
    complaint: str
    stands: str
    progress: str
    held: str
    mark: str
    promised: str
    late: bool
    figures: str
    photos: list[PhotoShown]
    comeback_of: str


@dataclass(frozen=True, slots=True)
class Want:
    """Something that waits for the desk."""

    words: str
    more: str
    link: str


@dataclass(frozen=True, slots=True)
class DeskPage:
    """opened: the number of a job opened just now, else ""."""

    asked: str
    found: list[VehicleRow]
    found_count: int
    opened: str
    jobs: list[OpenJobRow]
    wants: list[Want]
    title: str = field(default_factory=lambda: _("Desk"))


@dataclass(frozen=True, slots=True)
class Tick:
    value: str
    words: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class OptionField:
    """A question of one piece of work. `may_not_apply`: whether it is asked hangs on another answer."""

    name: str
    ask: str
    choices: list[Choice]
    value: str
    may_not_apply: bool


@dataclass(frozen=True, slots=True)
class WorkRow:
    """A piece of work that can be done on an axle."""

    key: str
    title: str
    pairs: bool
    ticks: list[Tick]
    options: list[OptionField]


@dataclass(frozen=True, slots=True)
class NotHere:
    title: str
    why: str


@dataclass(frozen=True, slots=True)
class AxleWork:
    key: str
    title: str
    layout: str
    rows: list[WorkRow]
    not_here: list[NotHere]


@dataclass(frozen=True, slots=True)
class IntakePage:
    """The intake of a known vehicle. `facts` are questions its record has no answer to.

    earlier: its jobs within the shop's days, the last first, one of which this may be a comeback of.
    reminders: what earlier jobs left to be done on it, due or not.
    email: the customer's, "" if there is none.
    """

    vehicle: VehicleRow
    typed: Mapping[str, str]
    told: Told
    facts: list[FactField]
    axles: list[AxleWork]
    warnings: list[str]
    earlier: list[EarlierJob]
    reminders: list[str]
    email: str
    mail_choices: list[Choice]
    title: str


@dataclass(frozen=True, slots=True)
class FindPage:
    """The intake's first question: which vehicle?"""

    asked: str
    rows: list[VehicleRow]
    count: int
    title: str = field(default_factory=lambda: _("Intake"))
