"""What a running service puts right by itself, quietly, every half minute."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from threading import Event, Thread

from barwright.storage.sessions import StorageUnavailableError
from barwright.storage.sets import unfinished_sets
from barwright.workflows.forget_athlete import delete_doomed
from barwright.workflows.manage_keys import write_down_uses
from barwright.workflows.parts import Parts
from barwright.workflows.quiet_feeds import close_quiet_feeds
from barwright.workflows.set_queue import SetQueue
from barwright.workflows.thin_raw import thin_what_is_due

log = logging.getLogger(__name__)

EVERY_S = 30.0
_LONGEST_S = 3600.0
_THINNING_S = 3600.0


class Upkeep:
    """A thread of its own. Nothing it does is urgent, and nothing is lost when it is stopped in between.

    stuck: also asks again for sets whose analysis could not be kept, as on a disk that was full; where the queue of
    analyses does that itself it is off.
    """

    def __init__(
        self,
        parts: Parts,
        queue: SetQueue,
        stuck: bool = True,
        every_s: float = EVERY_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._parts = parts
        self._queue = queue
        self._stuck = stuck
        self._every_s = every_s
        self._clock = clock
        self._tries: dict[tuple[str, str], tuple[int, float]] = {}  # set -> times asked again, not before
        self._next_thinning = clock() + every_s
        self._turn = parts.database.alone("upkeep")
        self._stop = Event()
        self._thread = Thread(target=self._work, name="upkeep", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Ends after what it is doing now."""
        self._stop.set()
        self._thread.join()
        self._turn.give_back()

    def once(self) -> None:
        """One round. Raises StorageUnavailableError."""
        write_down_uses(self._parts)
        if self._stuck:
            self._ask_again()
        if self._turn.take():
            delete_doomed(self._parts)
            close_quiet_feeds(self._parts, self._queue)
            if self._clock() >= self._next_thinning:
                self._next_thinning = self._clock() + _THINNING_S
                thin_what_is_due(self._parts, self._stop.is_set)

    def _work(self) -> None:
        while not self._stop.wait(self._every_s):
            try:
                self.once()
            except StorageUnavailableError as error:
                log.info("upkeep waits for the storage: %s", error)
            except Exception:  # this thread has to be there for the next round
                log.exception("upkeep")

    def _ask_again(self) -> None:
        """Sets that wait although nobody works on them; one that fails again and again is asked for less and less."""
        with self._parts.database.reading() as session:
            due = unfinished_sets(session)
        self._tries = {which: told for which, told in self._tries.items() if which in set(due)}
        now = self._clock()
        for which in due:
            times, not_before = self._tries.get(which, (0, now + self._every_s))
            if now >= not_before:
                self._queue.join(*which)  # the run that waits or goes on, where there is one
                times += 1
                not_before = now + min(self._every_s * 2.0**times, _LONGEST_S)
            self._tries[which] = (times, not_before)
