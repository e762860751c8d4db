"""What the page of reminders receives: every day and distance already a text."""

from __future__ import annotations

from dataclasses import dataclass, field

from app.language.speech import _
from app.web.pages.form import FormShown


@dataclass(frozen=True, slots=True)
class ReminderRow:
    """when: when it is due. address: where the form goes that marks it done."""

    id: str
    plate: str
    history: str
    customer: str
    phone: str
    email: str
    kind: str
    what: str
    when: str
    number: str
    address: str


@dataclass(frozen=True, slots=True)
class RemindersPage:
    """wrong: the id of the reminder whose form came back, with what was typed and what is wrong in `form`."""

    due: list[ReminderRow]
    near: list[ReminderRow]
    later: list[ReminderRow]
    said: list[str]
    wrong: str
    form: FormShown
    title: str = field(default_factory=lambda: _("Reminders"))
