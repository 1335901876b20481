"""From where events happen to whoever listens, within one process. Never waits for a listener, never grows."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from threading import Lock
from typing import Any, Protocol

MOST_WAITING = 256  # events held for one listener


class Event(Protocol):
    """What the hub has to know of an event."""

    @property
    def id(self) -> int:
        """Rises with every event."""
        ...

    @property
    def club_id(self) -> str:
        """Whose it is."""
        ...

    @property
    def stream_id(self) -> str:
        """What it is about."""
        ...


@dataclass(frozen=True, slots=True)
class Lost:
    """Events a listener was too slow for: how many, and the first and last id."""

    count: int
    first_id: int
    last_id: int


class Closed(Exception):  # noqa: N818 - it reads as what happened
    """The service stops; listen again after it is back."""


class Listener:
    """One that listens; made and read on an event loop, offered events from any thread."""

    def __init__(self, club_id: str, stream_id: str | None, most: int) -> None:
        self.club_id = club_id
        self.stream_id = stream_id
        self._most = most
        self._loop = asyncio.get_running_loop()
        self._awake = asyncio.Event()
        self._lock = Lock()
        self._waiting: deque[Any] = deque()
        self._lost: Lost | None = None
        self._closed = False

    def offer(self, event: Event) -> None:
        """Takes an event, or notes that there was no room for it. From any thread."""
        with self._lock:
            if self._lost is not None or len(self._waiting) >= self._most:
                before = self._lost or Lost(0, event.id, event.id)
                self._lost = Lost(before.count + 1, before.first_id, event.id)
            else:
                self._waiting.append(event)
        self._wake()

    async def next(self, timeout_s: float) -> Any:
        """The next event; Lost in the place of events there was no room for; None when nothing came in time.

        Raises Closed when the service stops.
        """
        ends_at = self._loop.time() + timeout_s
        while True:
            with self._lock:
                taken = self._take()
                if taken is not None:
                    return taken
                self._awake.clear()
            try:
                await asyncio.wait_for(self._awake.wait(), max(0.0, ends_at - self._loop.time()))
            except TimeoutError:
                return None

    def end(self) -> None:
        """Nothing comes any more. From any thread."""
        with self._lock:
            self._closed = True
        self._wake()

    def _take(self) -> Any:
        if self._waiting:
            return self._waiting.popleft()
        if self._lost is not None:
            lost, self._lost = self._lost, None
            return lost
        if self._closed:
            raise Closed
        return None

    def _wake(self) -> None:
        try:
            self._loop.call_soon_threadsafe(self._awake.set)
        except RuntimeError:  # its loop has ended, and the listener with it
            self._closed = True


class Hub:
    """Every listener of this process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._listeners: set[Listener] = set()
        self._closed = False

    def listen(self, club_id: str, stream_id: str | None = None, most: int = MOST_WAITING) -> Listener:
        """A listener to one stream of a club, or to all. Call leave() in the end."""
        listener = Listener(club_id, stream_id, most)
        with self._lock:
            self._listeners.add(listener)
            if self._closed:
                listener.end()
        return listener

    def leave(self, listener: Listener) -> None:
        """Forgets a listener."""
        with self._lock:
            self._listeners.discard(listener)

    def publish(self, events: Iterable[Event]) -> None:
        """Hands events, which are kept already, to those who listen. From any thread."""
        with self._lock:
            listeners = tuple(self._listeners)
        for event in events:
            for one in listeners:
                if one.club_id == event.club_id and one.stream_id in (None, event.stream_id):
                    one.offer(event)

    def count(self) -> int:
        """How many listen."""
        with self._lock:
            return len(self._listeners)

    def clubs(self) -> set[str]:
        """Clubs that somebody listens to."""
        with self._lock:
            return {one.club_id for one in self._listeners}

    def close(self) -> None:
        """Tells every listener that the service stops."""
        with self._lock:
            self._closed = True
            listeners = tuple(self._listeners)
        for one in listeners:
            one.end()
