"""Entries that people at the office make from a page of the floor: the envelope round a body."""

from __future__ import annotations

import re

from app.domain.entry import ENTRY_FORM, Basis, Body, Entry, body_json, kind_of
from app.domain.sheet import Sheet
from app.use_cases.office import Office
from app.use_cases.record_entry import OFFICE_TABLET

_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def office_entry(office: Office, person: str, sheet: Sheet, body: Body, entry_id: str = "") -> Entry:
    """An entry for `record_form`. entry_id: the one the form was made with, so that sending it twice records once."""
    return Entry(
        v=ENTRY_FORM,
        id=entry_id if _ID.fullmatch(entry_id) else office.new_id(),
        tablet=OFFICE_TABLET,
        seq=0,
        job=sheet.job,
        kind=str(kind_of(body)),
        body=body_json(body),
        person=person,
        noted_at_ms=office.now_ms,
        basis=Basis(packet=sheet.packet.hash if sheet.packet else "", support_revision=sheet.support.revision),
    )
