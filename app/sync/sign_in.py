"""`POST /sync/sign-in`: a person and a PIN at an enrolled tablet; `POST /sync/enrol`: a device becomes a tablet."""

from __future__ import annotations

import secrets

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from app.domain.problems import NotFound, Problem, Refused
from app.language.speech import speak
from app.sync.exchange import SignInCookie, bounded, credential_of, read_object, refused, refused_to, unknown
from app.use_cases.enrol_tablet import enrol_tablet
from app.use_cases.office import Office, the_shop
from app.use_cases.sign_in_at_tablet import sign_in_at_tablet
from app.use_cases.tablet_credential import names

BYTES_LIMIT = 16 * 1024
LONGEST = 1_000


def make_router(office: Office, cookie: SignInCookie) -> APIRouter:
    """Both need no cookie: the one has the tablet's credential, the other a foreman's one-time code."""
    router = APIRouter()

    @router.post("/sync/sign-in")
    async def sign_in(request: Request) -> JSONResponse:
        raw = await bounded(request, BYTES_LIMIT) or b""
        return await run_in_threadpool(_sign_in, credential_of(request), raw)

    @router.post("/sync/enrol")
    async def enrol(request: Request) -> JSONResponse:
        raw = await bounded(request, BYTES_LIMIT) or b""
        return await run_in_threadpool(_enrol, credential_of(request), raw)

    def _sign_in(credential: str, raw: bytes) -> JSONResponse:
        sent = read_texts(raw, "tablet", "person", "pin")
        if sent is None:
            return refused_to(office, credential, Problem("sign_in_unreadable"))
        tablet, person, pin = sent
        with office.store.reading() as unit:
            known = unit.people.get(person)
            speak((known.language if known is not None else "") or the_shop(unit).language)
        if names(credential) != tablet:
            return refused_to(office, credential, Problem("not_yours", "tablet"))
        try:
            outcome = sign_in_at_tablet(office, credential, person, pin, lambda: secrets.token_urlsafe(32))
        except NotFound:
            return unknown()
        if isinstance(outcome, Problem):
            return refused(422, outcome)
        found = outcome.person
        roles = sorted(role.value for role in found.roles)
        person_now = {"id": found.id, "name": found.name, "roles": roles, "language": found.language}
        response = JSONResponse({"person": person_now, "csrf": outcome.csrf})
        cookie.set(response, outcome.token)
        return response

    def _enrol(credential: str, raw: bytes) -> JSONResponse:
        sent = read_texts(raw, "code", "name")
        if sent is None:
            return refused(422, Problem("enrol_unreadable"))
        code, name = sent
        try:
            enrolled = enrol_tablet(office, code, name, lambda: secrets.token_hex(32), was=credential)
        except Refused as problems:
            return refused(422, problems.problems[0])
        tablet = enrolled.tablet
        return JSONResponse({"tablet": {"id": tablet.id, "name": tablet.name}, "secret": enrolled.secret})

    return router


def read_texts(raw: bytes, *names: str) -> list[str] | None:
    """The named members of a JSON object, all of them texts of a bearable length that any store can hold."""
    data = read_object(raw)
    found = [data.get(name) for name in names] if data is not None else [None]
    texts = [one for one in found if isinstance(one, str) and len(one) <= LONGEST and _can_be_kept(one)]
    return texts if len(texts) == len(found) else None


def _can_be_kept(text: str) -> bool:
    return "\0" not in text and not any(0xD800 <= ord(ch) <= 0xDFFF for ch in text)
