"""Add a photo from the sheet's own form: its bytes are cleaned and kept, then the form becomes its entry."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from app.domain.photos import PHOTO_BYTES, PHOTOS_A_JOB, NoPhoto, cleaned, photos_of
from app.domain.problems import NoRoom, Problem
from app.domain.reply import Outcome
from app.use_cases.office import Office
from app.use_cases.record_sheet_form import record_sheet_form
from app.use_cases.see_sheet import SheetFound


@dataclass(frozen=True, slots=True)
class PhotoSent:
    """A file as it came with the form; `too_large` = its bytes were not read."""

    data: bytes
    too_large: bool = False


def add_photo(
    office: Office, found: SheetFound, person: str, fields: Mapping[str, str], sent: PhotoSent | None
) -> Outcome:
    """Keep a photo and record its entry.

    Raises: NotAllowed for a person no longer of this shop.
    """
    data = _to_keep(sent)
    if isinstance(data, Problem):
        return Outcome(problems=(data,))
    sha256 = hashlib.sha256(data).hexdigest()
    there = photos_of(found.sheet)
    if sha256 not in there and len(there) >= PHOTOS_A_JOB:
        return Outcome(problems=(Problem("photos_full", "file", {"limit": PHOTOS_A_JOB}),))

    def keep() -> Problem | None:
        try:
            office.photos.keep(data)
        except NoRoom:
            return Problem("photo_no_room_here", "file")
        return None

    form = {**fields, "kind": "photo_added", "sha256": sha256}
    if _is_another(office, form.get("entry", ""), sha256):
        del form["entry"]
    return record_sheet_form(office, found, person, form, before=keep)


def _to_keep(sent: PhotoSent | None) -> bytes | Problem:
    if sent is None or not (sent.data or sent.too_large):
        return Problem("photo_missing", "file")
    too_large = Problem("photo_too_large", "file", {"limit": PHOTO_BYTES // 1_000_000})
    if sent.too_large:
        return too_large
    try:
        data = cleaned(sent.data)
    except NoPhoto as refused:
        return Problem(refused.code, "file")
    return data if len(data) <= PHOTO_BYTES else too_large


def _is_another(office: Office, entry_id: str, sha256: str) -> bool:
    """Whether this form's entry was made before, of another photo: a page gone back to. Then it is a new entry."""
    with office.store.reading() as unit:
        known = unit.ledger.find(entry_id) if entry_id else None
    return known is not None and known.heard.entry.body.get("sha256") != sha256
