"""What can be wrong, as values; and the exceptions for promises broken, in one tree.

Expected trouble (a figure missing, a field left empty, a bay too weak) is a `Problem`, gathered and returned together.
Its sentence is in `app/texts.py` under its code. Exceptions are for what should not happen:

    CotterpinError
    ├── CallersFault        the request names what is not there, or asks what it may not
    │   ├── NotFound
    │   ├── NotAllowed
    │   ├── AlreadyThere
    │   └── Refused         carries the problems a use case found
    └── OursToMend          a promise of this house is broken (a chain that does not verify)
        └── NoRoom          bytes could not be kept: the disk is full, or not ours to write on
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: a stable code, the field it concerns, texts for the sentence's blanks."""

    code: str
    field: str = ""
    details: Mapping[str, str | int] = dataclasses.field(default_factory=dict)


class CotterpinError(Exception):
    """Root of everything this house raises."""


class CallersFault(CotterpinError):
    """The request cannot be served as asked."""


class NotFound(CallersFault):
    """No such thing: `kind` and `key` say which."""

    def __init__(self, kind: str, key: str) -> None:
        super().__init__(f"no {kind} {key!r}")
        self.kind = kind
        self.key = key


class NotAllowed(CallersFault):
    """The person's roles do not cover this."""


class Refused(CallersFault):
    """A use case found problems; nothing was changed."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(", ".join(f"{p.field}:{p.code}" for p in problems))
        self.problems = tuple(problems)


class OursToMend(CotterpinError):
    """A promise of this house is broken; a person has to look."""


class TooBusy(OursToMend):
    """What others write has not come to an end in time. Nothing was done; the same can be asked again."""


class NoRoom(OursToMend):
    """Bytes could not be kept: the disk is full, or not ours to write on."""


class AlreadyThere(CallersFault):
    """A record with this id, or another value that has to be unique, exists."""

    def __init__(self, kind: str, key: str) -> None:
        super().__init__(f"{kind} {key!r} is there already")
        self.kind = kind
        self.key = key
