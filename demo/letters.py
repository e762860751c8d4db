"""Reads the customers' letters out of the folder the post leaves them in."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from email import policy
from email.message import EmailMessage, Message
from email.parser import BytesParser
from pathlib import Path

import typst

WAIT_S = 120.0


@dataclass(frozen=True)
class Letter:
    path: Path
    to: str
    subject: str
    text: str
    html: str
    pdf: bytes = b""
    pictures: tuple[str, ...] = ()

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
        pdf=next((one.get_content() for one in message.iter_attachments() if _is_pdf(one)), b""),
        pictures=tuple(str(one.get_filename()) for one in message.walk() if one.get_content_type() == "image/png"),
    )


def _is_pdf(part: Message) -> bool:
    return part.get_content_type() == "application/pdf"


def pages_of(pdf: bytes) -> list[bytes]:
    """Every page of a PDF as a PNG: it is opened and drawn, not just looked at.

    Raises: ValueError for what does not open.
    """
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "letter.pdf").write_bytes(pdf)
        pages: list[bytes] = []
        while True:
            number = len(pages) + 1
            (root / "page.typ").write_text(
                "#set page(width: auto, height: auto, margin: 0pt)\n"
                f'#image("letter.pdf", page: {number}, width: 210mm)\n',
                encoding="utf-8",
            )
            try:
                drawn = typst.compile(root / "page.typ", root=root, format="png", ppi=96)
            except typst.TypstError as error:
                if pages and "page" in str(error):
                    return pages
                raise ValueError(str(error)) from error
            pages.append(drawn if isinstance(drawn, bytes) else drawn[0])


def _part(message: EmailMessage, kind: str) -> str:
    part = message.get_body((kind,))
    content = part.get_content() if part is not None else ""
    return content if isinstance(content, str) else ""
