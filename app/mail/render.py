"""From facts to a letter: subject, text and HTML of one message, from its folder under `templates/mail`."""

from __future__ import annotations

import re
import textwrap
from dataclasses import fields

from app.language.speech import speaking
from app.language.templates import SpeakingEnvironment
from app.mail.drawings import letter_drawings
from app.mail.headers import body_text, header_text
from app.ports import Letter
from app.use_cases.handback_letter import HandbackFacts

TEXT_WIDTH = 72
_LEAD = re.compile(r"\s*(?:- )?")
_FOLDERS: dict[type, str] = {HandbackFacts: "handback"}


def write_letter(environment: SpeakingEnvironment, facts: object) -> Letter:
    """Render the three templates of the message that is written from facts of this type.

    The environment reads from `templates/` in the letter's language,
    escapes in `.html` and fails on missing names (`StrictUndefined`). The
    templates see the names of the facts' fields.
    Raises: TypeError for facts that no message is written from; jinja2.UndefinedError for a name they do not have.
    """
    folder = _FOLDERS.get(type(facts))
    if folder is None:
        raise TypeError(f"facts: no message is written from {type(facts).__name__}; it needs a folder in _FOLDERS")
    names = {field.name: getattr(facts, field.name) for field in fields(facts)}  # type: ignore[arg-type]
    with speaking(environment.language):
        return _written(environment, folder, names, facts)


def _written(environment: SpeakingEnvironment, folder: str, names: dict[str, object], facts: object) -> Letter:
    drawings = letter_drawings(environment, facts) if isinstance(facts, HandbackFacts) else ()
    names |= {"pictured": {one.name: one.words for one in drawings}, "written_in": environment.language}

    def rendered(name: str, *, on_paper: bool = False) -> str:
        return environment.get_template(f"mail/{folder}/{name}").render(names, on_paper=on_paper)

    return Letter(
        subject=header_text(rendered("subject.txt")),
        text=wrapped(body_text(rendered("text.txt"))),
        html=body_text(rendered("html.html")).strip() + "\n",
        paper=body_text(rendered("html.html", on_paper=True)).strip() + "\n",
        drawings=drawings,
        language=environment.language,
    )


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
