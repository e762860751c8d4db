"""A letter's HTML as a page shows it: in a frame that fetches nothing, so its pictures are put within it."""

from __future__ import annotations

import base64
import re
from collections.abc import Sequence

from app.domain.handback import Drawn
from app.domain.photos import kind_of
from app.use_cases.office import Office

# No script, no form, nothing fetched, nobody else's page around it; only its own inline styles apply.
LETTER_POLICY = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'"
_PICTURE = re.compile(r'src="(cid|photo):([^"]+)"')


def with_pictures(office: Office, html: str, drawings: Sequence[Drawn]) -> str:
    """The HTML with its drawings and photos as data within it; a photo that is not here shows its words."""
    svgs = {one.name: one.svg for one in drawings}

    def put(found: re.Match[str]) -> str:
        if found[1] == "cid":
            return f'src="{_data("image/svg+xml", svgs.get(found[2], "").encode())}" width="480"'
        data = office.photos.read(found[2]) or b""
        kind = kind_of(data)
        return f'src="{_data(kind.value if kind is not None else "image/png", data)}" width="320"'

    return _PICTURE.sub(put, html)


def _data(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"
