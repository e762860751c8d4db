"""`POST /sync/contact`: a tablet says what it has and owes, and gets what changed. See `shared/contracts/sync.md`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from typing import Annotated, Any

from fastapi import APIRouter, Request
from pydantic import ConfigDict, Field, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response

from app.domain.canonical import LARGEST_WHOLE
from app.domain.debt import Said
from app.domain.entry import Name, NameOrNone, Whole
from app.domain.packet import Packet
from app.domain.problems import NotFound, Problem
from app.packing import packed_for
from app.sync.exchange import SignInCookie, bounded, credential_of, read_object, refused, refused_to, unknown
from app.use_cases.contact_tablet import ContactAnswer, Having, JobSent, WorkOf, contact_tablet
from app.use_cases.office import Office
from app.use_cases.sign_in import end_other_sign_in
from app.use_cases.tablet_credential import names

BYTES_LIMIT = 1024 * 1024
Count = Annotated[int, Field(strict=True, ge=0, le=LARGEST_WHOLE)]
Short = Annotated[str, Field(max_length=100)]
# More than a tablet can have: twenty jobs a day for a month, each pinned anew a few times.
MANY = 5_000

PicturesOf = Callable[[Packet], Mapping[str, Any]]
# What a packet and its drawings say in a language, by the English.
TextsOf = Callable[[Packet, str], Mapping[str, Mapping[str, str]]]


@checked(frozen=True)
class Waiting:
    """`from` in JSON: the lowest number of what was not sent, 0 when nothing waits."""

    count: Count = 0
    from_seq: Annotated[int, Field(strict=True, ge=0, le=LARGEST_WHOLE, alias="from")] = 0


@checked(frozen=True, config=ConfigDict(extra="ignore"))
class ContactSent:
    """What a tablet sends. `oldest`: the lowest number it still keeps, sent or not; else where waiting begins.

    `number`: of this contact, as the tablet counts them; `went_back`: see sync.md.
    """

    tablet: Name
    said_seq: Count
    now_ms: Whole
    number: Count | None = None
    went_back: Count = 0
    bundle: NameOrNone = ""
    oldest: Count | None = None
    waiting: Waiting = field(default_factory=Waiting)
    photos_waiting: Count = 0
    signed_in: NameOrNone = ""
    have: Annotated[dict[Name, Annotated[list[Whole | Short], Field(max_length=10)]], Field(max_length=MANY)] = field(
        default_factory=dict
    )
    pictures: Annotated[list[Short], Field(max_length=MANY)] = field(default_factory=list)
    work: Annotated[dict[Name, Short], Field(max_length=MANY)] = field(default_factory=dict)


_SENT: TypeAdapter[ContactSent] = TypeAdapter(ContactSent)


def make_router(
    office: Office, cookie: SignInCookie, bundle: str, work_of: WorkOf, pictures_of: PicturesOf, texts_of: TextsOf
) -> APIRouter:
    """bundle: the hash of what tablets carry now. work_of, pictures_of, texts_of: My work, a packet's drawings and what
    both say in a language, as data."""
    router = APIRouter()

    @router.post("/sync/contact")
    async def contact(request: Request) -> Response:
        raw = await bounded(request, BYTES_LIMIT)
        if raw is None:
            return refused(413, Problem("contact_too_large"))
        accepted = request.headers.get("accept-encoding", "")
        return await run_in_threadpool(_answer_to, credential_of(request), cookie.token_in(request), accepted, raw)

    def _answer_to(credential: str, token: str, accepted: str, raw: bytes) -> Response:
        sent = read_contact(raw)
        if isinstance(sent, Problem):
            return refused_to(office, credential, sent)
        if names(credential) != sent.tablet:
            return refused_to(office, credential, Problem("not_yours", "tablet"))
        try:
            answer = contact_tablet(office, credential, _said(sent), _having(sent), sent.signed_in, work_of)
        except NotFound:
            return unknown()
        told = JSONResponse(_told(answer, bundle, pictures_of, texts_of))
        # Sheets and drawings are a tenth of their size then. There is no token in it, and none but a tablet can ask.
        body, coded = packed_for(accepted, bytes(told.body))
        response = Response(body, media_type=told.media_type, headers=coded)
        if token and end_other_sign_in(office, token, sent.signed_in):
            cookie.clear(response)
        return response

    return router


def read_contact(raw: bytes) -> ContactSent | Problem:
    data = read_object(raw)
    if data is None:
        return Problem("contact_unreadable", "", {"field": "…"})
    try:
        return _SENT.validate_python(data)
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors()[0]["loc"][:2]) or "…"
        return Problem("contact_unreadable", where, {"field": where})


def _said(sent: ContactSent) -> Said:
    return Said(
        seq=sent.said_seq,
        oldest=sent.waiting.from_seq if sent.oldest is None else sent.oldest,
        waiting=sent.waiting.count,
        waiting_from=sent.waiting.from_seq,
        photos_waiting=sent.photos_waiting,
        bundle=sent.bundle,
        now_ms=sent.now_ms,
        number=sent.number,
        went_back=sent.went_back,
    )


def _having(sent: ContactSent) -> Having:
    return Having(jobs=sent.have, packets=frozenset(sent.pictures), work=sent.work)


def _told(answer: ContactAnswer, bundle: str, pictures_of: PicturesOf, texts_of: TextsOf) -> dict[str, Any]:
    return {
        "now_ms": answer.now_ms,
        "next_seq": answer.next_seq,
        "contacts": answer.contacts,
        "bundle": bundle,
        "shop": {"name": answer.shop.name, "timezone": answer.shop.timezone, "language": answer.shop.language},
        "people": [
            {
                "id": one.id,
                "name": one.name,
                "roles": sorted(role.value for role in one.roles),
                "language": one.language,
            }
            for one in answer.people
        ],
        "jobs": {one.job.id: _job(one, texts_of) for one in answer.jobs},
        "packets": {key: packet.as_json() for key, packet in answer.packets.items()},
        "pictures": {key: pictures_of(packet) for key, packet in answer.packets.items()},
        "gone": list(answer.gone),
        "work": {key: {"hash": mark, "view": view} for key, (mark, view) in answer.work.items()},
        "more": answer.more,
        "photos_refused": answer.photos_refused,
    }


def _job(one: JobSent, texts_of: TextsOf) -> dict[str, Any]:
    packet = one.sheet.packet
    said = {language: texts_of(packet, language) for language in one.texts_in} if packet is not None else {}
    return {
        "number": one.job.number,
        "hash": one.sheet.hash,
        "through": one.through,
        "state": one.sheet.as_json(),
        "packet": packet.hash if packet is not None else "",
        "about": one.about,
        "about_hash": one.about_hash,
        "texts_mark": one.texts_mark,
        **({"texts": said} if said else {}),
        "open": one.job.state.value == "open",
    }
