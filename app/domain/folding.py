"""Text as it is compared when somebody looks for it."""

from __future__ import annotations

import unicodedata


def folded(text: str) -> str:
    """The same for letters in any case, whole or in pieces, wide or narrow: one keyboard writes é, another e and ´.

    Source: Unicode Standard, 5.18.4 and annex 15 (compatibility composition before and after folding), from memory.
    """
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
