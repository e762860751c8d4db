"""`/bundle/…`: the bundle under its hash, for ever the same; and the manifest of the one that is current.

Open to all: nothing of the shop's is in it, and a tablet whose sign-in has run out still has to be able to mend itself.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response

from app.bundle.bundle import Bundle

FOR_EVER = "public, max-age=31536000, immutable"


def make_router(bundle: Bundle) -> APIRouter:
    router = APIRouter()

    @router.get("/bundle/manifest.json")
    def manifest() -> Response:
        return Response(bundle.manifest, media_type="application/json", headers={"Cache-Control": "no-cache"})

    @router.get("/bundle/{content}/{path:path}")
    def part(request: Request, content: str, path: str) -> Response:
        found = bundle.parts.get(path) if content == bundle.hash else None
        if found is None:
            return PlainTextResponse("The office has no such part. It has a newer bundle.", 404)
        headers = {"Cache-Control": FOR_EVER, "Vary": "Accept-Encoding"}
        if found.packed is found.body or not takes_gzip(request.headers.get("accept-encoding", "")):
            return Response(found.body, media_type=found.kind, headers=headers)
        return Response(found.packed, media_type=found.kind, headers={**headers, "Content-Encoding": "gzip"})

    return router


def takes_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding header names gzip and does not refuse it (RFC 9110, 12.5.3)."""
    for one in accepted.lower().split(","):
        name, _, weight = one.partition(";")
        if name.strip() == "gzip":
            value = weight.strip().removeprefix("q=")
            return not value or value.strip("0.") != ""
    return False
