"""Files kept as they came: in a folder, named by the SHA-256 of their bytes; or in memory, for tests.

A file that is there is whole (`app/files.py`); read back, it is checked against its name.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from app.domain.problems import NotFound, OursToMend
from app.files import OWNER_ONLY, write_whole

_NAME = re.compile(r"[0-9a-f]{64}")


class FolderPapers:
    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, data: bytes) -> str:
        name = hashlib.sha256(data).hexdigest()
        place = self._folder / name[:2] / name
        if place.exists():
            return name
        write_whole(place, data, OWNER_ONLY)
        return name

    def has(self, sha256: str) -> bool:
        return (self._folder / sha256[:2] / self.checked(sha256)).exists()

    @staticmethod
    def checked(sha256: str) -> str:
        """The name, which makes part of a path. Raises: NotFound for what is no SHA-256."""
        if not _NAME.fullmatch(sha256):
            raise NotFound("paper", sha256)
        return sha256

    def read(self, sha256: str) -> bytes | None:
        if not _NAME.fullmatch(sha256):
            return None
        try:
            data = (self._folder / sha256[:2] / sha256).read_bytes()
        except FileNotFoundError:
            return None
        if hashlib.sha256(data).hexdigest() != sha256:
            raise OursToMend(f"the file kept as {sha256} is not what its name says")
        return data

    def hashes(self) -> Sequence[str]:
        return tuple(sorted(one.name for one in self._folder.glob("??/*") if _NAME.fullmatch(one.name)))


class MemoryPapers:
    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def keep(self, data: bytes) -> str:
        name = hashlib.sha256(data).hexdigest()
        self._kept[name] = bytes(data)
        return name

    def has(self, sha256: str) -> bool:
        return sha256 in self._kept

    def read(self, sha256: str) -> bytes | None:
        return self._kept.get(sha256)

    def hashes(self) -> Sequence[str]:
        return tuple(sorted(self._kept))
