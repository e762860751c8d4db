"""Pictures for tests, made here: with everything beside the pixels that a camera writes, and pictures that are none."""

from __future__ import annotations

import hashlib
import io
import random
import struct
import zlib
from typing import Any

from PIL import Image

# What a camera writes beside the pixels, to be looked for afterwards. The place is in the sea, of no one.
SECRETS = (b"Invented Camera 9", b"SN-000-SECRET", b"GPS-PLACE", b"a comment", b"trailing secret")


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def an_image(wide: int = 64, high: int = 48, seed: int = 1) -> Image.Image:
    """A picture that is hard to make small, left half dark."""
    rand = random.Random(seed)
    image = Image.frombytes("RGB", (wide, high), rand.randbytes(wide * high * 3))
    image.paste((16, 16, 16), (0, 0, wide // 2, high))
    return image


def a_picture(kind: str = "JPEG", wide: int = 64, high: int = 48, seed: int = 1, **options: Any) -> bytes:
    """A picture with nothing beside it."""
    out = io.BytesIO()
    an_image(wide, high, seed).save(out, kind, **options)
    return out.getvalue()


def from_a_camera(kind: str = "JPEG", turned: int = 1, wide: int = 64, high: int = 48) -> bytes:
    """A picture as a camera writes one: maker, serial number and place in Exif, XMP, a comment, something behind."""
    exif = Image.Exif()
    exif[0x010F] = SECRETS[0].decode()
    exif[0x0112] = turned
    exif.get_ifd(0x8769)[0xA431] = SECRETS[1].decode()
    exif.get_ifd(0x8825).update({1: "S", 2: (48.0, 52.0, 36.0), 3: "W", 4: (123.0, 23.0, 36.0), 27: SECRETS[2]})
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>GPS-PLACE</x:xmpmeta>"
    options: dict[str, Any] = {"exif": exif.tobytes()}
    if kind == "JPEG":
        options |= {"comment": SECRETS[3], "xmp": xmp, "progressive": True, "quality": 92}
    elif kind == "WEBP":
        options |= {"xmp": xmp}
    made = a_picture(kind, wide, high, **options)
    if kind == "PNG":
        text = _chunk(b"tEXt", b"Comment\0" + SECRETS[3])
        made = made[:33] + text + made[33:]
    return made + SECRETS[4]


def _chunk(name: bytes, inside: bytes) -> bytes:
    return struct.pack(">I", len(inside)) + name + inside + struct.pack(">I", zlib.crc32(name + inside))


def pixels(data: bytes) -> tuple[tuple[int, int], bytes]:
    with Image.open(io.BytesIO(data)) as image:
        return image.size, image.convert("RGB").tobytes()


def way_up(data: bytes) -> int:
    with Image.open(io.BytesIO(data)) as image:
        return int(image.getexif().get(0x0112, 1))


SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><html><body><script>alert(1)</script></body></html>"
