"""Photos: what is taken as one, how much of them, and what of one is kept. Pure.

A photo is its pixels. What a camera writes beside them (the place, the time, its serial number, a small copy of the
picture, text) never reaches the store: `cleaned` gives the same picture without it, and a tablet's photo that still
has any of it is not taken.
"""

from __future__ import annotations

from app.domain.sheet import Sheet

PHOTOS_A_JOB = 40


def photos_of(sheet: Sheet) -> frozenset[str]:
    """Every photo that counts on this sheet, by the hash of its bytes."""
    notes = [*sheet.notes, *(note for step in sheet.steps.values() for note in step.notes)]
    return frozenset(note.photo for note in notes if note.photo)
