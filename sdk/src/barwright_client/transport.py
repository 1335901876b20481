"""The only file that sends bytes, and the only one that imports httpx."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self, TypeVar

import httpx

from barwright_client.attempts import Outcome, RetryPolicy, Send, attempts, worth_retrying
from barwright_client.call import Call, Steps
from barwright_client.errors import ClientError, NotReached, error_of
from barwright_client.events import Event, EventReader, Resume
from barwright_client.replies import Reply

HttpClient = httpx.Client
AsyncHttpClient = httpx.AsyncClient
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Service:
    """Where the service is, who calls, and how patient."""

    base_url: str
    key: str
    timeout_s: float
    retry: RetryPolicy

    def request(self, call: Call[Any]) -> dict[str, Any]:
        """The arguments of a request, but for its content."""
        return {
            "method": call.method,
            "url": self.base_url.rstrip("/") + call.path,
            "params": call.params or None,
            "headers": {**call.headers(), **self.signed()},
            "timeout": httpx.Timeout(self.timeout_s + call.wait_s, connect=self.timeout_s),
            "follow_redirects": False,
        }

    def listening(self, path: str, resume: Resume) -> dict[str, Any]:
        """The arguments of a request whose answer does not end; the service is never quiet for as long as _QUIET_S."""
        return {
            "method": "GET",
            "url": self.base_url.rstrip("/") + path,
            "headers": {**resume.headers(), **self.signed()},
            "timeout": httpx.Timeout(self.timeout_s, read=_QUIET_S),
            "follow_redirects": False,
        }

    def signed(self) -> dict[str, str]:
        """Who is calling."""
        return {"Authorization": f"Bearer {self.key}"} if self.key else {}

    def trouble(self, error: httpx.HTTPError | httpx.InvalidURL) -> NotReached:
        """What a failed request means. Raises ValueError when the address is none."""
        if isinstance(error, httpx.InvalidURL):
            raise ValueError(
                f"{self.base_url!r} is not an address; expected something like http://127.0.0.1:8400"
            ) from error
        if isinstance(error, httpx.UnsupportedProtocol):
            raise ValueError(f"{self.base_url!r} does not start with http:// or https://") from error
        if isinstance(error, httpx.DecodingError):
            return NotReached(f"the answer from {self.base_url.rstrip('/')} came damaged: {error}")
        return NotReached(f"no answer from {self.base_url.rstrip('/')}: {str(error) or type(error).__name__}")


_QUIET_S = 45.0
_ONCE = RetryPolicy(most_tries=1)
_TROUBLE = (httpx.InvalidURL, httpx.TransportError, httpx.DecodingError)


class Transport:
    """Sends calls to one service with one key. An `http` handed in stays the caller's to close."""

    def __init__(
        self, service: Service, http: HttpClient | None = None, sleep: Callable[[float], object] = time.sleep
    ) -> None:
        self._service = service
        self._http = httpx.Client() if http is None else http
        self._ours = http is None
        self._sleep = sleep

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections this object opened."""
        if self._ours:
            self._http.close()

    @property
    def timeout_s(self) -> float:
        """Of each step of each try."""
        return self._service.timeout_s

    def send(self, call: Call[T], *, once: bool = False) -> T:
        """The answer to a call, after as many tries as the policy allows; once: after one."""
        steps = attempts(_ONCE if once else self._service.retry)
        outcome: Outcome | None = None
        while True:
            try:
                step = steps.send(outcome)
            except StopIteration as end:
                return _answer(call, end.value)
            if isinstance(step, Send):
                outcome = self._try_once(call)
            else:
                self._sleep(step.seconds)
                outcome = None

    def walk(self, steps: Steps[T], *, once: bool = False) -> T:
        """Makes the calls of several steps; what a call raises is raised in the steps, too."""
        try:
            call = next(steps)
            while True:
                try:
                    answer = self.send(call, once=once)
                except ClientError as error:
                    call = steps.throw(error)
                else:
                    call = steps.send(answer)
        except StopIteration as end:
            done: T = end.value
            return done

    def listen(self, path: str, resume: Resume) -> Iterator[Event]:
        """Events without end, over as many connections as it takes. Raises what asking again cannot mend."""
        while True:
            try:
                with self._http.stream(**self._service.listening(path, resume)) as answer:
                    if answer.status_code == 200:
                        reader = EventReader()
                        for piece in answer.iter_bytes():
                            for event in reader.feed(piece):
                                resume.came(event)
                                yield event
                    else:
                        answer.read()
                        _refused(_reply(answer))
            except _TROUBLE as error:
                self._service.trouble(error)
            self._sleep(resume.pause_s())

    def _try_once(self, call: Call[object]) -> Outcome:
        try:
            content = call.body.chunks() if call.body else None
            return _reply(self._http.request(**self._service.request(call), content=content))
        except _TROUBLE as error:
            return self._service.trouble(error)


class AsyncTransport:
    """The same, awaited."""

    def __init__(
        self,
        service: Service,
        http: AsyncHttpClient | None = None,
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        self._service = service
        self._http = httpx.AsyncClient() if http is None else http
        self._ours = http is None
        self._sleep = sleep

    async def close(self) -> None:
        """Close the connections this object opened."""
        if self._ours:
            await self._http.aclose()

    async def send(self, call: Call[T], *, once: bool = False) -> T:
        """The answer to a call, after as many tries as the policy allows; once: after one."""
        steps = attempts(_ONCE if once else self._service.retry)
        outcome: Outcome | None = None
        while True:
            try:
                step = steps.send(outcome)
            except StopIteration as end:
                return _answer(call, end.value)
            if isinstance(step, Send):
                outcome = await self._try_once(call)
            else:
                await self._sleep(step.seconds)
                outcome = None

    async def walk(self, steps: Steps[T], *, once: bool = False) -> T:
        """Makes the calls of several steps; what a call raises is raised in the steps, too."""
        try:
            call = next(steps)
            while True:
                try:
                    answer = await self.send(call, once=once)
                except ClientError as error:
                    call = steps.throw(error)
                else:
                    call = steps.send(answer)
        except StopIteration as end:
            done: T = end.value
            return done

    async def listen(self, path: str, resume: Resume) -> AsyncIterator[Event]:
        """Events without end, over as many connections as it takes. Raises what asking again cannot mend."""
        while True:
            try:
                async with self._http.stream(**self._service.listening(path, resume)) as answer:
                    if answer.status_code == 200:
                        reader = EventReader()
                        async for piece in answer.aiter_bytes():
                            for event in reader.feed(piece):
                                resume.came(event)
                                yield event
                    else:
                        await answer.aread()
                        _refused(_reply(answer))
            except _TROUBLE as error:
                self._service.trouble(error)
            await self._sleep(resume.pause_s())

    async def _try_once(self, call: Call[object]) -> Outcome:
        try:
            content = _awaited(call.body.chunks()) if call.body else None
            return _reply(await self._http.request(**self._service.request(call), content=content))
        except _TROUBLE as error:
            return self._service.trouble(error)


def _reply(answer: httpx.Response) -> Reply:
    return Reply(answer.status_code, answer.content, {name.lower(): value for name, value in answer.headers.items()})


def _refused(reply: Reply) -> None:
    if not worth_retrying(reply):
        raise error_of(reply)


def _answer(call: Call[T], reply: Reply) -> T:
    if not reply.good:
        raise error_of(reply)
    return call.read_answer(reply)


async def _awaited(chunks: Iterator[bytes]) -> AsyncIterator[bytes]:
    for chunk in chunks:
        yield chunk
