"""Sheets, packets and the book of procedures as they are shown to whoever is being answered, in the spoken language.

For what is shown and nothing else: what is decided, stored, hashed or sent to a tablet has the English texts.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache, partial

from app.domain.packet import Packet
from app.domain.procedure import Book
from app.domain.sheet import Sheet
from app.domain.wording import book_in, packet_in, packet_texts
from app.language.catalogue import ENGLISH
from app.language.procedures import said_in
from app.language.speech import spoken


def sheet_said(sheet: Sheet) -> Sheet:
    """The sheet with the texts of its packet in the spoken language."""
    return sheet if sheet.packet is None else replace(sheet, packet=packet_said(sheet.packet))


def packet_said(packet: Packet) -> Packet:
    language = spoken()
    return packet if language == ENGLISH else _packet_in(_Held(packet.hash, packet), language)


def texts_in_packet(packet: Packet, language: str) -> dict[str, str]:
    """A packet's texts in a language by the English, as they travel beside it."""
    return _texts_in(_Held(packet.hash, packet), language)


def book_said(book: Book) -> Book:
    """The procedures, gates and layouts in the spoken language."""
    language = spoken()
    return book if language == ENGLISH else _book_in(_Read(tuple(sorted(book.digests.items())), book), language)


@dataclass(frozen=True, slots=True)
class _Held:
    """A packet by its hash, so that what was made of it is found again."""

    hash: str
    packet: Packet = field(compare=False)


@dataclass(frozen=True, slots=True)
class _Read:
    digests: tuple[tuple[str, str], ...]
    book: Book = field(compare=False)


@lru_cache(maxsize=128)
def _packet_in(held: _Held, language: str) -> Packet:
    return packet_in(held.packet, partial(said_in, language=language))


@lru_cache(maxsize=128)
def _texts_in(held: _Held, language: str) -> dict[str, str]:
    return packet_texts(held.packet, partial(said_in, language=language))


@lru_cache(maxsize=4)
def _book_in(read: _Read, language: str) -> Book:
    return book_in(read.book, partial(said_in, language=language))
