"""Texts of procedures, gates and layouts in a language: looked up by the English a packet holds.

A packet's text may be one of the files' with its blanks filled: then the translation of that text gets the same
blanks, each said in its turn. What the catalogue does not know any more, as of an old packet, is shown in English.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from app.language.catalogue import ENGLISH, PROCEDURES, texts_in, translated
from app.language.speech import spoken

_BLANK = re.compile(r"\{(\w+)\}")
# Blanks that hold an amount: nothing else is taken for one.
_AMOUNTS = frozenset((
    "energy", "figure", "force", "free", "inboard", "installed", "least", "mass", "most", "percent", "rate", "rating",
    "spread", "wheelbase", "retorque_km", "further",
))  # fmt: skip
# Blanks that hold what people typed, or a text that may be known no more: said as far as it is known.
_OPEN = frozenset(("before", "fault", "fitted", "point", "source", "tag", "tags", "tool", "tyre"))
_AMOUNT = re.compile(r"[−+-]?\d")
_WORD = re.compile(r"[^\W\d_]{3}")
_PAUSE = re.compile(r"[:,.] ")
_LONGEST_ROW = 200
_DAY = re.compile(r"(\d{1,2}) (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (\d{4})")


def said(text: str) -> str:
    """A text of procedures in the spoken language."""
    return said_in(text, spoken())


def said_in(text: str, language: str) -> str:
    """A text of procedures in a language; as it is where that language has no words for it."""
    if language == ENGLISH or not text:
        return text
    return _found(text, language) or text


def said_as_far(text: str) -> str:
    """A text that begins with one or more of procedures' and ends with what people typed, such as a reminder's."""
    language = spoken()
    if language == ENGLISH:
        return text
    for cut in sorted({found.start() for found in _PAUSE.finditer(text)} | {len(text)}, reverse=True):
        words = _found(text[:cut], language) if cut else ""
        if words:
            return f"{words}{text[cut : cut + 2]}{said_as_far(text[cut + 2 :])}"
    return text


@lru_cache(maxsize=32_768)
def _found(text: str, language: str) -> str:
    """The translation, "" where there is none."""
    known = texts_in(language, PROCEDURES)
    if text in known:
        return known[text]
    day = _DAY.fullmatch(text)
    if day is not None:
        return f"{day[1]} {translated(day[2], language)} {day[3]}"
    for one in _patterns(language):
        filled = one.fill(text, language)
        if filled:
            return filled
    # A layout's name within a sentence begins small.
    begun = text[0].upper() + text[1:]
    if begun != text and begun in known:
        return known[begun][0].lower() + known[begun][1:]
    return _in_a_row(text, language)


def _in_a_row(text: str, language: str) -> str:
    """Two texts with a comma between them, as "{checked_word}, {where_word}" puts them: only where both are known."""
    parts = text.split(", ") if len(text) <= _LONGEST_ROW else []
    for place in range(1, len(parts)):
        one, other = _found(", ".join(parts[:place]), language), _found(", ".join(parts[place:]), language)
        if one and other:
            return f"{one}, {other}"
    return ""


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A text with blanks: its own pieces and the names of its blanks by turns, and its translation."""

    pieces: tuple[str, ...]
    longest: str
    said: str

    def fill(self, text: str, language: str) -> str:
        for found in _ways(self.pieces, text) if self.longest in text else ():
            said = {name: _blank(name, value, language) for name, value in found.items()}
            if None not in said.values():
                return self.said.format_map(said)
        return ""


def _ways(pieces: tuple[str, ...], text: str) -> Iterator[dict[str, str]]:
    """Every way in which a text is these pieces with something in the blanks between them."""
    if not text.startswith(pieces[0]):
        return
    rest = text[len(pieces[0]) :]
    if len(pieces) == 1:
        if not rest:
            yield {}
        return
    name, after = pieces[1], pieces[2]
    ends = range(len(rest) + 1) if after or len(pieces) > 3 else (len(rest),)
    for end in ends:
        if rest.startswith(after, end):
            for more in _ways(pieces[2:], rest[end:]):
                if more.get(name, rest[:end]) == rest[:end]:
                    yield {name: rest[:end], **more}


def _blank(name: str, value: str, language: str) -> str | None:
    """What stood in a blank, in words; of a list each part by itself where the whole is not known. `None` for words
    that are not known where only words of procedures can stand: then it was another text."""
    if name in _AMOUNTS and not _AMOUNT.match(value):
        return None
    whole = _found(value, language) if value else ""
    if whole or name not in _OPEN:
        return whole or (None if _WORD.search(value) and name not in _AMOUNTS else value)
    return ", ".join(_found(part, language) or part for part in value.split(", ") if part)


@lru_cache(maxsize=8)
def _patterns(language: str) -> tuple[_Pattern, ...]:
    """Those of a language that have blanks, the most certain first: with the most text of their own."""
    made = []
    for english, text in texts_in(language, PROCEDURES).items():
        pieces = tuple(_BLANK.split(english))
        if len(pieces) > 1:
            own = sum(map(len, pieces[::2]))
            made.append((-own, english, _Pattern(pieces, max(pieces[::2], key=len), text)))
    return tuple(one for _, _, one in sorted(made, key=lambda one: one[:2]))
