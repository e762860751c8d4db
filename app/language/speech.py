"""The language that is spoken while something is answered, and `_`, which says a text in it.

`_("Kept.")` is looked up when it runs; blanks are named: `_("Job {number}", number=job.number)`. `N_` marks a text that
is put down in one place and said in another. What is stored, hashed or sent to a machine is not said through here.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from app.language.catalogue import ENGLISH, LANGUAGES, translated


class _Spoken:
    """Holds a language, so that who is found out to be asking can still change it for the whole of an answer."""

    def __init__(self, language: str) -> None:
        self.language = language


_SPOKEN: ContextVar[_Spoken] = ContextVar("spoken", default=_Spoken(ENGLISH))  # noqa: B039 - never changed itself


def spoken() -> str:
    """The language of whoever is being answered; English where nobody has said."""
    return _SPOKEN.get().language


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Speak a language for a while; one that is not here is English."""
    token = _SPOKEN.set(_Spoken(known(language)))
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def speak(language: str) -> None:
    """From here on, in what is being answered under `speaking`. Outside of that nothing changes."""
    now = _SPOKEN.get()
    if now is not _OUTSIDE:
        now.language = known(language)


_OUTSIDE = _SPOKEN.get()


def known(language: str) -> str:
    return language if language in LANGUAGES else ENGLISH


def _(text: str, **blanks: object) -> str:
    """A text in the spoken language with its blanks filled."""
    said = translated(text, spoken())
    return said.format_map(blanks) if blanks else said


def N_(text: str) -> str:
    """Mark a text for the catalogue. It is said later, by `_`."""
    return text
