"""Reading what a form sent: bounded, decoded, checked for forgery; and giving problems back beside their fields."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool

from app.domain.problems import Problem
from app.texts import say
from app.web.security import SignInWanted, Visitor, check_csrf, visitor_or_none

FORM_LIMIT = 256 * 1024
FIELD_LIMIT = 20_000
# Of a request with a file so much is read at all, so that a photo out of any camera is told its size in a sentence,
# beside what was typed. It goes to a file on the way, not to memory.
READ_LIMIT = 100 * 1024 * 1024


class FormTooLarge(Exception):
    """More came than any form of ours can hold."""


@dataclass(frozen=True, slots=True)
class Form:
    """What was typed, as text, in the order it came. Missing fields read as empty text."""

    values: Mapping[str, tuple[str, ...]]

    def text(self, name: str) -> str:
        got = self.values.get(name, ())
        return got[-1].strip() if got else ""

    def texts(self, name: str) -> tuple[str, ...]:
        return tuple(value.strip() for value in self.values.get(name, ()))

    def kept(self) -> dict[str, str]:
        """Everything typed, for showing it again."""
        return {name: got[-1] for name, got in self.values.items() if got and name not in ("csrf", "pin")}


@dataclass(frozen=True, slots=True)
class Told:
    """Problems as a page shows them: a summary on top that links to each field, and each beside its field."""

    problems: tuple[Problem, ...] = ()
    by_field: Mapping[str, str] = field(default_factory=dict)

    @property
    def lines(self) -> list[dict[str, str]]:
        return [{"field": problem.field, "words": say(problem)} for problem in self.problems]


def told(problems: Iterable[Problem]) -> Told:
    kept = tuple(problems)
    return Told(kept, {problem.field: say(problem) for problem in reversed(kept)})


async def read_form(request: Request, visitor: Visitor | None) -> Form:
    """Read a posted form.

    Raises: FormTooLarge; FormForged when a visitor is given and the form lacks the visitor's token.
    """
    length = request.headers.get("content-length", "0")
    if not length.isdigit() or int(length) > FORM_LIMIT:
        raise FormTooLarge
    data = await request.form(max_files=0, max_fields=2_000)
    values: dict[str, list[str]] = {}
    for name, value in data.multi_items():
        if not isinstance(value, str) or len(value) > FIELD_LIMIT:
            raise FormTooLarge
        values.setdefault(name, []).append(clean(value))
    form = Form({name: tuple(got) for name, got in values.items()})
    if visitor is not None:
        check_csrf(visitor, form.text("csrf") or request.headers.get("x-csrf", ""))
    return form


@dataclass(frozen=True, slots=True)
class Upload:
    """One file as it was sent, by its field's name in the form; `too_large` = its bytes were not taken."""

    name: str
    data: bytes
    too_large: bool = False


@dataclass(frozen=True, slots=True)
class FormWithFile:
    form: Form
    file: Upload | None


async def read_form_with_file(request: Request, visitor: Visitor, field_name: str, limit: int) -> FormWithFile:
    """Read a posted form that may carry one file of so many bytes. A larger one is left, and what was typed is kept.

    Raises: FormTooLarge for a request no such form can be (the browser says how long it is); FormForged.
    """
    length = request.headers.get("content-length", "")
    if not length.isdigit() or int(length) > READ_LIMIT:
        raise FormTooLarge
    data = await request.form(max_files=1, max_fields=2_000)
    values: dict[str, list[str]] = {}
    file = None
    for name, value in data.multi_items():
        if isinstance(value, str):
            if len(value) > FIELD_LIMIT:
                raise FormTooLarge
            values.setdefault(name, []).append(clean(value))
        elif name == field_name and value.filename:
            got = await value.read(limit + 1)
            too_large = len(got) > limit
            file = Upload(clean(value.filename)[-200:], b"" if too_large else got, too_large)
    form = Form({name: tuple(got) for name, got in values.items()})
    check_csrf(visitor, form.text("csrf"))
    return FormWithFile(form, file)


async def the_form(request: Request) -> Form:
    """A dependency: the posted form of whoever is signed in. Name it after the visitor, so that roles come first.

    Raises: SignInWanted; as `read_form`.
    """
    visitor = await run_in_threadpool(visitor_or_none, request)
    if visitor is None:
        raise SignInWanted
    return await read_form(request, visitor)


TheForm = Annotated[Form, Depends(the_form)]


def clean(value: str) -> str:
    """Text without what no keyboard types: NULs and lone surrogates, which no store or letter can carry; and what turns
    the direction of all that follows (Unicode annex 9, explicit embeddings, overrides and isolates), which address
    books put around numbers and which would put the rest of a page or letter in another order. Marks and joiners that
    belong to scripts stay."""
    return "".join(ch for ch in value.replace("\r\n", "\n") if not _never_typed(ch))


def _never_typed(ch: str) -> bool:
    return ch == "\0" or "\ud800" <= ch <= "\udfff" or "\u202a" <= ch <= "\u202e" or "\u2066" <= ch <= "\u2069"


def read_date(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def read_local_time(text: str, zone: ZoneInfo, now: datetime | None = None) -> datetime | None:
    """A `datetime-local` field in the shop's own time, as a UTC instant.

    In the hour that an autumn night has twice it is the first time; the second once that has come, by `now`.
    """
    try:
        typed = datetime.fromisoformat(text).replace(tzinfo=zone)
        first, second = (typed.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    except (ValueError, OverflowError):
        return None
    return second if now is not None and first < second <= now else first
