"""Files kept as they came: in a folder, named by the SHA-256 of their bytes; or in memory, for tests.

A file is written under a name of its own, brought to the disk and only then given its name, so that one that is there
is whole; read back, it is checked against its name.
"""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path
from tempfile import NamedTemporaryFile

from app.domain.problems import OursToMend

_NAME = re.compile(r"[0-9a-f]{64}")


class FolderPapers:
    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, data: bytes) -> str:
        name = hashlib.sha256(data).hexdigest()
        place = self._folder / name[:2] / name
        if place.exists():
            return name
        place.parent.mkdir(parents=True, exist_ok=True)
        with NamedTemporaryFile(dir=place.parent, prefix="coming-", delete=False) as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(file.name).replace(place)
        return name

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


class MemoryPapers:
    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def keep(self, data: bytes) -> str:
        name = hashlib.sha256(data).hexdigest()
        self._kept[name] = bytes(data)
        return name

    def read(self, sha256: str) -> bytes | None:
        return self._kept.get(sha256)
