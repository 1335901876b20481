"""Sets that workers analyse: the rows of the queue are made with what makes a set due; here one waits for the end."""

from __future__ import annotations

from concurrent.futures import Future
from threading import Lock
from typing import Any

from barwright.live.notices import Notices
from barwright.storage.jobs import jobs_unfinished
from barwright.storage.sessions import Database
from barwright.storage.sets import SetStore
from barwright.workflows.set_queue import SetQueue, ShuttingDownError

Which = tuple[str, str]  # club, set


class WorkerQueue(SetQueue):
    """As the queue within one process, for a service whose sets are analysed by `barwright work`."""

    def __init__(self, database: Database, notices: Notices) -> None:
        self._database = database
        self._lock = Lock()
        self._waited_for: dict[Which, Future[None]] = {}
        self._ended = False
        notices.hear("sets", self._heard)
        notices.check(self._check)

    def request(self, club_id: str, set_id: str) -> Future[None]:
        """Done when no analysis of the set is due any more; the row that asks for it is there already."""
        which = (club_id, set_id)
        with self._lock:
            future = self._waited_for.get(which)
            if future is None:
                future = self._waited_for[which] = Future()
                future.set_running_or_notify_cancel()
            if self._ended:
                self._waited_for.pop(which).set_exception(_stops())
        return future

    def join(self, club_id: str, set_id: str) -> Future[None]:
        """The same: the database knows what runs. A look now spares the wait for one that ended just before."""
        future = self.request(club_id, set_id)
        self._look((club_id, set_id))
        return future

    def length(self) -> int:
        """Sets waiting or being analysed, in the whole service."""
        with self._database.reading() as session:
            return jobs_unfinished(session)

    def is_alive(self) -> bool:
        """The queue is the database itself; that sets wait for want of workers, its length tells."""
        return True

    def close(self) -> None:
        """Tells those who wait that nobody here hears of the end."""
        with self._lock:
            self._ended = True
            waiting, self._waited_for = self._waited_for, {}
        for future in waiting.values():
            future.set_exception(_stops())

    def _heard(self, ids: list[Any]) -> None:
        with self._lock:
            found = [which for which in self._waited_for if which[1] == ids[0]]
        for which in found:
            self._look(which)

    def _check(self) -> None:
        with self._lock:
            waiting = list(self._waited_for)
        for which in waiting:
            self._look(which)

    def _look(self, which: Which) -> None:
        with self._database.reading() as session:
            if SetStore(session, which[0]).state(which[1]) == "analysing":
                return
        with self._lock:
            future = self._waited_for.pop(which, None)
        if future is not None:
            future.set_result(None)


def _stops() -> ShuttingDownError:
    return ShuttingDownError("the service stops; the set is analysed all the same")
