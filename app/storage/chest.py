"""Where take-outs are put down and found: a folder, or one ZIP file for a browser to save.

A path of a take-out has slashes and never leaves the folder; what a manifest names otherwise is not there for us.
"""

from __future__ import annotations

import hashlib
import os
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import IO

from app.domain.problems import AlreadyThere, NoRoom
from app.files import OWNER_ONLY

PIECE = 1 << 20
# No dots at the beginning of a name, no empty names: nothing of a path points outside.
_PATH = re.compile(r"(?:[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}/){0,4}[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}")
# ZIP's own first day: a take-out's hash has no business with the clock.
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)


class FolderChest:
    """A folder that is new or empty, when it is put into."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def need_empty(self) -> None:
        """Raises: AlreadyThere when there is anything in the folder, or a file in its place."""
        if self._folder.exists() and (not self._folder.is_dir() or any(self._folder.iterdir())):
            raise AlreadyThere("take_out", str(self._folder))

    def put(self, path: str, pieces: Iterable[bytes]) -> tuple[int, str]:
        place = self._place(path)
        try:
            place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), OWNER_ONLY)
            with os.fdopen(handle, "wb") as file:
                size, sha256 = _copy(pieces, file.write)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise NoRoom(f"{place}: {error.strerror or error}") from error
        return size, sha256

    def read(self, path: str) -> Iterator[bytes] | None:
        if not _PATH.fullmatch(path) or not self._place(path).is_file():
            return None
        return self._pieces(path)

    def _pieces(self, path: str) -> Iterator[bytes]:
        with self._place(path).open("rb") as file:
            while piece := file.read(PIECE):
                yield piece

    def paths(self) -> Sequence[str]:
        found = (one for one in self._folder.rglob("*") if one.is_file())
        return tuple(sorted(one.relative_to(self._folder).as_posix() for one in found))

    def _place(self, path: str) -> Path:
        return self._folder.joinpath(*path.split("/"))


class ZipChest:
    """A ZIP file, with everything in a folder of the given name. Photos are packed already, so they are stored."""

    def __init__(self, file: IO[bytes], folder: str) -> None:
        self._zip = zipfile.ZipFile(file, "w")
        self._folder = folder

    def put(self, path: str, pieces: Iterable[bytes]) -> tuple[int, str]:
        about = zipfile.ZipInfo(f"{self._folder}/{path}", _FIRST_DAY)
        about.compress_type = zipfile.ZIP_STORED if path.startswith("photos/") else zipfile.ZIP_DEFLATED
        about.external_attr = OWNER_ONLY << 16
        try:
            with self._zip.open(about, "w", force_zip64=True) as file:
                return _copy(pieces, file.write)
        except OSError as error:
            raise NoRoom(str(error.strerror or error)) from error

    def __enter__(self) -> ZipChest:
        return self

    def __exit__(self, failed: type[BaseException] | None, *_: object) -> None:
        """Write the list of what is in it, without which it is no ZIP file; the file stays open. Raises: NoRoom."""
        try:
            self._zip.close()
        except OSError as error:
            if failed is None:
                raise NoRoom(str(error.strerror or error)) from error


class MemoryChest:
    """For tests."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}

    def put(self, path: str, pieces: Iterable[bytes]) -> tuple[int, str]:
        if path in self.files:
            raise AlreadyThere("file", path)
        self.files[path] = data = b"".join(pieces)
        return len(data), hashlib.sha256(data).hexdigest()

    def read(self, path: str) -> Iterator[bytes] | None:
        data = self.files.get(path)
        return None if data is None else iter(data[at : at + 100] for at in range(0, len(data), 100))

    def paths(self) -> Sequence[str]:
        return tuple(sorted(self.files))


def _copy(pieces: Iterable[bytes], write: Callable[[bytes], object]) -> tuple[int, str]:
    size, sha256 = 0, hashlib.sha256()
    for piece in pieces:
        write(piece)
        size += len(piece)
        sha256.update(piece)
    return size, sha256.hexdigest()
