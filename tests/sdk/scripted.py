"""A service that answers what a test tells it to, and remembers what it was sent."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import httpx

from barwright_client import Client, RetryPolicy
from barwright_client.transport import Transport

KEY = "test-key"
URL = "http://service.test"


Answer = httpx.Response | Exception | Callable[[httpx.Request], httpx.Response]


@dataclass
class Scripted:
    """Answers requests in order; an exception in the list is raised as if the network had failed, a call is made."""

    answers: list[Answer]
    requests: list[httpx.Request] = field(default_factory=list)
    slept: list[float] = field(default_factory=list)

    def handle(self, request: httpx.Request) -> httpx.Response:
        """Takes the next answer."""
        request.read()
        self.requests.append(request)
        answer = self.answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer(request) if callable(answer) else answer

    @property
    def last(self) -> httpx.Request:
        """The request that came last."""
        return self.requests[-1]

    def sent(self, index: int = -1) -> Any:
        """A JSON body that was sent."""
        return json.loads(self.requests[index].content)


def good(document: Any, status: int = 200, **headers: str) -> httpx.Response:
    """A JSON answer."""
    return httpx.Response(status, json=document, headers=headers)


def problem(status: int, *, headers: dict[str, str] | None = None, **members: Any) -> httpx.Response:
    """A problem document (RFC 9457)."""
    body = {"type": f"https://barwright.test/problems#{status}", "title": "No", "status": status, **members}
    return httpx.Response(status, json=body, headers={"Content-Type": "application/problem+json", **(headers or {})})


def client_of(*answers: Answer, retry: RetryPolicy | None = None) -> tuple[Client, Scripted]:
    """A client talking to a scripted service; its pauses are noted, not slept."""
    service = Scripted(list(answers))
    client = Client(URL, KEY, http=httpx.Client(transport=httpx.MockTransport(service.handle)), retry=retry)
    _transport(client)._sleep = service.slept.append
    return client, service


def _transport(client: Client) -> Transport:
    return client._transport


def ticking(*times: float) -> Callable[[], float]:
    """A clock that shows these times, one per look."""
    left: Iterator[float] = iter(times)
    return lambda: next(left)
