"""What a page keeps of a text that was typed into a form, said apart from the code that does it."""

from __future__ import annotations

# What no keyboard types, and every field leaves out: the NUL, and what turns the direction of all that follows (Unicode
# annex 9: explicit embeddings, overrides and isolates).
_NEVER_TYPED = dict.fromkeys([0, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])


def as_kept(text: str) -> str:
    return text.replace("\r\n", "\n").translate(_NEVER_TYPED)
