"""Looks at open sets wait their turn: one that may tell a new rep goes before one that only makes a told one surer."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from threading import Condition, Thread

Look = Callable[[], None]


class Looks:
    """A few threads that take looks, the pressing ones first, each kind in order. A look must not raise."""

    def __init__(self, threads: int) -> None:
        self._waiting: list[tuple[bool, int, Look]] = []
        self._number = itertools.count()
        self._changed = Condition()
        self._closing = False
        self._threads = [Thread(target=self._work, name=f"live-{n}", daemon=True) for n in range(threads)]
        for thread in self._threads:
            thread.start()

    def submit(self, look: Look, pressing: bool) -> bool:
        """Takes a look as soon as it is its turn; False when none is taken any more."""
        with self._changed:
            if not self._closing:
                heapq.heappush(self._waiting, (not pressing, next(self._number), look))
                self._changed.notify()
            return not self._closing

    def close(self) -> None:
        """Lets the present looks end; those that wait are dropped."""
        with self._changed:
            self._closing = True
            self._waiting.clear()
            self._changed.notify_all()
        for thread in self._threads:
            thread.join()

    def _work(self) -> None:
        while (look := self._next()) is not None:
            look()

    def _next(self) -> Look | None:
        with self._changed:
            while not self._waiting and not self._closing:
                self._changed.wait()
            return None if self._closing else heapq.heappop(self._waiting)[2]
