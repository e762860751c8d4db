"""Photos: what is taken as one, how much of them, and what of one is kept. Pure.

A photo is its pixels. What a camera writes beside them (the place, the time, its serial number, a small copy of the
picture, text) never reaches the store: `cleaned` gives the same picture without it, and a tablet's photo that still
has any of it is not taken.

Sources: ITU-T T.81 (1992), annex B, and JFIF 1.02 for JPEG; CIPA DC-008 (Exif 2.32), 4.6, for the orientation; W3C PNG
(third edition), 5 and 11; the WebP container specification (RFC 9649). From memory; the tests read the results with a
browser.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from enum import StrEnum

from app.domain.sheet import Note, Sheet

PHOTOS_A_JOB = 40
PHOTO_BYTES = 4_000_000
PIECE_BYTES = 256 * 1_024
# A few bytes can say a picture that no tablet has the memory to show.
LARGEST_PIXELS = 50_000_000
HEAD_BYTES = 12
# Why bytes are never taken in, however often they are sent; the tablet has the same list.
REFUSED_FOR_GOOD = frozenset(
    ("photo_kind", "photo_not_whole", "photo_too_many_pixels", "photo_too_large", "photo_says_more", "photos_full")
)


class PhotoKind(StrEnum):
    JPEG = "image/jpeg"
    PNG = "image/png"
    WEBP = "image/webp"


ENDINGS = {PhotoKind.JPEG: "jpg", PhotoKind.PNG: "png", PhotoKind.WEBP: "webp"}
_PNG_HEAD = b"\x89PNG\r\n\x1a\n"


class NoPhoto(Exception):
    """These bytes cannot be kept as a photo; `code` says why."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def photos_of(sheet: Sheet) -> frozenset[str]:
    """Every photo that counts on this sheet, by the hash of its bytes."""
    notes = [*sheet.notes, *(note for step in sheet.steps.values() for note in step.notes)]
    return frozenset(note.photo for note in notes if note.photo)


def photo_notes(sheet: Sheet) -> list[tuple[str, Note]]:
    """Every photo of a sheet with its step's title ("" for the whole sheet), in the order they were taken."""
    titles = {step.id: step.title for step in sheet.packet.steps} if sheet.packet is not None else {}
    notes = [("", one) for one in sheet.notes]
    notes += [(titles.get(key, ""), one) for key, step in sheet.steps.items() for one in step.notes]
    return sorted((pair for pair in notes if pair[1].photo), key=lambda pair: (pair[1].mark.at_ms, pair[1].mark.entry))


def kind_of(head: bytes) -> PhotoKind | None:
    """What a file is by its first bytes, whatever it is called; None for all that is not kept (SVG and HTML too)."""
    if head.startswith(b"\xff\xd8\xff"):
        return PhotoKind.JPEG
    if head.startswith(_PNG_HEAD):
        return PhotoKind.PNG
    return PhotoKind.WEBP if head[:4] == b"RIFF" and head[8:12] == b"WEBP" else None


def cleaned(data: bytes) -> bytes:
    """The same picture with nothing beside it but its colours and which way up it is. Cleaning twice changes nothing.

    Raises: NoPhoto for another kind of file, one that is not whole, or one of more pixels than are shown.
    """
    kind = kind_of(data)
    try:
        match kind:
            case PhotoKind.JPEG:
                return b"".join(_jpeg_parts(data))
            case PhotoKind.PNG:
                return _PNG_HEAD + b"".join(_png_chunks(data))
            case PhotoKind.WEBP:
                return _webp(data)
            case None:
                raise NoPhoto("photo_kind")
    except (struct.error, IndexError):
        raise NoPhoto("photo_not_whole") from None


def _bounded(wide: int, high: int) -> None:
    if not wide or not high:
        raise NoPhoto("photo_not_whole")
    if wide * high > LARGEST_PIXELS:
        raise NoPhoto("photo_too_many_pixels")


# --- JPEG ---------------------------------------------------------------------------------------------------------

_END, _SCAN = 0xD9, 0xDA
_FRAMES = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
# Where the pixels of a scan end: at a marker that is neither a stuffed byte, a restart nor filling.
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_SAID = frozenset(range(0xE0, 0xF0)) | {0xFE}


