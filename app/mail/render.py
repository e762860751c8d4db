"""From facts to a letter: subject, text and HTML of one message, by its folder under `templates/mail`."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.mail.headers import body_text, header_text

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

TEXT_WIDTH = 72
_LEAD = re.compile(r"\s*(?:- )?")


@dataclass(frozen=True, slots=True)
class Letter:
    subject: str
    text: str
    html: str


def mail_environment(folder: Path) -> Environment:
    """The environment of the mail templates, `folder` being `templates/mail`. A name that is missing fails loudly."""
    return Environment(
        loader=FileSystemLoader(folder),
        undefined=StrictUndefined,
        autoescape=lambda name: name is not None and name.endswith(".html"),
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def render_letter(environment: Environment, message: str, facts: DataclassInstance) -> Letter:
    """Render the three templates of a message. The templates see the names of the facts' fields and nothing else.

    Raises: jinja2.UndefinedError for a name that the facts do not have.
    """
    names = _names(facts)
    return Letter(
        subject=header_text(environment.get_template(f"{message}/subject.txt").render(names)),
        text=wrapped(body_text(environment.get_template(f"{message}/text.txt").render(names))),
        html=body_text(environment.get_template(f"{message}/html.html").render(names)),
    )


def _names(facts: DataclassInstance) -> dict[str, Any]:
    return {field.name: getattr(facts, field.name) for field in fields(facts)}


def wrapped(text: str, width: int = TEXT_WIDTH) -> str:
    """The text with no line longer than `width`, but for words that are; a wrapped line keeps its indent.

    Blank lines never stand in twos, so that an absent section leaves no hole.
    """
    lines = "\n".join(_wrapped_line(line.rstrip(), width) for line in text.splitlines())
    return re.sub(r"\n{3,}", "\n\n", lines).strip() + "\n"


def _wrapped_line(line: str, width: int) -> str:
    if len(line) <= width:
        return line
    lead = _LEAD.match(line)
    indent = len(lead.group()) if lead else 0
    return textwrap.fill(
        line, width, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False,
        drop_whitespace=True,
    )  # fmt: skip
