"""The only file that sends bytes, and the only one that imports httpx."""

from __future__ import annotations

import time
from collections.abc import Callable
from types import TracebackType
from typing import Self, TypeVar

import httpx

from barwright_client.attempts import Outcome, RetryPolicy, Send, attempts
from barwright_client.calls import Call
from barwright_client.errors import NotReached, error_of
from barwright_client.replies import Reply

HttpClient = httpx.Client
T = TypeVar("T")


class Transport:
    """Sends calls to one service with one key. An `http` handed in stays the caller's to close."""

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout_s: float,
        http: HttpClient | None,
        retry: RetryPolicy,
        sleep: Callable[[float], object] = time.sleep,
    ) -> None:
        self._base_url = base_url.rstrip("/")
        self._headers = {"Authorization": f"Bearer {key}"} if key else {}
        self._timeout_s = timeout_s
        self._http = httpx.Client() if http is None else http
        self._ours = http is None
        self._retry = retry
        self._sleep = sleep

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections this object opened."""
        if self._ours:
            self._http.close()

    def send(self, call: Call[T]) -> T:
        """The answer to a call, after as many tries as the policy allows."""
        steps = attempts(self._retry)
        outcome: Outcome | None = None
        while True:
            try:
                step = steps.send(outcome)
            except StopIteration as end:
                reply: Reply = end.value
                break
            if isinstance(step, Send):
                outcome = self._try_once(call)
            else:
                self._sleep(step.seconds)
                outcome = None
        if not reply.good:
            raise error_of(reply)
        return call.read_answer(reply)

    def _try_once(self, call: Call[object]) -> Outcome:
        try:
            answer = self._http.request(
                call.method,
                self._base_url + call.path,
                params=call.params or None,
                headers={**call.headers(), **self._headers},
                content=call.body.chunks() if call.body else None,
                timeout=httpx.Timeout(self._timeout_s + call.wait_s, connect=self._timeout_s),
                follow_redirects=False,
            )
        except httpx.InvalidURL as error:
            raise ValueError(
                f"{self._base_url!r} is not an address; expected something like http://127.0.0.1:8400"
            ) from error
        except httpx.UnsupportedProtocol as error:
            raise ValueError(f"{self._base_url!r} does not start with http:// or https://") from error
        except httpx.TransportError as error:
            return NotReached(f"no answer from {self._base_url}: {str(error) or type(error).__name__}")
        except httpx.DecodingError as error:
            return NotReached(f"the answer from {self._base_url} came damaged: {error}")
        return Reply(
            answer.status_code, answer.content, {name.lower(): value for name, value in answer.headers.items()}
        )
