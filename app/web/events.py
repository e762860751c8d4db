"""Server-sent events: a page that listens is told to look again."""

from __future__ import annotations

from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from starlette.responses import StreamingResponse

from app.web.hub import Hub
from app.web.security import Anyone

router = APIRouter()


@router.get("/events/{topic}")
async def events(request: Request, topic: str, visitor: Anyone) -> StreamingResponse:
    hub: Hub = request.app.state.hub

    async def stream() -> AsyncIterator[str]:
        yield "retry: 2000\n\n"
        async for changed in hub.listen(frozenset({topic})):
            if await request.is_disconnected():
                return
            yield "event: changed\ndata: 1\n\n" if changed else ": still here\n\n"

    return StreamingResponse(stream(), media_type="text/event-stream", headers={"X-Accel-Buffering": "no"})
