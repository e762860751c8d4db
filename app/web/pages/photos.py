"""Photos as the pages of foreman and desk show them; the templates are the sheet's own."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from app.domain.sheet import Note
from app.texts import sentence


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """A photo with its words. here: whether its bytes have come; refused: they never will.

    where: "", since everything here is the office's.
    """

    address: str
    here: bool
    refused: bool
    alt: str
    text: str
    name: str
    at: str
    where: str = ""


def photos_shown(
    notes: Iterable[tuple[str, Note]],
    missing: Sequence[str],
    refused: Sequence[str],
    when: Callable[[datetime], str],
) -> list[PhotoShown]:
    """Photos with the step each was taken at ("" for the whole sheet), in words."""
    return [_shown(step, note, missing, refused, when) for step, note in notes]


def _shown(
    step: str, note: Note, missing: Sequence[str], refused: Sequence[str], when: Callable[[datetime], str]
) -> PhotoShown:
    at = when(datetime.fromtimestamp(note.mark.at_ms / 1_000, UTC))
    text = ": ".join(filter(None, (step, note.text)))
    return PhotoShown(
        address=f"/photos/{note.photo}",
        here=note.photo not in missing,
        refused=note.photo in refused,
        alt=sentence("photo_by" if text else "photo_by_unnamed", name=note.mark.name, at=at, text=text),
        text=text,
        name=note.mark.name,
        at=at,
    )
