"""Events of one club, in the order in which they happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, delete, select

from barwright.storage.live_tables import EventRow
from barwright.storage.notices import EVENTS, give_notice

KINDS = ("set_opened", "rep", "rep_corrected", "stop_advised", "set_closed")


@dataclass(frozen=True, slots=True)
class NewEvent:
    """Something to tell. kind: one of KINDS. data: as it goes on the wire."""

    kind: str
    stream_id: str
    athlete_id: str
    data: dict[str, Any]


@dataclass(frozen=True, slots=True)
class LiveEvent:
    """Something that was kept. id: rises with every event and is never used again."""

    id: int
    club_id: str
    stream_id: str
    kind: str
    at: datetime
    data: dict[str, Any]


class EventStore:
    """Reads and writes the events of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def add(self, new: Sequence[NewEvent], now: datetime) -> list[LiveEvent]:
        """Keeps events of streams of this club, whose turn to write it is; answers them with their ids."""
        rows = [
            EventRow(
                club_id=self._club_id,
                stream_id=one.stream_id,
                athlete_id=one.athlete_id,
                kind=one.kind,
                at=now,
                data=one.data,
            )
            for one in new
        ]
        self._session.add_all(rows)
        self._session.flush()
        kept = [_event(row) for row in rows]
        if kept:
            give_notice(self._session, EVENTS, self._club_id, kept[0].id, kept[-1].id)
        return kept

    def after(self, last_id: int, limit: int, stream_id: str | None = None) -> list[LiveEvent]:
        """At most `limit` events with a higher id, of one stream or of all."""
        query = select(EventRow).where(EventRow.club_id == self._club_id).where(col(EventRow.id) > last_id)
        if stream_id is not None:
            query = query.where(EventRow.stream_id == stream_id)
        return [_event(row) for row in self._session.exec(query.order_by(col(EventRow.id)).limit(limit))]

    def newest_id(self, stream_id: str | None = None, athlete_id: str | None = None) -> int:
        """The id of the newest event, of one stream or athlete or of all; 0 when there is none."""
        query = select(func.max(EventRow.id)).where(EventRow.club_id == self._club_id)
        if stream_id is not None:
            query = query.where(EventRow.stream_id == stream_id)
        if athlete_id is not None:
            query = query.where(EventRow.athlete_id == athlete_id)
        return self._session.exec(query).one() or 0

    def streams_told(self, stream_ids: Sequence[str]) -> set[str]:
        """Which of these streams have an event."""
        query = select(EventRow.stream_id).where(EventRow.club_id == self._club_id)
        return set(self._session.exec(query.where(col(EventRow.stream_id).in_(stream_ids)).distinct()))

    def oldest_id(self) -> int:
        """The id of the oldest event that is still kept; 0 when there is none."""
        return self._session.exec(select(func.min(EventRow.id)).where(EventRow.club_id == self._club_id)).one() or 0


def drop_events_before(session: Session, before: datetime) -> None:
    """Deletes what any club's listeners have had long enough to fetch."""
    session.exec(delete(EventRow).where(col(EventRow.at) < before))


def _event(row: EventRow) -> LiveEvent:
    assert row.id is not None
    data: dict[str, Any] = row.data
    return LiveEvent(row.id, row.club_id, row.stream_id, row.kind, row.at, data)
