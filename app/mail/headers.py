"""Text that goes into a header: one line, no hidden characters, never long enough to hurt.

A name with a line break in it could otherwise write headers of its own; one with a change of writing direction could
make an address look like another.
"""

from __future__ import annotations

import unicodedata

HEADER_LIMIT = 200  # characters; house rule: a subject or name beyond this is cut, with an ellipsis
# Joiners are hidden too, but Persian and the scripts of India are spelt with them.
_KEPT = frozenset("\u200c\u200d")


def header_text(text: str, limit: int = HEADER_LIMIT) -> str:
    """The text as one line without control, direction or line-separating characters; half characters become U+FFFD.

    "=?" opens an encoded word, which would be decoded on the way, whatever is in it: it is pulled apart.
    """
    spaced = "".join(_visible(character) for character in text)
    line = " ".join(spaced.split()).replace("=?", "= ?")
    return line if len(line) <= limit else line[: limit - 1].rstrip() + "…"


def _visible(character: str) -> str:
    category = unicodedata.category(character)
    if category == "Cs":
        return "\ufffd"
    if category in ("Cc", "Zl", "Zp"):
        return " "
    return "" if category == "Cf" and character not in _KEPT else character


def body_text(text: str) -> str:
    """A body that can be encoded: line breaks and tabs stay, other control characters go."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(
        character if character in "\n\t" else _visible(character) if _is_odd(character) else character
        for character in lines
    )


def _is_odd(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp")
