"""Photos at the office: the sheet's form that adds one, and each photo by its hash."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse, Response

from app.domain.photos import PHOTO_BYTES
from app.texts import sentence
from app.use_cases.add_photo import PhotoSent, add_photo
from app.use_cases.see_photo import see_photo
from app.use_cases.see_sheet import see_sheet
from app.web.forms import FormWithFile, read_form_with_file
from app.web.security import Anyone, TheOffice
from app.web.tablet.sheet import after_form

router = APIRouter()

FOR_EVER = "private, max-age=31536000, immutable"


async def the_photo_form(request: Request, visitor: Anyone) -> FormWithFile:
    return await read_form_with_file(request, visitor, "file", PHOTO_BYTES)


@router.post("/jobs/{number}/photos")
def add(
    request: Request,
    office: TheOffice,
    visitor: Anyone,
    number: str,
    sent: Annotated[FormWithFile, Depends(the_photo_form)],
) -> Response:
    found = see_sheet(office, number)
    fields = sent.form.kept()
    photo = PhotoSent(sent.file.data, sent.file.too_large) if sent.file is not None else None
    outcome = add_photo(office, found, visitor.person.id, fields, photo)
    return after_form(request, office, visitor, found, fields, outcome)


@router.get("/photos/{sha256}")
async def photo(office: TheOffice, visitor: Anyone, sha256: str) -> Response:
    """A photo that some entry names, as nothing but a picture: no browser takes it for a page or runs it."""
    seen = await run_in_threadpool(see_photo, office, sha256)
    if seen is None:
        return PlainTextResponse(sentence("photo_not_here"), 404)
    return Response(
        seen.data,
        media_type=seen.kind.value,
        headers={
            "Cache-Control": FOR_EVER,
            "Content-Disposition": f'inline; filename="{seen.name}"',
            "Content-Security-Policy": "default-src 'none'; sandbox",
        },
    )
