"""`/readiness`: the page on which a tablet proves that sheets can be trusted to it. The proving is the tablet's own.

Open to all: it has to work before anyone can sign in, and there is nothing of the shop's on it.
"""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from app.domain.readiness import OPTIONAL, POINTS
from app.texts import SENTENCES, sentence, word
from app.web.pages.readiness import PointShown, ReadinessPage
from app.web.rendering import page
from app.web.security import visitor_or_none

router = APIRouter()

_RESULT = ("all", "some", "kept", "unkept")
_MARKS = ("yes", "no", "without")


@router.get("/readiness")
def show(request: Request) -> Response:
    points = [PointShown(key, word(f"readiness.{key}"), key in OPTIONAL, _says(f"readiness.{key}.")) for key in POINTS]
    says = [(name, _words(f"readiness.{name}")) for name in _RESULT]
    marks = [(name, word(f"readiness_mark.{name}")) for name in _MARKS]
    return page(request, "readiness.html", ReadinessPage(points, says + marks), visitor_or_none(request))


def _says(beginning: str) -> list[tuple[str, str]]:
    found = [code for code in SENTENCES if code.startswith(beginning)]
    return [(code.removeprefix(beginning), _words(code)) for code in found]


def _words(code: str) -> str:
    return sentence(code, count="{count}")
