"""A form as its template sees it: what stands in each field, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from app.domain.problems import Problem
from app.web.forms import Form, Told, told

NEVER_SHOWN_AGAIN = frozenset({"csrf", "pin", "pin_again"})


@dataclass(frozen=True, slots=True)
class FormShown:
    values: Mapping[str, str] = field(default_factory=dict)
    told: Told = field(default_factory=Told)

    def value(self, name: str) -> str:
        return self.values.get(name, "")

    def trouble(self, name: str) -> str:
        return self.told.by_field.get(name, "")


def sent_back(form: Form, problems: Iterable[Problem]) -> FormShown:
    """The form with everything typed kept, but for PINs, and the problems beside their fields."""
    kept = {name: text for name, text in form.kept().items() if name not in NEVER_SHOWN_AGAIN}
    return FormShown(kept, told(problems))
