"""A hub whose events come from every process on the same database, in the order in which they were committed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from threading import Lock
from typing import Any

from barwright.live.hub import MOST_WAITING, Event, Hub, Listener
from barwright.live.notices import Notices


class PostgresHub(Hub):
    """Notices carry a club and ids of events; `read(club_id, after_id)` fetches the rows.

    A club nobody listens to here costs no look at the database. What a lost connection hid is read when it is back.
    """

    def __init__(self, read: Callable[[str, int], Sequence[Event]], newest: Callable[[str], int]) -> None:
        super().__init__()
        self._read = read
        self._newest = newest
        self._marks: dict[str, int | None] = {}  # club -> the last event passed on, None: not looked at yet
        self._marking = Lock()

    def connect(self, notices: Notices) -> None:
        """Passes on what is heard there."""
        notices.hear("events", self._heard)
        notices.check(self._check)

    def listen(self, club_id: str, stream_id: str | None = None, most: int = MOST_WAITING) -> Listener:
        """As in one process."""
        listener = super().listen(club_id, stream_id, most)
        with self._marking:
            self._marks.setdefault(club_id, None)
        return listener

    def publish(self, events: Iterable[Event]) -> None:
        """Does nothing: the database tells of them, here as elsewhere."""

    def _heard(self, ids: list[Any]) -> None:
        club_id, first, _last = ids
        with self._marking:
            if club_id not in self._marks:
                return
            mark = self._marks[club_id]
        self._pass_on(club_id, first - 1 if mark is None else min(mark, first - 1))

    def _check(self) -> None:
        """Reads on where there is a mark, sets one where there is none yet, and forgets clubs nobody listens to."""
        with self._marking:
            listened = self.clubs()
            self._marks = {club: mark for club, mark in self._marks.items() if club in listened}
            marks = dict(self._marks)
        for club_id, mark in marks.items():
            if mark is None:
                self._mark(club_id, self._newest(club_id))
            else:
                self._pass_on(club_id, mark)

    def _pass_on(self, club_id: str, after: int) -> None:
        while events := self._read(club_id, after):
            super().publish(events)
            after = events[-1].id
            self._mark(club_id, after)

    def _mark(self, club_id: str, event_id: int) -> None:
        with self._marking:
            if club_id in self._marks:
                self._marks[club_id] = max(event_id, self._marks[club_id] or 0)
