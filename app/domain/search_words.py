"""What a search finds by: the words of a record and the words somebody typed, folded the same way. Pure.

Both databases and the store in memory are given these words and nothing else, and each matches a typed word with
every word that begins with it. So what is found hangs on this file alone, never on how an engine splits or folds text.
To that end a word leaves here in a-z and 0-9 only: other letters are written out, each by itself, so that a beginning
stays one.

Folding follows Unicode: compatibility forms and case are one (NFKD, casefold), and so are letters with and without
the signs above and below them in scripts that are read without (Latin, Greek, Cyrillic, Hebrew, Arabic). In other
scripts the signs are vowels and stay. Scripts that put no blank between words are taken letter by letter.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

from app.domain.estimate import Estimate
from app.domain.records import Customer, Job, Vehicle
from app.domain.sheet import Sheet

# House rules: longer words are cut, at both ends alike; nobody searches by more words than this.
WORD_LIMIT = 60
ASKED_LIMIT = 12
# What one row is found by at most, in letters: hundreds of pages of notes. PostgreSQL holds 1 MB of words in a row.
KEPT_LIMIT = 200_000
# What the compiler puts around every job's work (D-008): nobody looks for that.
FRAMING = ("opening", "closing")
# The shortest end of a VIN, a telephone or a job number that is found by: people say the last four.
SHORTEST_END = 4

_PLAIN = frozenset("abcdefghijklmnopqrstuvwxyz0123456789")
# Letters that Unicode does not take apart, as they are typed on a keyboard without them.
_TYPED_AS = {
    "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ŧ": "t", "ŋ": "ng", "ı": "i",
}  # fmt: skip
# Signs that may be left out: of Latin, Greek and Cyrillic letters, Hebrew points, Arabic vowel signs.
_LEFT_OUT = ((0x0300, 0x036F), (0x0591, 0x05BD), (0x05BF, 0x05C7), (0x0610, 0x061A), (0x0640, 0x0640),
             (0x064B, 0x065F), (0x0670, 0x0670), (0x1AB0, 0x1AFF), (0x1DC0, 0x1DFF))  # fmt: skip
# Scripts without blanks, or with fewer than there are words: Thai and Lao, Myanmar, Khmer, kana, Han, Hangul.
_NO_BLANKS = ((0x0E00, 0x0EFF), (0x1000, 0x109F), (0x1780, 0x17FF), (0x3005, 0x3007), (0x3041, 0x30FF),
              (0x3400, 0x4DBF), (0x4E00, 0x9FFF), (0xAC00, 0xD7A3), (0x20000, 0x3FFFF))  # fmt: skip
_BASE = "0123456789abcdefghijklmnopqrstuvwxyz"
_ASCII_WORDS = re.compile(r"[a-z0-9]+")
_CHUNKS = re.compile(r"\S+")
_PIECES = re.compile(r"[0-9]+|[^\W\d_]+")


def words_in(text: str) -> tuple[str, ...]:
    """The words of a text, folded, in their order."""
    return tuple(_written(word[:WORD_LIMIT]) for word in _split(_folded(text)))


def asked_words(typed: str) -> tuple[str, ...]:
    """The words somebody asks for, each once. Signs of any kind part words and mean nothing."""
    return tuple(dict.fromkeys(words_in(typed)))


def code_words(code: str) -> Iterator[str]:
    """What a VIN or a number is found by however it is spaced: each end of it, so that any part of it begins one."""
    joined = "".join(_split(_folded(code)))[:WORD_LIMIT]
    yield from (_written(joined[at:]) for at in range(max(len(joined) - SHORTEST_END + 1, min(len(joined), 1))))


def part_words(text: str) -> Iterator[str]:
    """The words of a text in which a part's number may stand: "AB-1234.5" is also found as ab12345 and as ab 12345."""
    yield from words_in(text)
    for chunk in _CHUNKS.findall(text):
        if any(one.isdigit() for one in chunk):
            folded = list(_split(_folded(chunk)))
            yield _written("".join(folded)[:WORD_LIMIT])
            yield from (_written(piece[:WORD_LIMIT]) for word in folded for piece in _PIECES.findall(word))


def fits(words: Iterable[str], asked: Iterable[str]) -> bool:
    """Whether every word asked for begins one of these."""
    have = tuple(words)
    return all(any(word.startswith(one) for word in have) for one in asked)


