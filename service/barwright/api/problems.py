"""Every error as one shape: application/problem+json of RFC 9457."""

from __future__ import annotations

import json
import logging
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.routing import Match

from barwright.access.current_request import REQUEST_ID
from barwright.api.validation_words import pointer_and_detail
from barwright.ingest.refusals import REFUSALS, Refusal
from barwright.storage.sessions import StorageFullError, StorageUnavailableError
from barwright.workflows.cannot import Cannot

log = logging.getLogger(__name__)

RETRY_AFTER_S = 5
PROBLEM_JSON = "application/problem+json"
PAGE = "/docs/problems.md"

# code -> (HTTP status of RFC 9110, title). Those of ingest come from its own table.
PROBLEMS: dict[str, tuple[int, str]] = {
    **REFUSALS,
    "no-such-route": (404, "There is no such route"),
    "not-found": (404, "There is no such thing in this club"),
    "method-not-allowed": (405, "The route does not know this method"),
    "not-acceptable": (406, "No format that was asked for can be given"),
    "not-signed-in": (401, "A key is needed"),
    "key-not-known": (401, "The key is not known"),
    "key-mistyped": (401, "The key was mistyped"),
    "key-expired": (401, "The key has ended"),
    "scope-missing": (403, "The key may not do this"),
    "name-taken": (409, "The name is in use"),
    "too-many-requests": (429, "Too many requests came in a short time"),
    "too-much-in-flight": (429, "More blocks are on their way than the credit allows"),
    "set-open": (409, "The set is still open"),
    "already-there": (409, "It is there already"),
    "raw-gone": (409, "The raw samples are gone"),
    "drill-forbidden": (409, "The club forbids this drill"),
    "nothing-advised": (422, "There is no advice to follow"),
    "reason-needed": (422, "A reason is needed"),
    "in-the-future": (422, "The day is yet to come"),
    "not-plausible": (422, "A figure cannot be true"),
    "unknown-zone": (422, "The zone is not known"),
    "request-invalid": (422, "The request does not have the right shape"),
    "unknown-lift": (422, "The lift is not known"),
    "kind-mismatch": (422, "The samples do not fit the device"),
    "bad-load": (422, "The load is out of limits"),
    "bad-cursor": (422, "The cursor is not one this service gave"),
    "no-still-poses": (422, "No still pose was found"),
    "poses-too-alike": (422, "The poses are too alike"),
    "motion-not-found": (422, "The motion was not found"),
    "string-not-told": (422, "What was told of the string does not fit together"),
    "samples-unusable": (422, "The samples cannot be used"),
    "stream-too-long": (422, "The stream would last too long"),
    "retry-key-invalid": (400, "The Idempotency-Key cannot be used"),
    "retry-mismatch": (422, "The Idempotency-Key was used for another request"),
    "request-unreadable": (400, "The request cannot be understood"),
    "request-too-large": (413, "The request body is too large"),
    "head-too-large": (431, "The request's headers are too large"),
    "not-ready": (503, "The service is not ready"),
    "storage-full": (507, "There is no room left"),
    "internal-error": (500, "The service made a mistake"),
}
_WAIT = (503, 507)  # answers that say when to come again
_FULL = (
    "The disk of the service is full. Keep what you have and send it again later; nothing was half stored, and reading "
    "goes on."
)
_NOT_READY = "Nothing can be stored or read just now. Keep what you have and send it again; nothing was half stored."
_OF_A_PATH = "/:@!$&'()*+,;=~"  # RFC 3986, 3.3; everything else is told in percent form
_METHODS = ("DELETE", "GET", "PATCH", "POST", "PUT")
_OF_STATUS = {
    400: "request-unreadable",
    404: "no-such-route",
    405: "method-not-allowed",
    413: "request-too-large",
    429: "too-many-requests",
    415: "unknown-content-type",
    500: "internal-error",
    503: "not-ready",
    507: "storage-full",
}


class InvalidMeta(Exception):  # noqa: N818 - it reads as what happened
    """The part `meta` of a recording does not have the right shape."""

    def __init__(self, error: ValidationError) -> None:
        super().__init__(str(error))
        self.found = [{**one, "loc": ("body", *one["loc"])} for one in error.errors()]


