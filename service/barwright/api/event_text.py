"""Events as text: server-sent events (WHATWG HTML, 9.2) and the same as JSON for a WebSocket."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from typing import Any

from starlette.concurrency import run_in_threadpool

from barwright.access.caller import Caller
from barwright.live.hub import Closed, Lost
from barwright.storage.live_events import LiveEvent
from barwright.workflows.parts import Parts
from barwright.workflows.read_events import AT_ONCE, catch_up

QUIET_S = 15.0  # a comment is sent after so long, so that nobody in between hangs up
RETRY_MS = 2000


async def events_from(parts: Parts, caller: Caller, stream_id: str | None, last_id: int) -> AsyncIterator[Any]:
    """Every event after last_id, those that were missed first: LiveEvent, a gap as dict, or None for silence.

    Listens first and catches up then, so that nothing falls in between. Ends when the service stops.
    """
    listener = parts.hub.listen(caller.club_id, stream_id)
    try:
        while True:
            missed = await run_in_threadpool(catch_up, parts, caller, stream_id, last_id)
            if missed.expired:
                yield {"reason": "expired", "lost": None, "first_id": last_id + 1, "last_id": None}
            for event in missed.events:
                last_id = event.id
                yield event
            if len(missed.events) < AT_ONCE:
                break
        while True:
            try:
                event = await listener.next(QUIET_S)
            except Closed:
                return
            if isinstance(event, Lost):
                yield {
                    "reason": "slow_listener",
                    "lost": event.count,
                    "first_id": event.first_id,
                    "last_id": event.last_id,
                }
            elif event is None:
                yield None
            elif event.id > last_id:
                last_id = event.id
                yield event
    finally:
        parts.hub.leave(listener)


async def server_sent(events: AsyncIterator[Any]) -> AsyncIterator[bytes]:
    """The same as lines of text/event-stream. A gap has no id: whoever reconnects is given what was lost."""
    yield f"retry: {RETRY_MS}\n\n".encode()
    async for event in events:
        if event is None:
            yield b": still here\n\n"
        elif isinstance(event, LiveEvent):
            yield f"id: {event.id}\nevent: {event.kind}\ndata: {_json(data_of(event))}\n\n".encode()
        else:
            yield f"event: gap\ndata: {_json(event)}\n\n".encode()


def data_of(event: LiveEvent) -> dict[str, Any]:
    """What an event says, with when it was."""
    return {"at": event.at.isoformat().replace("+00:00", "Z"), **event.data}


def _json(document: dict[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
