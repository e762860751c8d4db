"""`POST /sync/entries`: entries in, rulings out, as JSON. The exchange is described in `shared/contracts/sync.md`."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from app.domain.canonical import LARGEST_WHOLE
from app.domain.entry import entry_from, entry_in_part, kept_text
from app.domain.problems import NotFound, Problem
from app.sync.exchange import bounded, credential_of, read_object, refused, refused_to, unknown
from app.texts import say, say_ruling
from app.use_cases.hear_tablet import Answered, BatchAnswer, Sent, hear_tablet
from app.use_cases.office import Office
from app.use_cases.tablet_credential import names

BATCH_LIMIT = 200
BYTES_LIMIT = 4 * 1024 * 1024


def make_router(office: Office) -> APIRouter:
    """The exchange for a wired office."""
    router = APIRouter()

    @router.post("/sync/entries")
    async def entries(request: Request) -> JSONResponse:
        raw = await bounded(request, BYTES_LIMIT)
        if raw is None:
            return refused(413, Problem("batch_too_large", "entries", {"limit": BATCH_LIMIT}))
        # One hop to a thread for credential, reading, ruling and answer together: a hop costs more than the reading.
        return await run_in_threadpool(_answer_to, office, credential_of(request), raw)

    return router


def _answer_to(office: Office, credential: str, raw: bytes) -> JSONResponse:
    read = read_batch(raw)
    if isinstance(read, Problem):
        return refused_to(office, credential, read, 413 if read.code == "batch_too_large" else 422)
    tablet, batch, counted = read
    if names(credential) != tablet:
        return refused_to(office, credential, Problem("not_yours", "tablet"))
    try:
        return JSONResponse(_told(hear_tablet(office, credential, batch, *counted)))
    except NotFound:
        return unknown()


def read_batch(raw: bytes) -> tuple[str, list[Sent], tuple[int | None, int]] | Problem:
    """Read `{"tablet": …, "number": …, "went_back": …, "entries": [envelope, …]}`; envelopes are for the rules.

    The number of contacts until then, and whether it went back, are not said by an older bundle.
    """
    data = read_object(raw)
    if data is None or not isinstance(data.get("tablet"), str) or not isinstance(data.get("entries"), list):
        return Problem("batch_unreadable")
    if len(data["entries"]) > BATCH_LIMIT:
        return Problem("batch_too_large", "entries", {"limit": BATCH_LIMIT})
    number, went_back = data.get("number"), data.get("went_back", 0)
    if not all(type(one) is int and 0 <= one <= LARGEST_WHOLE for one in (0 if number is None else number, went_back)):
        return Problem("batch_unreadable")
    return data["tablet"], [_sent(envelope) for envelope in data["entries"]], (number, went_back)


def _sent(envelope: Any) -> Sent:
    if not isinstance(envelope, dict):
        return Sent(None)
    try:
        return Sent(entry_from(envelope), kept_text(envelope))
    except ValidationError:
        # Kept whole all the same, where it says whose it is.
        return Sent(entry_in_part(envelope), kept_text(envelope))
    except RecursionError:
        return Sent(None)


def _told(answer: BatchAnswer) -> dict[str, Any]:
    return {"next_seq": answer.next_seq, "answers": [_answer(one) for one in answer.answers]}


def _answer(one: Answered) -> dict[str, Any]:
    if one.recorded is None:
        problem = one.problem or Problem("batch_unreadable")
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
