"""Sets waiting for their analysis: each at most once in the queue, and never two runs of one set at a time."""

from __future__ import annotations

import logging
from collections.abc import Callable
from concurrent.futures import Future
from threading import Condition, Thread

log = logging.getLogger(__name__)


class ShuttingDownError(RuntimeError):
    """The wait for an analysis is over because the service stops."""


class SetQueue:
    """`finish(club_id, set_id)` is called by a few threads; the rows say what is due, so nothing here must survive."""

    def __init__(self, finish: Callable[[str, str], None], threads: int) -> None:
        self._finish = finish
        self._waiting: dict[tuple[str, str], Future[None]] = {}  # in order of arrival
        self._running: dict[tuple[str, str], Future[None]] = {}
        self._changed = Condition()
        self._closing = False
        self._threads = [Thread(target=self._work, name=f"sets-{n}", daemon=True) for n in range(threads)]
        for thread in self._threads:
            thread.start()

    def request(self, club_id: str, set_id: str) -> Future[None]:
        """Asks for an analysis that begins from now on; the future is done when it is."""
        with self._changed:
            future = self._waiting.get((club_id, set_id))
            if future is None:
                future = self._waiting[(club_id, set_id)] = Future()
                future.set_running_or_notify_cancel()  # many may wait for it; none of them may call it off
                self._changed.notify()
            if self._closing:
                self._waiting.pop((club_id, set_id)).set_exception(_closing())
            return future

    def join(self, club_id: str, set_id: str) -> Future[None]:
        """The run that waits, else the one that is going on, else a new one."""
        which = (club_id, set_id)
        with self._changed:
            return self._waiting.get(which) or self._running.get(which) or self.request(club_id, set_id)

    def length(self) -> int:
        """Sets waiting or being analysed."""
        with self._changed:
            return len(self._waiting) + len(self._running)

    def is_alive(self) -> bool:
        """Whether every thread that takes sets is still there."""
        return all(thread.is_alive() for thread in self._threads)

    def close(self) -> None:
        """Lets the present runs end; what still waits is found again at the next start."""
        with self._changed:
            self._closing = True
            for future in self._waiting.values():
                future.set_exception(_closing())
            self._waiting.clear()
            self._changed.notify_all()
        for thread in self._threads:
            thread.join()

    def _work(self) -> None:
        while (taken := self._take()) is not None:
            which, future = taken
            failure: Exception | None = None
            try:
                self._finish(*which)
            except Exception as error:  # this thread must go on with the next set; the row stays due
                log.exception("set %s could not be finished", which[1])
                failure = error
            with self._changed:
                del self._running[which]
                self._changed.notify_all()
            if failure is None:
                future.set_result(None)
            else:
                future.set_exception(failure)

    def _take(self) -> tuple[tuple[str, str], Future[None]] | None:
        with self._changed:
            while not self._closing:
                for which in self._waiting:
                    if which not in self._running:
                        self._running[which] = self._waiting.pop(which)
                        return which, self._running[which]
                self._changed.wait()
            return None


def _closing() -> ShuttingDownError:
    return ShuttingDownError("the service stops; the set is analysed after the next start")
