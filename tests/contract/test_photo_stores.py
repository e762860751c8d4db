"""The promises of a store for photos, by each that there is; and of the folder, what a full or dying disk leaves."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from app.domain.problems import NoRoom, NotFound, OursToMend
from app.ports import Photos
from app.storage.photos import FolderPhotos, MemoryPhotos
from tests.pictures import a_picture, sha256

PHOTO = a_picture()
NAME = sha256(PHOTO)


@pytest.fixture(params=["memory", "folder"])
def photos(request: pytest.FixtureRequest, tmp_path: Path) -> Photos:
    return MemoryPhotos() if request.param == "memory" else FolderPhotos(tmp_path / "photos")


def test_what_is_kept_is_there_whole(photos: Photos) -> None:
    assert not photos.has(NAME)
    assert photos.read(NAME) is None

    assert photos.keep(PHOTO) == NAME
    assert photos.keep(PHOTO) == NAME

    assert photos.has(NAME)
    assert photos.read(NAME) == PHOTO


def test_hashes_are_of_whole_photos_alone(photos: Photos) -> None:
    assert photos.hashes() == ()
    photos.keep(PHOTO)
    other = photos.keep(b"another")
    photos.add_piece("0" * 64, 0, b"half")

    assert photos.hashes() == tuple(sorted((NAME, other)))


def test_pieces_add_up_in_their_order_and_none_counts_twice(photos: Photos) -> None:
    assert photos.come(NAME) == 0
    assert photos.pieces(NAME) == b""
    assert photos.add_piece(NAME, 0, PHOTO[:100]) == 100
    assert photos.add_piece(NAME, 0, PHOTO[:100]) == 100
    assert photos.add_piece(NAME, 300, PHOTO[300:]) == 100
    assert photos.add_piece(NAME, 100, PHOTO[100:]) == len(PHOTO)

    assert photos.come(NAME) == len(PHOTO)
    assert photos.pieces(NAME) == PHOTO
    assert not photos.has(NAME)


def test_pieces_thrown_away_are_gone_and_it_begins_anew(photos: Photos) -> None:
    photos.add_piece(NAME, 0, b"wrong")

    photos.drop_pieces(NAME)
    photos.drop_pieces(NAME)

    assert photos.come(NAME) == 0
    assert photos.add_piece(NAME, 0, PHOTO) == len(PHOTO)


# --- The folder ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "A" * 64, "a" * 63, "coming", "a" * 64 + "/../x"])
@pytest.mark.parametrize("does", ["has", "come", "pieces", "drop_pieces"])
def test_only_a_hash_is_ever_part_of_a_path(tmp_path: Path, name: str, does: str) -> None:
    with pytest.raises(NotFound):
        getattr(FolderPhotos(tmp_path), does)(name)
    assert FolderPhotos(tmp_path).read(name) is None


def test_another_process_goes_on_where_this_one_stopped(tmp_path: Path) -> None:
    FolderPhotos(tmp_path).add_piece(NAME, 0, PHOTO[:100])

    assert FolderPhotos(tmp_path).come(NAME) == 100


def test_a_piece_is_on_the_disk_before_it_is_answered_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    brought: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda handle: brought.append(os.fstat(handle).st_size))

    FolderPhotos(tmp_path).add_piece(NAME, 0, PHOTO[:100])
    FolderPhotos(tmp_path).add_piece(NAME, 100, PHOTO[100:200])

    assert brought == [100, 200]


def full(*_: Any) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_disk_full_at_a_piece_leaves_nothing_of_the_piece(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    photos = FolderPhotos(tmp_path)
    photos.add_piece(NAME, 0, PHOTO[:100])
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(NoRoom):
            photos.add_piece(NAME, 100, PHOTO[100:])

    assert photos.come(NAME) == 100
    assert photos.add_piece(NAME, 100, PHOTO[100:]) == len(PHOTO)


@pytest.mark.parametrize("broken", ["fsync", "replace"])
def test_a_disk_full_at_the_end_leaves_no_half_photo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    photos = FolderPhotos(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(*((os, "fsync") if broken == "fsync" else (Path, "replace")), full)
        with pytest.raises(NoRoom):
            photos.keep(PHOTO)

    assert not photos.has(NAME)
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []
    assert photos.keep(PHOTO) == NAME
    assert photos.read(NAME) == PHOTO


def test_a_file_that_is_not_what_its_name_says_is_told(tmp_path: Path) -> None:
    photos = FolderPhotos(tmp_path)
    photos.keep(PHOTO)
    (tmp_path / NAME[:2] / NAME).write_bytes(PHOTO[:-1])

    with pytest.raises(OursToMend):
        photos.read(NAME)


@pytest.mark.parametrize("act", [lambda p: p.keep(PHOTO), lambda p: p.add_piece(NAME, 0, PHOTO)], ids=["keep", "piece"])
def test_a_folder_that_cannot_be_is_told_as_no_room(tmp_path: Path, act: Callable[[FolderPhotos], object]) -> None:
    (tmp_path / "taken").write_bytes(b"a file in the folder's place")

    with pytest.raises(NoRoom):
        act(FolderPhotos(tmp_path / "taken"))
