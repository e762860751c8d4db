"""Reads the customers' letters out of the folder the post leaves them in."""

from __future__ import annotations

import time
from dataclasses import dataclass
from email import policy
from email.message import EmailMessage
from email.parser import BytesParser
from pathlib import Path

WAIT_S = 30.0


@dataclass(frozen=True)
class Letter:
    path: Path
    to: str
    subject: str
    text: str
    html: str

    def says(self, words: str) -> bool:
        """Whether the plain text says this, however its lines are broken."""
        return " ".join(words.split()) in " ".join(self.text.split())


def wait_for_letters(post: Path, count: int, wait_s: float = WAIT_S) -> list[Letter]:
    """The letters, once so many are there, or what there is when the time is up."""
    until = time.monotonic() + wait_s
    while len(list(post.glob("*.eml"))) < count and time.monotonic() < until:
        time.sleep(0.2)
    return [read_letter(path) for path in sorted(post.glob("*.eml"))]


def read_letter(path: Path) -> Letter:
    message = BytesParser(EmailMessage, policy=policy.default).parsebytes(path.read_bytes())
    return Letter(
        path=path,
        to=str(message["To"]),
        subject=str(message["Subject"]),
        text=_part(message, "plain"),
        html=_part(message, "html"),
    )


def _part(message: EmailMessage, kind: str) -> str:
    part = message.get_body((kind,))
    content = part.get_content() if part is not None else ""
    return content if isinstance(content, str) else ""
