"""`/bundle/…`: the bundle under its hash, for ever the same; the manifest of the one that is current; and `/worker.js`.

Open to all: nothing of the shop's is in it, and a tablet whose sign-in has run out still has to be able to mend itself.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response

from app.bundle.bundle import KINDS, Bundle

FOR_EVER = "public, max-age=31536000, immutable"
# What stands between a tablet's pages and the network. Its address never changes and its text names the bundle, so a
# browser that looks again finds either nothing new or a whole new bundle.
WORKER = """import {{ worker }} from "/bundle/{hash}/tablet/start.js";
worker(self, "{hash}");
"""


def make_router(bundle: Bundle) -> APIRouter:
    router = APIRouter()

    @router.get("/worker.js")
    def worker() -> Response:
        text = WORKER.format(hash=bundle.hash)
        return Response(text, media_type=KINDS[".js"], headers={"Cache-Control": "no-cache"})

    @router.get("/bundle/manifest.json")
    def manifest() -> Response:
        return Response(bundle.manifest, media_type="application/json", headers={"Cache-Control": "no-cache"})

    @router.get("/bundle/{content}/{path:path}")
    def part(request: Request, content: str, path: str) -> Response:
        if content != bundle.hash:
            return _gone()
        if path == "manifest.json":
            return Response(bundle.manifest, media_type=KINDS[".json"], headers={"Cache-Control": FOR_EVER})
        found = bundle.parts.get(path)
        if found is None:
            return _gone()
        accepted = request.headers.get("accept-encoding", "")
        headers = {"Cache-Control": FOR_EVER, "Vary": "Accept-Encoding"}
        for name, body in (("br", found.packed), ("gzip", found.gzipped)):
            if body is not found.body and takes(accepted, name):
                return Response(body, media_type=found.kind, headers={**headers, "Content-Encoding": name})
        return Response(found.body, media_type=found.kind, headers=headers)

    return router


def _gone() -> Response:
    return PlainTextResponse("The office has no such part. It has a newer bundle.", 404)


def takes(accepted: str, coding: str) -> bool:
    """Whether an Accept-Encoding header names a coding and does not refuse it (RFC 9110, 12.5.3)."""
    for one in accepted.lower().split(","):
        name, _, weight = one.partition(";")
        if name.strip() == coding:
            value = weight.strip().removeprefix("q=")
            return not value or value.strip("0.") != ""
    return False
