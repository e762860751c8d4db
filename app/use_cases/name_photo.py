"""Note which entry names which photo: only such bytes are taken in and shown."""

from __future__ import annotations

from app.domain.entry import Entry, Kind, PhotoAdded, read_body
from app.domain.records import PhotoNamed
from app.ports import Unit
from app.use_cases.office import Office


def name_photo(office: Office, unit: Unit, entry: Entry) -> None:
    """Note which photo an entry names, in the transaction that keeps the entry."""
    named = photo_named_by(entry)
    if named:
        unit.photos.add(PhotoNamed(entry.id, entry.job, named, office.photos.has(named)))


def photo_named_by(entry: Entry) -> str:
    """The SHA-256 of the photo that an entry names, whatever became of the entry; "" where it names none."""
    body = read_body(entry) if entry.kind == Kind.PHOTO_ADDED else None
    return body.sha256 if isinstance(body, PhotoAdded) else ""
