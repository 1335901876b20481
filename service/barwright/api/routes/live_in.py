"""Blocks in over a WebSocket (RFC 6455), acknowledged one by one, and events out on the same connection."""

from __future__ import annotations

from fastapi import APIRouter, WebSocket
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocketDisconnect

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.api.dependencies import caller_with
from barwright.api.live_socket import LiveSocket
from barwright.api.problems import PROBLEM_JSON, PROBLEMS, problem_of
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts
from barwright.workflows.read_events import check_stream

router = APIRouter(prefix="/v1/streams", tags=["live"])


@router.websocket("/{stream_id}/live")
async def live(socket: WebSocket, stream_id: str) -> None:
    """The whole protocol is in docs/live.md."""
    parts: Parts = socket.app.state.parts
    scheme, _, key = socket.headers.get("authorization", "").partition(" ")
    try:
        if scheme.lower() != "bearer":
            raise Cannot("not-signed-in", "Send a key with the handshake: `Authorization: Bearer bw_...`.")
        caller = await run_in_threadpool(_let_in, parts, socket, key.strip(), stream_id)
    except (Cannot, StorageUnavailableError) as error:
        document = problem_of(error, socket.url.path)
        await socket.send_denial_response(
            JSONResponse(document, PROBLEMS[document["code"]][0], media_type=PROBLEM_JSON)
        )
        return
    await socket.accept()
    try:
        await LiveSocket(socket, parts, socket.app.state.queue, caller, stream_id, socket.app.state.metrics).run()
    except WebSocketDisconnect:
        return  # whatever was acknowledged is stored; the sender goes on where it was


def _let_in(parts: Parts, socket: WebSocket, key: str, stream_id: str) -> Caller:
    caller = caller_with(parts, socket, key, Scope.STREAMS_WRITE, device_keys=True)
    check_stream(parts, caller, stream_id)
    return caller
