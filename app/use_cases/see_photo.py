"""See a photo: its bytes if some entry names it and they have come; and which photos of a sheet have not."""

from __future__ import annotations

import re
from dataclasses import dataclass

from app.domain.photos import ENDINGS, PhotoKind, kind_of, photos_of
from app.domain.problems import NotFound
from app.domain.sheet import Sheet
from app.ports import Photos, Unit
from app.use_cases.office import Office

_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class PhotoSeen:
    """`name`: a file's name that says nothing but which photo it is."""

    data: bytes
    kind: PhotoKind
    name: str


def see_photo(office: Office, sha256: str) -> PhotoSeen | None:
    """The photo, or None for one that is named and whose bytes have not come.

    Raises: NotFound for what no entry names.
    """
    with office.store.reading() as unit:
        is_named = bool(_SHA256.fullmatch(sha256) and unit.photos.where(sha256=sha256))
    if not is_named:
        raise NotFound("photo", sha256)
    data = office.photos.read(sha256)
    kind = kind_of(data) if data is not None else None
    if data is None or kind is None:
        return None
    return PhotoSeen(data, kind, f"photo-{sha256[:12]}.{ENDINGS[kind]}")


def photos_refused(unit: Unit, job: str) -> tuple[str, ...]:
    """The photos named for a job whose bytes are never taken in here, in order of their hashes."""
    return tuple(sorted({one.sha256 for one in unit.photos.where(job=job, here=False) if one.refused}))


def photos_missing(photos: Photos, sheet: Sheet) -> tuple[str, ...]:
    """The photos on a sheet whose bytes are not here yet, in order of their hashes."""
    return tuple(sorted(one for one in photos_of(sheet) if not photos.has(one)))
