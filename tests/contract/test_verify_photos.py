"""`verify` and `rebuild` on photos: the register of which entry names which, and the files themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from app.domain import entry as e
from app.domain.records import PhotoNamed
from app.ports import Store, Unit
from app.storage.photos import FolderPhotos
from app.use_cases.keep_photo_piece import Piece, keep_photo_piece
from app.use_cases.verify import rebuild, verify
from tests.builders import ADA, JOB
from tests.offices import Workshop, a_small_job, an_office
from tests.pictures import a_picture, sha256
from tests.tablets import ATablet, a_tablet

SMALL, OTHER = a_picture("JPEG"), a_picture("PNG")
NAME = sha256(SMALL)


@pytest.fixture
def here(tmp_path: Path) -> Workshop:
    here = an_office()
    a_small_job(here)
    object.__setattr__(here.office, "photos", FolderPhotos(tmp_path / "photos"))
    return here


@pytest.fixture
def tablet(here: Workshop) -> ATablet:
    """One photo has come, another has not."""
    tablet = a_tablet(here)
    for data in (SMALL, OTHER):
        (answer,) = tablet.answers(tablet.entry(e.PhotoAdded(sha256(data), "The joint", "look"), ADA))
        assert answer["accepted"]
    assert keep_photo_piece(here.office, NAME, Piece(0, len(SMALL), SMALL), tablet.id).whole
    return tablet


def breaches(here: Workshop) -> list[str]:
    return [one.code for one in verify(here.office).breaches]


def change(store: Store, work: Callable[[Unit], object]) -> None:
    with store.writing() as unit:
        work(unit)
        unit.commit()


def register(here: Workshop) -> Iterator[tuple[str, str, bool]]:
    return ((one.id, one.sha256, one.here) for one in here.all("photos"))


def test_photos_as_they_came_are_no_breach(here: Workshop, tablet: ATablet) -> None:
    assert breaches(here) == []


def test_a_file_that_is_gone_is_told_and_rebuilding_does_not_hide_it(
    here: Workshop, tablet: ATablet, tmp_path: Path
) -> None:
    (tmp_path / "photos" / NAME[:2] / NAME).unlink()

    (breach,) = verify(here.office).breaches
    assert (breach.code, breach.job) == ("photo_missing", JOB)
    assert breach.words == f"The file of photo {NAME} is missing. Put it back from a backup."

    rebuild(here.office)
    assert breaches(here) == ["photo_missing"]
    here.office.photos.keep(SMALL)
    assert breaches(here) == []


def test_a_file_that_was_altered_is_told(here: Workshop, tablet: ATablet, tmp_path: Path) -> None:
    place = tmp_path / "photos" / NAME[:2] / NAME
    place.chmod(0o600)
    place.write_bytes(SMALL[:-1] + b"\0")

    (breach,) = verify(here.office).breaches
    assert (breach.code, breach.job) == ("photo_spoilt", JOB)
    assert "is not what its name says. Put back the one from a backup." in breach.words


def test_a_photo_in_the_register_that_no_entry_names_is_told_and_taken_out(here: Workshop, tablet: ATablet) -> None:
    change(here.store, lambda unit: unit.photos.add(PhotoNamed("nobody", JOB, "a" * 64)))

    (breach,) = verify(here.office).breaches
    assert breach.code == "photo_no_entry"
    assert "entry nobody, which the ledger does not have or which names none" in breach.words
    before = [one for one in register(here) if one[0] != "nobody"]

    rebuild(here.office)

    assert breaches(here) == []
    assert list(register(here)) == before


@pytest.mark.parametrize("code", ["photo_unnamed", "photo_other"])
def test_an_entry_whose_photo_is_not_in_the_register_is_told_and_put_in(
    here: Workshop, tablet: ATablet, code: str
) -> None:
    before = sorted(register(here))
    (row,) = (one for one in here.all("photos") if one.sha256 == NAME)
    assert isinstance(row, PhotoNamed)
    if code == "photo_unnamed":
        change(here.store, lambda unit: unit.remove_photo_named(row.id))
    else:
        change(here.store, lambda unit: unit.photos.save(replace(row, sha256="b" * 64, here=False)))

    assert breaches(here) == [code]
    rebuild(here.office)

    assert breaches(here) == []
    assert sorted(register(here)) == before
