"""`/manifest.webmanifest`: what a tablet needs to put the office on its home screen, as a page of its own.

From there a browser is more willing to keep for good what pages have kept. Source: W3C Web Application Manifest.
"""

from __future__ import annotations

import json

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.packing import packed_for
from app.web.rendering import asset

ICON_SIZES = (192, 512)
# The paper of the icon and of the pages by daylight (`--paper` in tokens.css).
PAPER = "#fbfaf6"

router = APIRouter()


@router.get("/manifest.webmanifest")
def manifest(request: Request) -> Response:
    """The same for everybody: browsers ask for it before anybody has signed in, and again with every page if they may
    not keep it.
    """
    icons = [{"src": request.app.state.assets["icon"], "sizes": "any", "type": "image/svg+xml"}]
    icons += [
        {"src": asset(f"icons/{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"} for size in ICON_SIZES
    ]
    told = {
        "id": "/work",
        "name": "Cotterpin",
        "short_name": "Cotterpin",
        "start_url": "/work",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    body, headers = packed_for(request.headers.get("accept-encoding", ""), json.dumps(told).encode())
    headers["Cache-Control"] = "public, max-age=86400"
    return Response(body, media_type="application/manifest+json", headers=headers)
