"""What every part of the exchange has in common: a bounded body of whole numbers, and a refusal in a sentence."""

from __future__ import annotations

import json
from typing import Any

from fastapi import Request
from starlette.responses import JSONResponse, Response

from app.domain.problems import Problem
from app.texts import say
from app.use_cases.office import Office
from app.use_cases.tablet_credential import tablet_of


async def bounded(request: Request, limit: int) -> bytes | None:
    """The body, unless it is larger than it may be."""
    got = bytearray()
    async for piece in request.stream():
        got += piece
        if len(got) > limit:
            return None
    return bytes(got)


def read_object(raw: bytes) -> dict[str, Any] | None:
    """A JSON object without a fraction anywhere in it; None for anything else."""
    try:
        data = json.loads(raw, parse_float=_no_fractions, parse_constant=_no_fractions)
    except (ValueError, RecursionError):
        return None
    return data if isinstance(data, dict) else None


def _no_fractions(text: str) -> Any:
    raise ValueError(f"{text} is no whole number")


def credential_of(request: Request) -> str:
    return request.headers.get("authorization", "")


def refused(status: int, problem: Problem) -> JSONResponse:
    return JSONResponse({"problem": problem.code, "field": problem.field, "words": say(problem)}, status)


def refused_to(office: Office, credential: str, problem: Problem, status: int = 422) -> JSONResponse:
    """What is wrong with a message, said to a tablet in use alone."""
    return refused(status, problem) if tablet_of(office, credential) is not None else unknown()


def unknown() -> JSONResponse:
    """The credential is no tablet's in use. The tablet keeps everything and says so."""
    return refused(401, Problem("tablet_unknown"))


class SignInCookie:
    """The cookie of a sign-in at this browser, as the pages know it."""

    def __init__(self, name: str, *, secure: bool) -> None:
        self._name = name
        self._secure = secure

    def token_in(self, request: Request) -> str:
        return request.cookies.get(self._name, "")

    def set(self, response: Response, token: str) -> None:
        response.set_cookie(self._name, token, httponly=True, samesite="strict", secure=self._secure, path="/")

    def clear(self, response: Response) -> None:
        response.delete_cookie(self._name, httponly=True, samesite="strict", secure=self._secure, path="/")