def _jpeg_parts(data: bytes) -> Iterator[bytes]:
    """The parts of a JPEG that are kept, from its beginning to its end; what hangs on behind is left."""
    yield data[:2]
    at, framed, turned = 2, False, False
    while True:
        if data[at] != 0xFF:
            raise NoPhoto("photo_not_whole")
        while data[at + 1] == 0xFF:
            at += 1
        marker = data[at + 1]
        if marker == _END:
            if not framed:
                raise NoPhoto("photo_not_whole")
            yield b"\xff\xd9"
            return
        (length,) = struct.unpack_from(">H", data, at + 2)
        inside, after = data[at + 4 : at + 2 + length], at + 2 + length
        if length < 2 or after > len(data):
            raise NoPhoto("photo_not_whole")
        if marker in _FRAMES:
            high, wide = struct.unpack_from(">HH", inside, 1)
            _bounded(wide, high)
            framed = True
        if marker == _SCAN:
            found = _NEXT_MARKER.search(data, after)
            if found is None or not framed:
                raise NoPhoto("photo_not_whole")
            after = found.start()
        if marker not in _SAID:
            yield b"\xff" + data[at + 1 : after]
        elif marker == 0xE1 and not turned and (way := _way_up(inside)) > 1:
            turned = True
            yield _segment(marker, _TURNED % way)
        else:
            yield _said(marker, inside)
        at = after


def _said(marker: int, inside: bytes) -> bytes:
    """What of an application's segment is about the pixels: resolution, colours, how they are coded."""
    if marker == 0xE0 and inside[:5] == b"JFIF\0" and len(inside) >= 14:
        return _segment(marker, inside[:12] + b"\0\0")
    is_colours = (marker == 0xE2 and inside[:12] == b"ICC_PROFILE\0") or (marker == 0xEE and inside[:5] == b"Adobe")
    return _segment(marker, inside) if is_colours else b""


def _segment(marker: int, inside: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(inside) + 2) + inside


# An Exif segment that says which way up the picture is and nothing else; without it photos taken upright would lie.
_TURNED = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0%c\0\0\0\0\0\0"


def _way_up(inside: bytes) -> int:
    """The orientation an Exif segment tells, 1 to 8; 1 for one that tells none."""
    if inside[:6] != b"Exif\0\0":
        return 1
    tiff = inside[6:]
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1
    try:
        (directory,) = struct.unpack_from(f"{order}I", tiff, 4)
        (entries,) = struct.unpack_from(f"{order}H", tiff, directory)
        for place in range(directory + 2, directory + 2 + 12 * entries, 12):
            tag, kind, count, value = struct.unpack_from(f"{order}HHIH", tiff, place)
            if (tag, kind, count) == (0x0112, 3, 1):
                return value if 1 <= value <= 8 else 1
    except struct.error:
        return 1
    return 1


# --- PNG ----------------------------------------------------------------------------------------------------------

_PNG_KEPT = frozenset(b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP bKGD pHYs".split())


def _png_chunks(data: bytes) -> Iterator[bytes]:
    at, drawn = len(_PNG_HEAD), False
    while True:
        length, name = struct.unpack_from(">I4s", data, at)
        chunk = data[at : at + 12 + length]
        if len(chunk) < 12 + length or (at == len(_PNG_HEAD)) != (name == b"IHDR"):
            raise NoPhoto("photo_not_whole")
        if name == b"IHDR":
            _bounded(*struct.unpack_from(">II", chunk, 8))
        drawn = drawn or name == b"IDAT"
        if name in _PNG_KEPT:
            yield chunk
        if name == b"IEND":
            if not drawn:
                raise NoPhoto("photo_not_whole")
            return
        at += 12 + length


# --- WebP ---------------------------------------------------------------------------------------------------------

_WEBP_KEPT = frozenset((b"VP8X", b"ICCP", b"ALPH", b"VP8 ", b"VP8L"))
# Of a VP8X chunk's flags: only that there are colours and transparency. Not Exif, not XMP, not moving.
_WEBP_FLAGS = 0x30


def _webp(data: bytes) -> bytes:
    (size,) = struct.unpack_from("<I", data, 4)
    end, at, kept, drawn = 8 + size, 12, [], False
    if end > len(data):
        raise NoPhoto("photo_not_whole")
    while at < end:
        name, length = struct.unpack_from("<4sI", data, at)
        inside = data[at + 8 : at + 8 + length]
        if len(inside) < length or at + 8 + length > end:
            raise NoPhoto("photo_not_whole")
        if name in (b"VP8X", b"VP8 ", b"VP8L"):
            _bounded(*_webp_size(name, inside))
        if name == b"VP8X":
            inside = bytes([inside[0] & _WEBP_FLAGS]) + inside[1:]
        drawn = drawn or name in (b"VP8 ", b"VP8L")
        if name in _WEBP_KEPT:
            kept.append(name + struct.pack("<I", length) + inside + b"\0" * (length % 2))
        at += 8 + length + length % 2
    if not drawn:
        raise NoPhoto("photo_not_whole")
    body = b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def _webp_size(name: bytes, inside: bytes) -> tuple[int, int]:
    if name == b"VP8X":
        wide, high = (int.from_bytes(inside[at : at + 3], "little") + 1 for at in (4, 7))
        return (wide, high) if len(inside) >= 10 else (0, 0)
    if name == b"VP8L":
        (bits,) = struct.unpack_from("<I", inside, 1)
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    wide, high = struct.unpack_from("<HH", inside, 6)
    return wide & 0x3FFF, high & 0x3FFF
