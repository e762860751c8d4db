"""Texts of procedures, gates and layouts in a language: looked up by the English a packet holds.

A packet's text may be one of the files' with its blanks filled: then the translation of that text gets the same
blanks, each said in its turn. What the catalogue does not know any more, as of an old packet, is shown in English.
"""

from __future__ import annotations

import re
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
    """A text with blanks: its English as a pattern, the longest piece of it, and its translation."""

    english: re.Pattern[str]
    piece: str
    said: str

    def fill(self, text: str, language: str) -> str:
        found = self.english.fullmatch(text) if self.piece in text else None
        if found is None:
            return ""
        return self.said.format_map({name: _blank(value, language) for name, value in found.groupdict().items()})


def _blank(value: str, language: str) -> str:
    """What stood in a blank, in words; of a list each part by itself where the whole is not known."""
    whole = _found(value, language) if value else ""
    return whole or ", ".join(_found(part, language) or part for part in value.split(", ") if part)


@lru_cache(maxsize=8)
def _patterns(language: str) -> tuple[_Pattern, ...]:
    """Those of a language that have blanks, the most certain first: with the most text of their own."""
    made = []
    for english, text in texts_in(language, PROCEDURES).items():
        pieces = _BLANK.split(english)
        literal = "".join(pieces[::2])
        if len(pieces) > 1:
            made.append((-len(literal), english, _Pattern(_pattern(pieces), max(pieces[::2], key=len), text)))
    return tuple(one for _, _, one in sorted(made, key=lambda one: one[:2]))


def _pattern(pieces: list[str]) -> re.Pattern[str]:
    parts, seen = [], set[str]()
    for place, piece in enumerate(pieces):
        if place % 2 == 0:
            parts.append(re.escape(piece))
        else:
            holds = r"[−+-]?\d.*?" if piece in _AMOUNTS else ".*?"
            parts.append(f"(?P={piece})" if piece in seen else f"(?P<{piece}>{holds})")
            seen.add(piece)
    return re.compile("".join(parts), re.DOTALL)
