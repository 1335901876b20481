"""The outermost layer: request ids, body sizes, and a problem even for our own mistakes."""

from __future__ import annotations

import logging
import re
import secrets
from collections.abc import Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from barwright.api.problems import problem

log = logging.getLogger(__name__)

REQUEST_ID = "X-Request-Id"
_GOOD_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_OWN_MISTAKE = (
    "The service made a mistake while answering; nothing was half stored. Sending the same request again later is "
    "safe. The operator finds the details in the log under the request id."
)


class Edge:
    """Wraps the whole app. `body_limit(path)` tells how many bytes a request body may have."""

    def __init__(self, app: ASGIApp, body_limit: Callable[[str], int]) -> None:
        self._app = app
        self._body_limit = body_limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        given = Headers(scope=scope).get(REQUEST_ID, "")
        request_id = given if _GOOD_ID.fullmatch(given) else secrets.token_hex(8)
        started = False

        async def send_with_id(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                MutableHeaders(scope=message)[REQUEST_ID] = request_id
            await send(message)

        try:
            await self._app(scope, _limited(receive, scope, self._body_limit(scope["path"])), send_with_id)
        except Exception:  # the outermost edge: whatever it was, the caller gets a problem and the log the details
            log.exception("request %s: %s %s", request_id, scope["method"], scope["path"])
            if started:
                raise
            await problem("internal-error", _OWN_MISTAKE, scope["path"])(scope, receive, send_with_id)


def _limited(receive: Receive, scope: Scope, limit: int) -> Receive:
    """Counts while reading, whatever Content-Length says."""
    so_far = 0
    detail = f"The request body is larger than {limit} bytes, the limit of this route; GET /v1/limits lists the limits."
    announced = Headers(scope=scope).get("content-length", "")
    too_large = announced.isdecimal() and int(announced[:20]) > limit

    async def counted() -> Message:
        nonlocal so_far
        if too_large:
            raise HTTPException(413, detail)
        message = await receive()
        so_far += len(message.get("body", b""))
        if so_far > limit:
            raise HTTPException(413, detail)
        return message

    return counted
