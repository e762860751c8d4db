"""Note which entry names which photo: only such bytes are taken in and shown."""

from __future__ import annotations

from app.domain.entry import Entry, Kind, PhotoAdded, read_body
from app.domain.records import PhotoNamed
from app.ports import Unit
from app.use_cases.office import Office


def name_photo(office: Office, unit: Unit, entry: Entry) -> None:
    """Note which photo an entry names, in the transaction that keeps the entry."""
    body = read_body(entry) if entry.kind == Kind.PHOTO_ADDED else None
    if isinstance(body, PhotoAdded):
        unit.photos.add(PhotoNamed(entry.id, entry.job, body.sha256, office.photos.has(body.sha256)))
