"""`/enrol` and `/enrol/CODE`: where a device becomes a tablet. Open to all: the code is what opens it.

The page says the same for every code, so that it tells nobody which one is right; the try itself is slowed.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.texts import sentence
from app.use_cases.enrol_tablet import CODE_LENGTH, folded, shown
from app.web.pages.tablets import EnrolPage
from app.web.rendering import page

router = APIRouter()

_SAYS = ("address", "insecure", "away", "unkept", "done")


@router.get("/enrol")
def empty(request: Request) -> Response:
    return _page(request, "")


@router.get("/enrol/{code}")
def show(request: Request, code: str) -> Response:
    return _page(request, code)


def _page(request: Request, code: str) -> Response:
    letters = folded(code)[:CODE_LENGTH]
    says = [(name, sentence(f"enrol.{name}")) for name in _SAYS]
    return page(request, "enrol.html", EnrolPage(shown(letters) if letters else "", says))
