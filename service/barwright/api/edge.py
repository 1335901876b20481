"""The outermost layer: request ids, body sizes, and a problem even for our own mistakes."""

from __future__ import annotations

import logging
import re
import secrets
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from barwright.api.problems import RefusedBody, problem
from barwright.ingest.compressed import decompressed
from barwright.ingest.refusals import Refusal

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
        headers = Headers(scope=scope)
        given = headers.get(REQUEST_ID, "")
        request_id = given if _GOOD_ID.fullmatch(given) else secrets.token_hex(8)
        started, only_head = False, scope["method"] == "HEAD"
        if only_head:
            scope = {**scope, "method": "GET"}  # the same answer without its content (RFC 9110, 9.3.2)

        async def send_with_id(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                MutableHeaders(scope=message)[REQUEST_ID] = request_id
            elif only_head and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        limit = self._body_limit(scope["path"])
        body = _limited(receive, scope, limit)
        if "content-encoding" in headers and not scope["path"].endswith("/blocks"):  # blocks have limits of their own
            body = _unfolded(body, headers["content-encoding"], limit)
        try:
            await self._app(scope, body, send_with_id)
        except ClientDisconnect:  # nobody is left to be answered; the sender keeps its block and tries again
            log.info("request %s: the sender hung up: %s %s", request_id, scope["method"], scope["path"])
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


def _unfolded(receive: Receive, encoding: str, limit: int) -> Receive:
    """The whole body decompressed, once it is asked for."""
    given = False

    async def whole() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        body, more = bytearray(), True
        while more:
            message = await receive()
            if message["type"] != "http.request":
                return message
            body += message.get("body", b"")
            more = message.get("more_body", False)
        try:
            plain = await run_in_threadpool(decompressed, bytes(body), encoding, limit)
        except Refusal as refusal:
            raise RefusedBody(refusal) from refusal
        return {"type": "http.request", "body": plain, "more_body": False}

    return whole
