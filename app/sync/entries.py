"""`POST /sync/entries`: entries in, rulings out, as JSON. The exchange is described in `shared/contracts/sync.md`."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Protocol

from fastapi import APIRouter, Depends, Request
from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from app.domain.canonical import NotCanonical, canonical
from app.domain.entry import Entry, entry_from
from app.domain.problems import NotFound, Problem
from app.texts import say, say_ruling
from app.use_cases.hear_tablet import Answered, BatchAnswer, hear_tablet
from app.use_cases.office import Office

BATCH_LIMIT = 200
BYTES_LIMIT = 4 * 1024 * 1024


class SignedIn(Protocol):
    """What the exchange needs to know of who is asking."""

    @property
    def person_id(self) -> str: ...

    @property
    def csrf(self) -> str: ...


def make_router(office: Office, signed_in: Callable[..., SignedIn]) -> APIRouter:
    """The exchange for a wired office; `signed_in` is the dependency that knows who is asking."""
    router = APIRouter()

    @router.post("/sync/entries")
    async def entries(request: Request, visitor: SignedIn = Depends(signed_in)) -> JSONResponse:
        if request.headers.get("x-csrf", "") != visitor.csrf:
            return _refused(403, Problem("form_forged"))
        raw = await _bounded(request)
        if raw is None:
            return _refused(413, Problem("batch_too_large", "", {"limit": BATCH_LIMIT}))
        read = read_batch(raw)
        if isinstance(read, Problem):
            return _refused(422, read)
        tablet, batch = read
        try:
            answer = await run_in_threadpool(hear_tablet, office, tablet, visitor.person_id, batch)
        except NotFound:
            return _refused(404, Problem("tablet_unknown", "tablet"))
        return JSONResponse(_told(answer))

    return router


async def _bounded(request: Request) -> bytes | None:
    """The body, unless it is larger than any batch may be."""
    got = bytearray()
    async for piece in request.stream():
        got += piece
        if len(got) > BYTES_LIMIT:
            return None
    return bytes(got)


def read_batch(raw: bytes) -> tuple[str, list[tuple[Entry, str]]] | Problem:
    """Read `{"tablet": …, "entries": [envelope, …]}`. Envelopes are checked; bodies are for the rules."""
    try:
        data = json.loads(raw, parse_float=_no_floats, parse_constant=_no_floats)
    except (ValueError, RecursionError):
        return Problem("batch_unreadable")
    if (
        not isinstance(data, dict)
        or not isinstance(data.get("tablet"), str)
        or not isinstance(data.get("entries"), list)
    ):
        return Problem("batch_unreadable")
    if len(data["entries"]) > BATCH_LIMIT:
        return Problem("batch_too_large", "entries", {"limit": BATCH_LIMIT})
    batch = []
    for place, envelope in enumerate(data["entries"]):
        try:
            text = canonical(envelope).decode()
            batch.append((entry_from(envelope), text))
        except (ValidationError, NotCanonical, UnicodeError, TypeError, RecursionError):
            return Problem("entry_unreadable", "entries", {"place": place + 1})
    return data["tablet"], batch


def _no_floats(text: str) -> Any:
    raise ValueError(f"{text} is no whole number")


def _told(answer: BatchAnswer) -> dict[str, Any]:
    return {
        "next_seq": answer.next_seq,
        "answers": [_answer(one, place) for place, one in enumerate(answer.answers, 1)],
    }


def _answer(one: Answered, place: int) -> dict[str, Any]:
    if one.recorded is None:
        problem = one.problem or Problem("entry_unreadable", "", {"place": place})
        return {"id": one.id, "kept": False, "problem": problem.code, "words": say(problem)}
    ruling = one.recorded.ruling
    return {
        "id": one.id,
        "kept": True,
        "order": one.recorded.order,
        "accepted": ruling.accepted,
        "reason": ruling.reason,
        "details": dict(ruling.details),
        "words": "" if ruling.accepted else say_ruling(ruling.reason, ruling.details),
        "repeated": one.recorded.repeated,
    }


def _refused(status: int, problem: Problem) -> JSONResponse:
    return JSONResponse({"problem": problem.code, "words": say(problem)}, status)
