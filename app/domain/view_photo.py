"""Photos on a sheet: those taken at a step or for the whole sheet, and the form that adds one."""

from __future__ import annotations

from collections.abc import Iterable

from app.domain.photos import PHOTOS_A_JOB, photos_of
from app.domain.sheet import Note
from app.domain.view_parts import Scene, View, field_view, form_view, mark_view


def photos_view(scene: Scene, notes: Iterable[Note]) -> list[View]:
    """The photos among these notes, in the order they were taken."""
    return [photo_view(scene, one) for one in notes if one.photo]


def photo_view(scene: Scene, note: Note) -> View:
    """A photo: whose, from when, of what. Its bytes travel apart from its entry and may not be here yet."""
    mark = mark_view(scene, note.mark)
    said = {"name": mark["name"], "at": mark["at"], "text": note.text}
    return {
        "address": f"/photos/{note.photo}",
        "here": note.photo not in scene.about.photos_missing,
        "refused": note.photo in scene.about.photos_refused,
        "alt": scene.voice.say("photo_by" if note.text else "photo_by_unnamed", said),
        "text": note.text,
        "name": mark["name"],
        "at": mark["at"],
        "where": mark["where"],
    }


def photo_form(scene: Scene, step: str) -> View:
    """The form that adds a photo to a step, or (step "") to the whole sheet; once there are enough it says so."""
    key = "step-photo" if step else "sheet-photo"
    return {
        "shown": scene.may("photo_added"),
        "full": len(photos_of(scene.sheet)) >= PHOTOS_A_JOB,
        "full_words": scene.voice.say("photos_full", {"limit": PHOTOS_A_JOB}),
        "form": form_view(scene, key, "photo_added", [("step", step)]),
        "file": field_view(scene, key, "file", scene.word("ask", "photo")),
        "field": field_view(scene, key, "name", scene.word("ask", "photo_name")),
    }
