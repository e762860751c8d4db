"""`/sync/photos/{sha256}`: photos' bytes from tablets, in pieces. See `shared/contracts/sync.md`.

HEAD asks how much is here, POST brings the next piece, GET gives the photo to a tablet on which somebody has signed in
without the office; all by the tablet's credential.
"""

from __future__ import annotations

import re

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from app.domain.photos import PIECE_BYTES
from app.domain.problems import NotFound, Problem
from app.sync.exchange import bounded, credential_of, refused, refused_to, unknown
from app.texts import say
from app.use_cases.keep_photo_piece import Come, Piece, keep_photo_piece, photo_come
from app.use_cases.office import Office
from app.use_cases.see_photo import see_photo
from app.use_cases.tablet_credential import tablet_of

_NUMBER = re.compile(r"[0-9]{1,12}")
_STATUS = {
    "photo_unknown": 404,
    "photo_gap": 409,
    "photos_full": 409,
    "photo_too_large": 413,
    "photo_piece_too_large": 413,
    "photo_no_room": 507,
}


def make_router(office: Office) -> APIRouter:
    router = APIRouter()

    @router.get("/sync/photos/{sha256}")
    async def photo(request: Request, sha256: str) -> Response:
        return await run_in_threadpool(_photo, office, credential_of(request), sha256)

    @router.head("/sync/photos/{sha256}")
    async def come(request: Request, sha256: str) -> Response:
        return await run_in_threadpool(_have, office, credential_of(request), sha256)

    @router.post("/sync/photos/{sha256}")
    async def piece(request: Request, sha256: str, offset: str = "", size: str = "") -> Response:
        data = await bounded(request, PIECE_BYTES)
        return await run_in_threadpool(_keep, office, credential_of(request), sha256, (offset, size), data)

    return router


def _photo(office: Office, credential: str, sha256: str) -> Response:
    if tablet_of(office, credential) is None:
        return unknown()
    try:
        seen = see_photo(office, sha256)
    except NotFound:
        return refused(404, Problem("photo_unknown"))
    return Response(seen.data, media_type=seen.kind) if seen is not None else refused(404, Problem("photo_not_here"))


def _have(office: Office, credential: str, sha256: str) -> Response:
    tablet = tablet_of(office, credential)
    if tablet is None:
        return Response(status_code=401)
    here = photo_come(office, sha256, tablet)
    headers = {"X-Photo-Have": str(here.have), "X-Photo-Whole": "yes" if here.whole else "no"}
    return Response(status_code=_status(here), headers=headers)


def _keep(office: Office, credential: str, sha256: str, said: tuple[str, str], data: bytes | None) -> JSONResponse:
    if data is None:
        problem = Problem("photo_piece_too_large", "", {"limit": PIECE_BYTES // 1_024})
        return refused_to(office, credential, problem, 413)
    tablet = tablet_of(office, credential)
    if tablet is None:
        return unknown()
    if not all(_NUMBER.fullmatch(one) for one in said):
        return _told(Come(0, problem=Problem("photo_piece_wrong")))
    return _told(keep_photo_piece(office, sha256, Piece(int(said[0]), int(said[1]), data), tablet))


def _told(here: Come) -> JSONResponse:
    told: dict[str, object] = {"have": here.have, "whole": here.whole}
    if here.problem is not None:
        told |= {"problem": here.problem.code, "words": say(here.problem)}
    return JSONResponse(told, _status(here))


def _status(here: Come) -> int:
    return 200 if here.problem is None else _STATUS.get(here.problem.code, 422)
