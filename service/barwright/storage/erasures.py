"""What hangs on an athlete, counted before it is erased; and raw objects that still have to go."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Column, ColumnElement, FromClause, Select, Table, func, or_, select
from sqlmodel import Session, col, delete
from sqlmodel import select as select_rows

from barwright.storage.keeping_tables import DoomedRow
from barwright.storage.live_tables import FeedBlockRow, FeedRow
from barwright.storage.raw_objects import StoredObject
from barwright.storage.tables import METADATA, StreamRow


def rows_of_athlete(session: Session, athlete_id: str) -> dict[str, int]:
    """Table -> rows that go with the athlete, through however many tables they hang on them; empty ones are left out.

    Found from the foreign keys themselves, so that a new table is counted without being named here.
    """
    athlete = METADATA.tables["athlete"]
    found: dict[str, ColumnElement[bool]] = {"athlete": athlete.c.id == athlete_id}
    for table in METADATA.sorted_tables:  # parents first
        hangs = [_hangs_on(own, found) for own in table.columns]
        conditions = [one for one in hangs if one is not None]
        if conditions and table.name not in found:
            found[table.name] = or_(*conditions)
    counts = {name: session.scalar(_count(METADATA.tables[name], where)) or 0 for name, where in found.items()}
    return {name: count for name, count in counts.items() if count}


def _hangs_on(own: Column[Any], found: dict[str, ColumnElement[bool]]) -> ColumnElement[bool] | None:
    for key in own.foreign_keys:
        parent = key.column.table
        if isinstance(parent, Table) and parent.name in found:
            return own.in_(select(key.column).where(found[parent.name]))
    return None


def _count(table: FromClause, where: ColumnElement[bool]) -> Select[int]:
    return select(func.count()).select_from(table).where(where)


def objects_of_athlete(session: Session, club_id: str, athlete_id: str) -> list[StoredObject]:
    """The raw objects of all streams of an athlete."""
    query = select_rows(StreamRow.raw_object, StreamRow.raw_digest).where(StreamRow.club_id == club_id)
    query = query.where(StreamRow.athlete_id == athlete_id)
    return [StoredObject(name, digest) for name, digest in session.exec(query) if name is not None and digest]


def forget_in_feeds(session: Session, club_id: str, athlete_id: str) -> None:
    """Devices that only stream: nobody is next who was erased, and what a still bar sent last goes too."""
    rows = session.exec(select_rows(FeedRow).where(FeedRow.club_id == club_id)).all()
    for row in rows:
        if row.told is not None and row.told.get("athlete_id") == athlete_id:
            row.told = None
    devices = select(col(StreamRow.device_id)).where(col(StreamRow.athlete_id) == athlete_id)
    session.exec(delete(FeedBlockRow).where(col(FeedBlockRow.device_id).in_(devices)))


def doom(session: Session, names: Iterable[str], now: datetime) -> None:
    """These objects have to go, whatever happens to the store or to us once this is committed."""
    for name in names:
        session.merge(DoomedRow(name=name, since=now))


def doomed(session: Session, limit: int = 1000) -> list[str]:
    """Objects that have to go, the longest due first."""
    return list(session.exec(select_rows(DoomedRow.name).order_by(col(DoomedRow.since)).limit(limit)))


def gone(session: Session, names: Iterable[str]) -> None:
    """The store has deleted these."""
    session.exec(delete(DoomedRow).where(col(DoomedRow.name).in_(list(names))))
