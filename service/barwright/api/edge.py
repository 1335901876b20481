"""The outermost layer: request ids, body sizes, header fields, figures, and a problem even for our own mistakes."""

from __future__ import annotations

import logging
import re
import secrets
from collections.abc import Callable
from time import perf_counter
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from barwright.access.current_request import REQUEST_ID as CURRENT
from barwright.api.block_door import BlockDoor
from barwright.api.metrics import NO_ROUTE, Metrics
from barwright.api.problems import RefusedBody, problem
from barwright.api.rate_limits import fields
from barwright.ingest.compressed import decompressed
from barwright.ingest.refusals import Refusal

if TYPE_CHECKING:
    from barwright.api.traces import Traces

log = logging.getLogger(__name__)

REQUEST_ID = "X-Request-Id"
_GOOD_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
_OWN_MISTAKE = (
    "The service made a mistake while answering; nothing was half stored. Sending the same request again later is "
    "safe. The operator finds the details in the log under the request id."
)
# For what is no page; pages have their own, which come first. Answers hold people's figures: nobody keeps a copy.
_GUARDED = (
    (b"x-content-type-options", b"nosniff"),
    (b"cache-control", b"no-store"),
    (b"referrer-policy", b"no-referrer"),
    (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
_ALWAYS_HTTPS = (b"strict-transport-security", b"max-age=31536000")  # RFC 6797; only where HTTPS was used
_METHODS = frozenset({"DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT"})
_SLOW_S = 2.0
_LONG = ("/events", "/close", "/recordings", "/live")  # routes that wait because they were asked to


class Edge:
    """Wraps the whole app. `body_limit(path)` tells how many bytes a request body may have. traces: None for none."""

    def __init__(
        self, app: ASGIApp, body_limit: Callable[[str], int], metrics: Metrics, traces: Traces | None = None
    ) -> None:
        self._traces = traces
        self._app = app
        self._door = BlockDoor()
        self._body_limit = body_limit
        self._metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request, or one connection of a WebSocket."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        given, encoding, length = _told(scope)
        request_id = given if _GOOD_ID.fullmatch(given) else secrets.token_hex(8)
        current = CURRENT.set(request_id)
        try:
            if scope["type"] == "websocket":
                await self._app(scope, receive, send)
            else:
                await self._answer(scope, receive, send, request_id, encoding, length)
        finally:
            CURRENT.reset(current)

    async def _answer(
        self, scope: Scope, receive: Receive, send: Send, request_id: str, encoding: str | None, length: str
    ) -> None:
        began, status, method = perf_counter(), 0, scope["method"]
        only_head = method == "HEAD"
        if only_head:
            scope = {**scope, "method": "GET"}  # the same answer without its content (RFC 9110, 9.3.2)

        async def send_with_id(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = _guarded(scope, status, message.get("headers", ()), request_id)
            elif only_head and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        span = None if self._traces is None else self._traces.begin(scope, request_id)
        limit = self._body_limit(scope["path"])
        body = _limited(receive, length, limit)
        if encoding is not None and not scope["path"].endswith("/blocks"):  # blocks have limits of their own
            body = _unfolded(body, encoding, limit)
        try:
            app = self._door if self._door.opens(scope) else self._app
            await app(scope, body, send_with_id)
        except ClientDisconnect:  # nobody is left to be answered; the sender keeps its block and tries again
            log.info("the sender hung up: %s %s", method, _route(scope))
        except Exception:  # the outermost edge: whatever it was, the caller gets a problem and the log the details
            log.exception("request %s: %s %s", request_id, method, _route(scope))
            if status:
                raise
            await problem("internal-error", _OWN_MISTAKE, scope["path"])(scope, receive, send_with_id)
        finally:
            named = method if method in _METHODS else "other"
            self._note(scope, named, status or 499, perf_counter() - began)
            if self._traces is not None and span is not None:
                self._traces.end(span, named, _route(scope), status or 499)

    def _note(self, scope: Scope, method: str, status: int, seconds: float) -> None:
        """499: gone before there was an answer. Lines only for what went wrong or took long; the rest are figures."""
        route = _route(scope)
        self._metrics.request(method, route, status, seconds)
        if status >= 500 or status == 429 or (seconds > _SLOW_S and not route.endswith(_LONG)):
            level = logging.WARNING if status >= 500 else logging.INFO
            told = {"method": method, "route": route, "status": status, "seconds": round(seconds, 3)}
            log.log(level, "%s %s: %d after %.3f s", method, route, status, seconds, extra={"told": told})


def _told(scope: Scope) -> tuple[str, str | None, str]:
    """X-Request-Id, Content-Encoding and Content-Length as they came."""
    request_id, encoding, length = "", None, ""
    for name, value in scope["headers"]:
        if name == b"x-request-id":
            request_id = value.decode("latin-1")
        elif name == b"content-encoding":
            encoding = value.decode("latin-1")
        elif name == b"content-length":
            length = value.decode("latin-1")
    return request_id, encoding, length


def _guarded(
    scope: Scope, status: int, headers: list[tuple[bytes, bytes]], request_id: str
) -> list[tuple[bytes, bytes]]:
    """The header fields of an answer with those that every answer has, and what is left of the caller's quota."""
    counted = fields(scope, status)
    there = {name.lower() for name, _ in headers} | {name for name, _ in counted}
    kept = [one for one in headers if one[0] != b"retry-after"] if status == 429 and counted else list(headers)
    kept += [one for one in _GUARDED if one[0] not in there]
    kept += counted
    kept.append((b"x-request-id", request_id.encode()))
    if scope.get("scheme") == "https":
        kept.append(_ALWAYS_HTTPS)
    return kept


def _route(scope: Scope) -> str:
    """The template of the route: the path itself has ids, and a one-time link would be told."""
    return str(getattr(scope.get("route"), "path", NO_ROUTE))


def _limited(receive: Receive, announced: str, limit: int) -> Receive:
    """Counts while reading, whatever Content-Length says."""
    so_far = 0
    detail = f"The request body is larger than {limit} bytes, the limit of this route; GET /v1/limits lists the limits."
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