# --- What is found by what ----------------------------------------------------------------------------------------


def vehicle_words(vehicle: Vehicle, owner: Customer | None) -> str:
    """A vehicle: its plate and any part of it, its VIN, the shop's name for it, its owner."""
    return _kept([*_plate_words(vehicle.plate), *code_words(vehicle.vin), *words_in(vehicle.model), *_of_whom(owner)])


def job_words(job: Job, vehicle: Vehicle | None, customer: Customer | None, estimates: Iterable[Estimate]) -> str:
    """A job: its number, its vehicle, its customer, the complaint, and the parts any edition of its estimate names."""
    words = [*words_in(job.number), *code_words(job.number), *part_words(job.complaint), *_of_whom(customer)]
    if vehicle is not None:
        words += [*_plate_words(vehicle.plate), *code_words(vehicle.vin), *words_in(vehicle.model)]
    for estimate in estimates:
        for line in estimate.lines:
            words += (word for part in line.parts for word in part_words(f"{part.name} {part.number}"))
    return _kept(words)


def noted_on(sheet: Sheet) -> frozenset[str]:
    """What is on a sheet: its lines of work, notes, and parts that went in new. Quick, as every entry asks for it."""
    lines = sheet.packet.lines if sheet.packet is not None else ()
    texts = {line.title for line in lines if line.procedure not in FRAMING}
    texts.update(note.text for note in sheet.notes)
    for step_id, now in sheet.steps.items():
        if now.notes:
            texts.update(note.text for note in now.notes)
        step = sheet.packet.step_by_id.get(step_id) if now.new_parts and sheet.packet is not None else None
        if step is not None:
            texts.update(one.what for one in step.one_time if one.id in now.new_parts)
    return frozenset(texts)


def noted_words(texts: Iterable[str]) -> str:
    return _kept(word for text in texts for word in part_words(text))


def _plate_words(plate: str) -> Iterator[str]:
    """Every end of a plate down to its last character: the pieces people say may be single letters."""
    joined = "".join(_split(_folded(plate)))[:WORD_LIMIT]
    yield from (_written(joined[at:]) for at in range(len(joined)))


def _of_whom(customer: Customer | None) -> Iterator[str]:
    if customer is not None:
        yield from words_in(customer.name)
        yield from words_in(customer.email)
        yield from words_in(customer.phone)
        yield from code_words(customer.phone)


def _kept(words: Iterable[str]) -> str:
    """Each word once, the short ones first, as many as there is room for."""
    kept, room = [], KEPT_LIMIT
    for word in sorted(set(words), key=lambda one: (len(one), one)):
        room -= len(word) + 1
        if room < 0:
            break
        kept.append(word)
    return " ".join(kept)


# --- Folding ------------------------------------------------------------------------------------------------------


def _folded(text: str) -> str:
    if text.isascii():
        return text.lower()
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return unicodedata.normalize("NFC", "".join(_TYPED_AS.get(one, one) for one in plain if not _in(one, _LEFT_OUT)))


def _split(folded: str) -> Iterator[str]:
    """Runs of letters, figures and the signs on them; where no blanks are written, one letter with its signs."""
    if folded.isascii():
        yield from _ASCII_WORDS.findall(folded)
        return
    word = ""
    for one in folded:
        kind = unicodedata.category(one)[0]
        if kind == "M" and word:
            word += one
            continue
        if word and (kind not in "LN" or _in(one, _NO_BLANKS) or _in(word[0], _NO_BLANKS)):
            yield word
            word = ""
        if kind in "LN":
            word += one
    if word:
        yield word


def _in(one: str, ranges: tuple[tuple[int, int], ...]) -> bool:
    code = ord(one)
    return any(first <= code <= last for first, last in ranges)


def _written(word: str) -> str:
    """In a-z and 0-9. Another letter is z and four figures of base 36, the first at most n; a z itself is zz."""
    if word.isascii() and "z" not in word:
        return word
    return "".join(one if one in _PLAIN and one != "z" else "zz" if one == "z" else _figures(one) for one in word)


def _figures(one: str) -> str:
    code, figures = ord(one), ""
    for _ in range(4):
        code, rest = divmod(code, 36)
        figures = _BASE[rest] + figures
    return f"z{figures}"
