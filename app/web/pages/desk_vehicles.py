"""What the templates of vehicles and customers receive: every amount and time already a text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from app.language.speech import _
from app.web.forms import Told


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    words: str


def mail_choices() -> list[Choice]:
    """What a customer can say of letters by mail."""
    return [Choice("yes", _("Yes, the customer said so")), Choice("no", _("No: print them"))]


@dataclass(frozen=True, slots=True)
class FactField:
    """A question about an axle, by the name of its field (`front.joint_fixing`)."""

    name: str
    ask: str
    choices: list[Choice]


@dataclass(frozen=True, slots=True)
class AxleFields:
    """An axle's part of the form. `places` only for an air spring; `coil` whether its coil's figures are asked."""

    key: str
    layouts: list[Choice]
    places: list[Choice]
    facts: list[FactField]
    coil: bool


@dataclass(frozen=True, slots=True)
class JobOfVehicle:
    number: str
    opened: str
    complaint: str
    state: str
    odometer: str


@dataclass(frozen=True, slots=True)
class VehicleRow:
    id: str
    plate: str
    words: str
    customer: str
    open_jobs: list[str]


@dataclass(frozen=True, slots=True)
class VehiclesPage:
    asked: str
    rows: list[VehicleRow]
    count: int
    title: str = field(default_factory=lambda: _("Vehicles"))


@dataclass(frozen=True, slots=True)
class VehiclePage:
    """A vehicle's form, and beside it what its number and tyres say and what was done on it."""

    title: str
    action: str
    is_new: bool
    saved: bool
    typed: Mapping[str, str]
    told: Told
    axles: list[AxleFields]
    customers: list[Choice]
    models: list[str]
    number_says: list[str]
    tyres: list[str]
    open_jobs: list[str]
    history: list[JobOfVehicle]
    intake: str


@dataclass(frozen=True, slots=True)
class AxlePart:
    """The questions of one axle, on their own."""

    axle: AxleFields
    typed: Mapping[str, str]
    told: Told
    title: str = ""


@dataclass(frozen=True, slots=True)
class CustomerRow:
    id: str
    name: str
    email: str
    phone: str
    vehicles: str


@dataclass(frozen=True, slots=True)
class CustomersPage:
    asked: str
    rows: list[CustomerRow]
    count: int
    title: str = field(default_factory=lambda: _("Customers"))


@dataclass(frozen=True, slots=True)
class CustomerPage:
    title: str
    action: str
    is_new: bool
    saved: bool
    typed: Mapping[str, str]
    told: Told
    languages: list[Choice]
    mail_choices: list[Choice]
    vehicles: list[VehicleRow]
    add_vehicle: str
