"""What the rows say of every stream, for holding it against the raw samples; over all clubs, for the operator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import text
from sqlmodel import Session, col, select

from barwright.storage.keeping_tables import DoomedRow, ThinnedRow
from barwright.storage.raw_objects import StoredObject
from barwright.storage.tables import BlockBodyRow, BlockRow, DeviceStartRow, SetRow, StreamRow

Identity = tuple[str, int]  # boot, seq


@dataclass(frozen=True, slots=True)
class RowsOfStream:
    """blocks: digest of each block by its identity. loose: stored forms not in the raw object yet.

    starts: blocks, samples, first and last time (us) and highest number by device start, as they were kept up;
    counted: the same from the blocks. thinned: packed, around_reps or dropped; None while raw is as it came.
    """

    stream_id: str
    set_id: str | None
    state: str | None
    revision: int
    closed: bool
    raw: StoredObject | None
    thinned: str | None
    blocks: dict[Identity, str]
    loose: tuple[bytes, ...]
    starts: dict[str, tuple[int, int, int, int, int]]
    counted: dict[str, tuple[int, int, int, int, int]]


def stream_ids(session: Session, after: str, limit: int) -> list[str]:
    """Ids of streams of all clubs in order, those after one."""
    query = select(StreamRow.id).where(StreamRow.id > after).order_by(col(StreamRow.id)).limit(limit)
    return list(session.exec(query))


def rows_of_stream(session: Session, stream_id: str) -> RowsOfStream | None:
    """None when it was erased meanwhile."""
    row = session.get(StreamRow, stream_id)
    if row is None:
        return None
    lift_set = session.exec(select(SetRow).where(SetRow.stream_id == stream_id)).first()
    thinned = session.exec(select(ThinnedRow.form).where(ThinnedRow.stream_id == stream_id)).first()
    blocks = session.exec(select(BlockRow).where(BlockRow.stream_id == stream_id)).all()
    bodies = session.exec(select(BlockBodyRow.body).where(BlockBodyRow.stream_id == stream_id)).all()
    starts = session.exec(select(DeviceStartRow).where(DeviceStartRow.stream_id == stream_id)).all()
    raw = None if row.raw_object is None else StoredObject(row.raw_object, row.raw_digest or "")
    return RowsOfStream(
        stream_id,
        None if lift_set is None else lift_set.id,
        None if lift_set is None else lift_set.state,
        0 if lift_set is None else lift_set.revision,
        row.closed_at is not None,
        raw,
        thinned,
        {(one.boot, one.seq): one.digest for one in blocks},
        tuple(bodies),
        {one.boot: (one.blocks, one.samples, one.first_us, one.last_us, one.last_seq) for one in starts},
        _counted(blocks),
    )


def _counted(blocks: Sequence[BlockRow]) -> dict[str, tuple[int, int, int, int, int]]:
    of_boot: dict[str, list[BlockRow]] = {}
    for one in blocks:
        of_boot.setdefault(one.boot, []).append(one)
    return {
        boot: (
            len(rows),
            sum(one.samples for one in rows),
            min(one.first_us for one in rows),
            max(one.last_us for one in rows),
            max(one.seq for one in rows),
        )
        for boot, rows in of_boot.items()
    }


def doomed_names(session: Session) -> frozenset[str]:
    """Objects that are only still there because the store could not delete them yet."""
    return frozenset(session.exec(select(DoomedRow.name)))


def troubles_of_database(session: Session) -> list[str]:
    """What SQLite itself finds wrong with its pages, indexes and foreign keys; PostgreSQL checks its own as it goes."""
    if session.connection().dialect.name != "sqlite":
        return []
    pages = [row[0] for row in session.connection().execute(text("PRAGMA integrity_check")) if row[0] != "ok"]
    keys = session.connection().execute(text("PRAGMA foreign_key_check"))
    return pages + [f"a row of {row[0]} hangs on a row of {row[2]} that is not there" for row in keys]
