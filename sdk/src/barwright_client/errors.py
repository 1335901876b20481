"""What can go wrong, by what the caller would do about it.

ClientError
├── NotReached          no answer came: no network, wrong address, time ran out. Try again later.
├── Refused             the service answered and said no; `problem` tells what was wrong and where.
│   ├── NotSignedIn     401: the key is missing, wrong or withdrawn
│   ├── NotAllowed      403: the key lacks a scope
│   ├── NotFound        404: no such thing in this club
│   ├── Conflict        409: in conflict with what is stored
│   └── TooFast         429: `retry_after_s` tells how long to wait
└── Broken              the service failed (5xx) or its answer could not be read
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from barwright_client.replies import Reply


@dataclass(frozen=True, slots=True)
class Detail:
    """One bad member: pointer is its JSON Pointer (RFC 6901), None when the whole request is meant."""

    detail: str
    pointer: str | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """A problem document (RFC 9457). Decide by `code` or `type`, never by the text; `more` holds all other members."""

    type: str = "about:blank"
    code: str | None = None
    title: str = ""
    status: int | None = None
    detail: str = ""
    instance: str | None = None
    errors: tuple[Detail, ...] = ()
    more: dict[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        text = self.detail or self.title or f"status {self.status}"
        for each in self.errors:
            if each.detail not in text:
                text += f"; {each.pointer or 'request'}: {each.detail}"
            elif each.pointer:
                text += f" (at {each.pointer})"
        return text


class ClientError(Exception):
    """Base of everything this client raises about the service."""


class NotReached(ClientError):  # noqa: N818 - named by what the caller would do
    """No answer came back, after all tries."""


class Broken(ClientError):  # noqa: N818 - named by what the caller would do
    """The service failed, or its answer could not be read."""

    def __init__(self, message: str, *, status: int | None = None, request_id: str | None = None) -> None:
        super().__init__(message)
        self.status = status
        self.request_id = request_id


class Refused(ClientError):  # noqa: N818 - named by what the caller would do
    """The service said no. Sending the same again will not help."""

    def __init__(self, problem: Problem, *, status: int, request_id: str | None = None) -> None:
        super().__init__(str(problem))
        self.problem = problem
        self.status = status
        self.request_id = request_id


class NotSignedIn(Refused):
    """401: the key is missing, wrong or withdrawn."""


class NotAllowed(Refused):
    """403: the key lacks a scope."""


class NotFound(Refused):
    """404: no such thing in this club."""


class Conflict(Refused):
    """409: in conflict with what is stored."""


class TooFast(Refused):
    """429: too many requests; wait `retry_after_s` (None when the service did not say)."""

    @property
    def retry_after_s(self) -> float | None:
        """Seconds the service asked to wait."""
        value = self.problem.more.get("retry_after_s")
        return float(value) if isinstance(value, int | float) else None


_BY_STATUS: dict[int, type[Refused]] = {
    401: NotSignedIn,
    403: NotAllowed,
    404: NotFound,
    409: Conflict,
    429: TooFast,
}


def error_of(reply: Reply) -> ClientError:
    """The error an answer outside 2xx stands for."""
    problem = problem_of(reply)
    request_id = reply.header("x-request-id")
    if 400 <= reply.status < 500:
        return _BY_STATUS.get(reply.status, Refused)(problem, status=reply.status, request_id=request_id)
    return Broken(f"the service failed: {problem}", status=reply.status, request_id=request_id)


def problem_of(reply: Reply) -> Problem:
    """The problem document of an answer; one made from the status when the body is not such a document."""
    document = _document(reply.body)
    wait_s = reply.retry_after_s()
    known = {"type", "title", "status", "detail", "instance", "errors", "code"}
    more = {name: value for name, value in document.items() if name not in known}
    if wait_s is not None:
        more.setdefault("retry_after_s", wait_s)
    return Problem(
        type=str(document.get("type", "about:blank")),
        code=document.get("code"),
        title=str(document.get("title", "")),
        status=reply.status,
        detail=str(document.get("detail", "")) or f"the service answered with status {reply.status}",
        instance=document.get("instance"),
        errors=_details(document.get("errors")),
        more=more,
    )


def _document(body: bytes) -> dict[str, Any]:
    try:
        document = json.loads(body)
    except ValueError:
        return {}
    return document if isinstance(document, dict) else {}


def _details(errors: Any) -> tuple[Detail, ...]:
    if not isinstance(errors, list):
        return ()
    return tuple(Detail(str(each.get("detail", "")), each.get("pointer")) for each in errors if isinstance(each, dict))
