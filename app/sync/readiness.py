"""`POST /sync/readiness`: what a tablet proved of itself, `{"tablet": …, "points": [{"key", "passed", "words"}, …]}`.

Asked for by the tablet's credential alone: it has to work before anybody can sign in there.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from app.domain.problems import NotFound, Problem, Refused
from app.domain.readiness import ReadinessPoint
from app.texts import say
from app.use_cases.keep_readiness import keep_readiness
from app.use_cases.office import Office

BYTES_LIMIT = 64 * 1024


def make_router(office: Office, tablet_of: Callable[[str], str | None]) -> APIRouter:
    """`tablet_of` gives the id of the tablet whose credential an Authorization header holds, or None."""
    router = APIRouter()

    @router.post("/sync/readiness")
    async def readiness(request: Request) -> JSONResponse:
        tablet = await run_in_threadpool(tablet_of, request.headers.get("authorization", ""))
        if tablet is None:
            return _refused(401, Problem("tablet_unknown"))
        raw = await _bounded(request)
        if raw is None:
            return _refused(413, Problem("readiness_unreadable"))
        points = read_points(raw, tablet)
        if points is None:
            return _refused(422, Problem("readiness_unreadable"))
        try:
            check = await run_in_threadpool(keep_readiness, office, tablet, points)
        except NotFound:
            return _refused(401, Problem("tablet_unknown"))
        except Refused as refused:
            return _refused(422, refused.problems[0])
        return JSONResponse({"kept": True, "missing": list(check.missing)})

    return router


async def _bounded(request: Request) -> bytes | None:
    got = bytearray()
    async for piece in request.stream():
        got += piece
        if len(got) > BYTES_LIMIT:
            return None
    return bytes(got)


def read_points(raw: bytes, tablet: str) -> list[ReadinessPoint] | None:
    """The points of this tablet's own report, or None for anything that is no report of it."""
    try:
        data = json.loads(raw)
    except (ValueError, RecursionError):
        return None
    if not isinstance(data, dict) or data.get("tablet") != tablet or not isinstance(data.get("points"), list):
        return None
    points = [_point(one) for one in data["points"]]
    return None if None in points else [one for one in points if one is not None]


def _point(data: Any) -> ReadinessPoint | None:
    if not isinstance(data, dict):
        return None
    key, passed, words = (data.get(name) for name in ("key", "passed", "words"))
    if not isinstance(key, str) or not isinstance(passed, bool) or not isinstance(words, str):
        return None
    # What no database keeps: PostgreSQL refuses the one, UTF-8 the others.
    clean = "".join(one for one in words if one != "\0" and not "\ud800" <= one <= "\udfff")
    return ReadinessPoint(key, passed, clean)


def _refused(status: int, problem: Problem) -> JSONResponse:
    return JSONResponse({"problem": problem.code, "words": say(problem)}, status)
