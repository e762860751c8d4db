"""Files that are there whole or not at all, and that nobody else may read where they hold a key."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

OWNER_ONLY, FOR_ALL = 0o600, 0o644


def write_whole(path: Path, body: bytes, mode: int) -> None:
    """Put a file in place with this mode from its first byte on; a power cut leaves the old one or the new one.

    Windows knows no such modes: there the folder's own rights count.
    """
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    beside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
        with os.fdopen(handle, "wb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        # The umask may have taken rights away, never added any.
        beside.chmod(mode)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    _keep_folder(path.parent)


def _keep_folder(folder: Path) -> None:
    """Windows does not open folders, and needs no such thing for the new name to last."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
