"""Photos' bytes: whole ones as papers are kept, and beside them, in a folder of their own, those that are still coming.

A piece is on the disk before it is answered for. What was half written when the office died is cut off or found out by
the photo's hash, and then sent again. One office process writes here.
"""

from __future__ import annotations

import os
from pathlib import Path
from threading import Lock

from app.domain.problems import NoRoom
from app.storage.papers import FolderPapers, MemoryPapers


class FolderPhotos(FolderPapers):
    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._coming = folder / "coming"
        self._lock = Lock()

    def keep(self, data: bytes) -> str:
        try:
            return super().keep(data)
        except OSError as error:
            raise NoRoom(str(error)) from error

    def come(self, sha256: str) -> int:
        try:
            return self._piece(sha256).stat().st_size
        except FileNotFoundError:
            return 0

    def add_piece(self, sha256: str, offset: int, piece: bytes) -> int:
        place = self._piece(sha256)
        try:
            with self._lock:
                self._coming.mkdir(parents=True, exist_ok=True)
                with place.open("ab") as file:
                    size = file.tell()
                    if offset != size:
                        return size
                    try:
                        file.write(piece)
                        file.flush()
                        os.fsync(file.fileno())
                    except OSError:
                        os.ftruncate(file.fileno(), size)
                        raise
            return size + len(piece)
        except OSError as error:
            raise NoRoom(str(error)) from error

    def pieces(self, sha256: str) -> bytes:
        try:
            return self._piece(sha256).read_bytes()
        except FileNotFoundError:
            return b""

    def drop_pieces(self, sha256: str) -> None:
        self._piece(sha256).unlink(missing_ok=True)

    def _piece(self, sha256: str) -> Path:
        return self._coming / self.checked(sha256)


class MemoryPhotos(MemoryPapers):
    def __init__(self) -> None:
        super().__init__()
        self._coming: dict[str, bytes] = {}

    def come(self, sha256: str) -> int:
        return len(self._coming.get(sha256, b""))

    def add_piece(self, sha256: str, offset: int, piece: bytes) -> int:
        there = self._coming.get(sha256, b"")
        if offset == len(there):
            self._coming[sha256] = there = there + piece
        return len(there)

    def pieces(self, sha256: str) -> bytes:
        return self._coming.get(sha256, b"")

    def drop_pieces(self, sha256: str) -> None:
        self._coming.pop(sha256, None)
