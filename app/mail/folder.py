"""A postman who leaves each letter as one .eml file in a folder: what the house does when no mail server is set.

A file appears whole or not at all, under a name made from its Message-ID; the same message again changes nothing.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Sequence
from pathlib import Path

from app.domain.problems import Problem
from app.domain.records import OutgoingMessage
from app.mail.compose import compose
from app.ports import Delivery, Enclosure, Sender

_NAME_LIMIT = 80


class FolderPostman:
    """Writes to `folder`, which is made when it is missing."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def deliver(self, message: OutgoingMessage, sender: Sender, enclosures: Sequence[Enclosure] = ()) -> Delivery:
        mail = compose(message, sender, enclosures)
        if isinstance(mail, Problem):
            return Delivery(kept=False, for_good=mail.field in ("to", "message_id"), answer=mail.code)
        target = self._folder / file_name(message.message_id)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            fresh = _write_once(target, mail.as_bytes())
        except OSError as error:
            return Delivery(kept=False, for_good=False, answer=f"Could not write {target}: {error.strerror or error}")
        return Delivery(
            kept=True, for_good=False, answer=f"{'Written' if fresh else 'Was there already'}: {target.name}"
        )


def file_name(message_id: str) -> str:
    """A file name that any file system takes, told apart by a digest where the Message-ID had to be changed."""
    bare = message_id.strip("<>")
    plain = re.sub(r"[^A-Za-z0-9._@-]", "_", bare)[:_NAME_LIMIT].strip(".")
    if plain == bare:
        return f"{plain}.eml"
    return f"{plain}-{hashlib.sha256(message_id.encode()).hexdigest()[:12]}.eml"


def _write_once(target: Path, content: bytes) -> bool:
    """Put the file there whole, unless it is there; say whether it was put there."""
    if target.exists():
        return False
    handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=target.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        return _rename_unless_there(part, target)
    finally:
        part.unlink(missing_ok=True)


def _rename_unless_there(part: Path, target: Path) -> bool:
    """A hard link fails when the name is taken, which a rename on POSIX does not; some file systems have none."""
    try:
        os.link(part, target)
    except FileExistsError:
        return False
    except OSError:
        if target.exists():
            return False
        part.replace(target)
    return True
