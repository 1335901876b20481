"""Events out while sets go on: of one stream, or of the whole club."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Header
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool

from barwright.access.caller import Caller
from barwright.api.dependencies import PartsOf, Reader
from barwright.api.event_shapes import EVENT_STREAM
from barwright.api.event_text import events_from, server_sent
from barwright.api.openapi import SIGNED_IN, problems
from barwright.workflows.parts import Parts
from barwright.workflows.read_events import check_stream, newest_event

router = APIRouter(prefix="/v1", tags=["live"])

LONGEST_S = 900.0  # then the listener comes again, with its key and the last id it saw

LastId = Annotated[
    int | None,
    Header(
        alias="Last-Event-ID",
        ge=0,
        le=2**62,
        description="The id of the last event that was seen; everything after it follows. 0 asks for all that is kept.",
    ),
]


@router.get(
    "/streams/{stream_id}/events",
    response_class=StreamingResponse,
    responses={200: EVENT_STREAM, **problems(*SIGNED_IN, "not-found", "request-invalid")},
    operation_id="stream_events",
)
async def of_stream(caller: Reader, parts: PartsOf, stream_id: str, last_id: LastId = None) -> StreamingResponse:
    """Reps as they are lifted, as server-sent events: all that happened in the stream so far, then what comes."""
    await run_in_threadpool(check_stream, parts, caller, stream_id)
    return _answer(parts, caller, stream_id, last_id or 0)


@router.get(
    "/events",
    response_class=StreamingResponse,
    responses={200: EVENT_STREAM, **problems(*SIGNED_IN, "request-invalid")},
    operation_id="club_events",
)
async def of_club(caller: Reader, parts: PartsOf, last_id: LastId = None) -> StreamingResponse:
    """Events of every stream of the club, from now on, or from the event after Last-Event-ID."""
    since = await run_in_threadpool(newest_event, parts, caller) if last_id is None else last_id
    return _answer(parts, caller, None, since)


def _answer(parts: Parts, caller: Caller, stream_id: str | None, last_id: int) -> StreamingResponse:
    lines = _for_a_while(server_sent(events_from(parts, caller, stream_id, last_id)))
    return StreamingResponse(
        lines, media_type="text/event-stream", headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    )


async def _for_a_while(lines: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    ends_at = asyncio.get_running_loop().time() + LONGEST_S
    async for line in lines:
        yield line
        if asyncio.get_running_loop().time() > ends_at:
            return