class RefusedBody(HTTPException):
    """A refusal in the one form that gets through the framework's own reading of a body."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.status, refusal.detail)
        self.code = refusal.code


@dataclass(frozen=True, slots=True)
class BadMember:
    """One thing wrong with a request: where, as a JSON pointer (RFC 6901) or parameter name, and what."""

    pointer: str
    detail: str


def problem(
    code: str,
    detail: str,
    instance: str,
    errors: tuple[BadMember, ...] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    """The answer for one problem."""
    content = json.dumps(problem_document(code, detail, instance, errors), ensure_ascii=False)
    return Response(content.encode("utf-8", "replace"), PROBLEMS[code][0], dict(headers or {}), PROBLEM_JSON)


def problem_document(code: str, detail: str, instance: str, errors: tuple[BadMember, ...] = ()) -> dict[str, Any]:
    """The members of one problem (RFC 9457)."""
    status, title = PROBLEMS[code]
    return {
        "type": f"{PAGE}#{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": quote(instance, safe=_OF_A_PATH),
        "code": code,
        "request_id": REQUEST_ID.get(),
        "errors": [{"pointer": one.pointer, "detail": one.detail} for one in errors],
    }


def problem_of(error: Refusal | Cannot | StorageUnavailableError, instance: str) -> dict[str, Any]:
    """The members of the problem an error stands for, where it is no answer of HTTP."""
    if isinstance(error, StorageUnavailableError):
        return problem_document(*_words_of(error), instance)
    errors = () if error.pointer is None else (BadMember(error.pointer, error.detail),)
    return problem_document(error.code, error.detail, instance, errors)


def install(app: FastAPI) -> None:
    """Turns every error of every route into a problem."""
    for kind, handler in _HANDLERS.items():
        app.add_exception_handler(kind, handler)


async def answer_to(request: Request, error: Refusal | Cannot | StorageUnavailableError | HTTPException) -> Response:
    """The same for who is not called by the framework."""
    return await next(handler for kind, handler in _HANDLERS.items() if isinstance(error, kind))(request, error)


async def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refusal)
    if error.more:
        errors = tuple(BadMember(pointer, detail) for pointer, detail in error.more)
        return problem(error.code, error.detail, request.url.path, errors)
    return _of_pointer(request, error.code, error.detail, error.pointer)


async def _cannot(request: Request, error: Exception) -> Response:
    assert isinstance(error, Cannot)
    return _of_pointer(request, error.code, error.detail, error.pointer)


async def _unavailable(request: Request, error: Exception) -> Response:
    log.error("%s %s: %s", request.method, request.url.path, error)
    assert isinstance(error, StorageUnavailableError)
    return problem(*_words_of(error), request.url.path, headers=_come_again())


def _words_of(error: StorageUnavailableError) -> tuple[str, str]:
    return ("storage-full", _FULL) if isinstance(error, StorageFullError) else ("not-ready", _NOT_READY)


def _come_again() -> dict[str, str]:
    return {"Retry-After": str(RETRY_AFTER_S)}


def _of_pointer(request: Request, code: str, detail: str, pointer: str | None) -> Response:
    errors = () if pointer is None else (BadMember(pointer, detail),)
    status = PROBLEMS[code][0]
    headers = {"WWW-Authenticate": 'Bearer realm="barwright"'} if status == 401 else None
    if status in _WAIT:
        headers = _come_again()
    return problem(code, detail, request.url.path, errors, headers)


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    found = error.errors()
    content_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if any(one["type"] == "json_invalid" for one in found):
        why = found[0].get("ctx", {}).get("error", "it cannot be read")
        detail = f"The body is not JSON: {why} (at character {found[0]['loc'][-1]}, counted from 0)."
        return problem("unreadable", detail, request.url.path)
    if found[0]["loc"][0] == "body" and content_type != "application/json" and not content_type.endswith("+json"):
        detail = f"Content-Type {content_type!r} is not known here; send application/json."
        return problem("unknown-content-type", detail, request.url.path)
    return _request_invalid(request, found)


async def _invalid_meta(request: Request, error: Exception) -> Response:
    assert isinstance(error, InvalidMeta)
    if error.found[0]["type"] == "json_invalid":
        told: Any = error.found[0]  # a member of it holds what the reader of JSON said
        detail = f"The part `meta` is not JSON: {told['ctx']['error']}."
        return problem("unreadable", detail, request.url.path, (BadMember("/meta", detail),))
    return _request_invalid(request, error.found)


def _request_invalid(request: Request, found: Sequence[Any]) -> Response:
    errors = tuple(BadMember(*pointer_and_detail(one)) for one in found)
    return problem("request-invalid", " ".join(one.detail for one in errors), request.url.path, errors)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if isinstance(error, RefusedBody):
        return problem(error.code, error.detail, request.url.path)
    code = _OF_STATUS.get(error.status_code, "request-unreadable")
    detail = error.detail
    if code == "no-such-route":
        detail = f"There is no route {request.url.path}; docs/openapi.json and GET /openapi.json list them all."
    if code == "method-not-allowed":
        allow = {"Allow": ", ".join(_methods(request))}
        if request.method == "OPTIONS":
            return Response(status_code=204, headers=allow)
        detail = f"{request.method} is not known here; {request.url.path} knows {allow['Allow']}."
        return problem(code, detail, request.url.path, headers=allow)
    return problem(code, detail, request.url.path, headers=error.headers)


def _methods(request: Request) -> list[str]:
    """Every method of every route with this path; the framework itself names those of the first."""
    routes = request.app.routes
    known = [m for m in _METHODS if any(r.matches({**request.scope, "method": m})[0] is Match.FULL for r in routes)]
    return sorted({"OPTIONS", *known, *(["HEAD"] if "GET" in known else [])})


_HANDLERS: dict[type[Exception], Callable[[Request, Exception], Awaitable[Response]]] = {
    Refusal: _refusal,
    Cannot: _cannot,
    StorageUnavailableError: _unavailable,
    RequestValidationError: _invalid,
    InvalidMeta: _invalid_meta,
    HTTPException: _http,
}
