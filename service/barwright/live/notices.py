"""What other processes tell of, handed to whoever it concerns, by one thread that connects again when it is cut off."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from functools import partial
from threading import Event, Thread
from typing import Any, Protocol

log = logging.getLogger(__name__)

_PAUSE_S = 0.5  # before another try to connect
_CHECK_S = 10.0  # so often it is asked whether something was missed


class Ear(Protocol):
    """A connection that hears notices. Its methods raise ConnectionError when it is lost."""

    def wait(self, timeout_s: float) -> list[tuple[str, list[Any]]]:
        """(about, ids) of what was told; nothing when the time is over."""
        ...

    def wake(self) -> None:
        """Ends a wait that is going on. From any thread."""
        ...

    def close(self) -> None:
        """Hears no more."""
        ...


class Notices:
    """Listens in a thread of its own from start() on."""

    def __init__(self, connect: Callable[[], Ear]) -> None:
        self._connect = connect
        self._told: dict[str, list[Callable[[list[Any]], None]]] = {}
        self._checks: list[Callable[[], None]] = []
        self._stop = Event()
        self._ear: Ear | None = None
        self.listening = Event()  # set while notices are heard
        self._thread = Thread(target=self._work, name="notices", daemon=True)

    def hear(self, about: str, tell: Callable[[list[Any]], None]) -> None:
        """tell(ids) for every notice of this kind; it has to be quick. To be called before start()."""
        self._told.setdefault(about, []).append(tell)

    def check(self, look: Callable[[], None]) -> None:
        """look() when notices may have been missed: after connecting, and every few seconds."""
        self._checks.append(look)

    def start(self) -> None:
        """Begins to listen."""
        self._thread.start()

    def close(self) -> None:
        """Hears no more."""
        self._stop.set()
        ear = self._ear
        if ear is not None:
            ear.wake()
        if self._thread.is_alive():
            self._thread.join(timeout=10)

    def _work(self) -> None:
        told = False  # once a time the database is away, not twice a second
        while not self._stop.is_set():
            try:
                ear = self._connect()
            except ConnectionError as error:
                if not told:
                    log.warning("no notices of other processes are heard: %s", error)
                told = True
                self._stop.wait(_PAUSE_S)
                continue
            if told:
                log.info("notices of other processes are heard again")
            told = False
            self._ear = ear
            try:
                self._listen(ear)
            except ConnectionError as error:
                log.warning("notices of other processes are heard no more: %s", error)
                told = True
            finally:
                self.listening.clear()
                self._ear = None
                ear.close()

    def _listen(self, ear: Ear) -> None:
        check_at = 0.0
        while not self._stop.is_set():
            if time.monotonic() >= check_at:
                for look in self._checks:
                    self._safely(look)
                check_at = time.monotonic() + _CHECK_S
                self.listening.set()
            for about, ids in ear.wait(min(1.0, _CHECK_S)):
                for tell in self._told.get(about, ()):
                    self._safely(partial(tell, ids))

    @staticmethod
    def _safely(call: Callable[[], None]) -> None:
        try:
            call()
        except Exception:  # this thread must go on; a check later finds what was missed
            log.exception("a notice could not be passed on")
