"""Tells an open page that something happened; the page then fetches itself anew."""

from __future__ import annotations

from collections.abc import AsyncIterator

from fastapi import APIRouter
from starlette.responses import Response, StreamingResponse

from barwright.coach.at_the_door import CoachOf, PageRoute, PartsOf
from barwright.live.hub import Closed, Hub, Lost
from barwright.storage.live_events import LiveEvent

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_QUIET_S = 15.0  # after so long without news a comment keeps proxies from closing the connection


@router.get("/live")
async def live(parts: PartsOf, coach: CoachOf, athlete: str = "", device: str = "", kind: str = "") -> Response:
    """`changed` for every event of the club, or only of one athlete, device or kind."""
    wanted = {"athlete_id": athlete, "device_id": device}
    told = {name: value for name, value in wanted.items() if value}
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no", "X-Content-Type-Options": "nosniff"}
    return StreamingResponse(
        _changes(parts.hub, coach.caller.club_id, told, kind), 200, headers, media_type="text/event-stream"
    )


async def _changes(hub: Hub, club_id: str, wanted: dict[str, str], kind: str) -> AsyncIterator[bytes]:
    listener = hub.listen(club_id)
    try:
        yield b"retry: 2000\n\n"
        while True:
            event = await listener.next(_QUIET_S)
            if event is None:
                yield b": quiet\n\n"
            elif isinstance(event, Lost) or _matches(event, wanted, kind):
                yield b"event: changed\ndata: 1\n\n"
    except Closed:
        return
    finally:
        hub.leave(listener)


def _matches(event: LiveEvent, wanted: dict[str, str], kind: str) -> bool:
    return kind in ("", event.kind) and all(event.data.get(name) == value for name, value in wanted.items())
