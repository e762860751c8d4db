"""Take in a photo from a tablet, a piece at a time: begun anew wherever it stopped, kept only when whole and as named.

Its entry comes first, so that only photos of this shop's sheets are taken in, and no more of a job than a sheet takes.
One that is never taken in stays on its tablet: that is noted once, shown on its sheet and told to the foreman.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from app.domain.photos import (
    HEAD_BYTES,
    PHOTO_BYTES,
    PHOTOS_A_JOB,
    PIECE_BYTES,
    REFUSED_FOR_GOOD,
    NoPhoto,
    cleaned,
    kind_of,
)
from app.domain.problems import NoRoom, Problem
from app.ports import Unit
from app.use_cases.office import Office
from app.use_cases.tablet_alarms import raise_photo_refused


@dataclass(frozen=True, slots=True)
class Come:
    """How much of a photo is here, and whether that is all of it. `problem`: why a piece was not taken."""

    have: int
    whole: bool = False
    problem: Problem | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a photo of `size` bytes, beginning at `offset`. Empty, at the end: keep what is here."""

    offset: int
    size: int
    data: bytes


def photo_come(office: Office, sha256: str, tablet: str) -> Come:
    """How much of a photo is here; tablet: the id of the one that asks."""
    return _noted(office, sha256, tablet, _come(office, sha256))


def _come(office: Office, sha256: str) -> Come:
    problem = _not_wanted(office, sha256)
    if problem is not None:
        return Come(0, problem=problem)
    if office.photos.has(sha256):
        _say_here(office, sha256)
        return Come(len(office.photos.read(sha256) or b""), whole=True)
    return Come(office.photos.come(sha256))


def keep_photo_piece(office: Office, sha256: str, piece: Piece, tablet: str) -> Come:
    """Take in the next piece from a tablet. One that is here already is answered with where to go on."""
    return _noted(office, sha256, tablet, _keep(office, sha256, piece))


def _keep(office: Office, sha256: str, piece: Piece) -> Come:
    here = _come(office, sha256)
    if here.whole or here.problem is not None:
        return here
    problem = _piece_problem(piece)
    if problem is not None:
        return Come(here.have, problem=problem)
    try:
        have = office.photos.add_piece(sha256, piece.offset, piece.data)
        if have < piece.size:
            return Come(have, problem=None if have >= piece.offset else Problem("photo_gap", "offset", {"next": have}))
        return _finish(office, sha256)
    except NoRoom:
        return Come(office.photos.come(sha256), problem=Problem("photo_no_room"))


def _noted(office: Office, sha256: str, tablet: str, come: Come) -> Come:
    """Note, once, that a photo is never taken in, and tell of it: its bytes are on that tablet and nowhere else."""
    if come.problem is None or come.problem.code not in REFUSED_FOR_GOOD:
        return come
    with office.store.reading() as unit:
        if not unit.photos.where(sha256=sha256, here=False, refused=""):
            return come
    with office.store.writing() as unit:
        named = unit.photos.where(sha256=sha256, here=False, refused="")
        for one in named:
            unit.photos.save(replace(one, refused=come.problem.code))
        raise_photo_refused(office, unit, tablet, named)
        unit.commit()
    for job in sorted({one.job for one in named}):
        office.announce(f"sheet:{job}")
    office.announce("floor")
    return come


def _not_wanted(office: Office, sha256: str) -> Problem | None:
    """Why bytes of this name are not taken in: no entry names them, or only jobs that have enough without them."""
    with office.store.reading() as unit:
        jobs = {one.job for one in unit.photos.where(sha256=sha256)}
        if not jobs:
            return Problem("photo_unknown")
        if any(sha256 in wanted_of(unit, job) for job in jobs):
            return None
    return Problem("photos_full", "", {"limit": PHOTOS_A_JOB})


def wanted_of(unit: Unit, job: str) -> list[str]:
    """The photos of a job that are taken in: the first so many that its entries name."""
    return list(dict.fromkeys(one.sha256 for one in unit.photos.where(job=job)))[:PHOTOS_A_JOB]


def _piece_problem(piece: Piece) -> Problem | None:
    if piece.size > PHOTO_BYTES:
        return Problem("photo_too_large", "file", {"limit": PHOTO_BYTES // 1_000_000})
    if len(piece.data) > PIECE_BYTES:
        return Problem("photo_piece_too_large", "", {"limit": PIECE_BYTES // 1_024})
    is_end = piece.offset == piece.size
    if piece.offset + len(piece.data) > piece.size or (not piece.data and not (is_end and piece.size)):
        return Problem("photo_piece_wrong")
    if piece.offset == 0 and len(piece.data) >= HEAD_BYTES and kind_of(piece.data) is None:
        return Problem("photo_kind", "file")
    return None


def _finish(office: Office, sha256: str) -> Come:
    """Keep a photo whose pieces are all here; throw them away if they are not the photo that was named."""
    data = office.photos.pieces(sha256)
    problem = _photo_problem(sha256, data)
    if problem is None:
        office.photos.keep(data)
    office.photos.drop_pieces(sha256)
    if problem is not None:
        return Come(0, problem=problem)
    _say_here(office, sha256)
    return Come(len(data), whole=True)


def _say_here(office: Office, sha256: str) -> None:
    """Note that a photo has come, unless that is known, and tell whoever looks at a sheet it is on."""
    with office.store.reading() as unit:
        if not unit.photos.where(sha256=sha256, here=False):
            return
    with office.store.writing() as unit:
        waited = unit.photos.where(sha256=sha256, here=False)
        for one in waited:
            unit.photos.save(replace(one, here=True, refused=""))
        unit.commit()
    for job in sorted({one.job for one in waited}):
        office.announce(f"sheet:{job}")


def _photo_problem(sha256: str, data: bytes) -> Problem | None:
    if hashlib.sha256(data).hexdigest() != sha256:
        return Problem("photo_wrong_hash")
    try:
        return None if cleaned(data) == data else Problem("photo_says_more")
    except NoPhoto as refused:
        return Problem(refused.code, "file")
