"""`/bundle/…`: the bundle under its hash, for ever the same; the manifest of the one that is current; and `/worker.js`.

The office's own pages take their styles, fonts and icon from the same addresses, so that no tablet fetches them twice;
what only they load lies under its own hash. Open to all: nothing of the shop's is in it, and a tablet whose sign-in has
run out still has to be able to mend itself.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response

from app.bundle.bundle import KINDS, Bundle, Part
from app.packing import takes

FOR_EVER = "public, max-age=31536000, immutable"
# Browsers look past what they keep once a day, whatever they may keep.
A_DAY = "public, max-age=86400"
# What stands between a tablet's pages and the network. Its text names the bundle, and so does the address a tablet asks
# by, so that it may be kept: another is asked for when a contact says that there is another bundle. Whoever asks by an
# older bundle's address finds the newer worker all the same.
WORKER = """import {{ worker }} from "/bundle/{hash}/tablet/start.js";
worker(self, "{hash}");
"""


def make_router(bundle: Bundle) -> APIRouter:
    router = APIRouter()
    manifest_part = Part("manifest.json", bundle.manifest)

    @router.get("/worker.js")
    def worker(request: Request) -> Response:
        kept = A_DAY if request.url.query == bundle.hash else "no-cache"
        text = WORKER.format(hash=bundle.hash)
        return Response(text, media_type=KINDS[".js"], headers={"Cache-Control": kept})

    @router.get("/bundle/manifest.json")
    def manifest(request: Request) -> Response:
        return _sent(request, manifest_part, "no-cache")

    @router.get("/bundle/{content}/{path:path}")
    def part(request: Request, content: str, path: str) -> Response:
        is_manifest = (content, path) == (bundle.hash, manifest_part.path)
        found = manifest_part if is_manifest else bundle.part_at(content, path)
        return _gone() if found is None else _sent(request, found, FOR_EVER)

    return router


def _sent(request: Request, part: Part, kept: str) -> Response:
    accepted = request.headers.get("accept-encoding", "")
    headers = {"Cache-Control": kept}
    if part.packed is part.body:
        return Response(part.body, media_type=part.kind, headers=headers)
    headers["Vary"] = "Accept-Encoding"
    for name, coding in (("packed", "br"), ("gzipped", "gzip")):
        if takes(accepted, coding):
            body = getattr(part, name)
            return Response(body, media_type=part.kind, headers={**headers, "Content-Encoding": coding})
    return Response(part.body, media_type=part.kind, headers=headers)


def _gone() -> Response:
    return PlainTextResponse("The office has no such part. It has a newer bundle.", 404)
