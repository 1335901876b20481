"""What was checked of the devices of one club."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Literal

from sqlmodel import Session, col, delete, select, tuple_

from barwright.analysis.devices.compared import MotionChecked
from barwright.analysis.devices.found import DeviceFound
from barwright.analysis.devices.string_setup import StringFound
from barwright.storage.bench_tables import BenchRow
from barwright.storage.ids import new_id

BenchKind = Literal["check", "motion", "string"]
BenchFound = DeviceFound | MotionChecked | StringFound
_PREFIX: dict[BenchKind, str] = {"check": "chk", "motion": "mot", "string": "stg"}


@dataclass(frozen=True, slots=True)
class StoredBench:
    """One check of a device, and when. found: what dataclasses.asdict makes of a BenchFound."""

    id: str
    device_id: str
    kind: str
    created_at: datetime
    found: dict[str, Any]


class BenchStore:
    """Reads and writes the checks of one club's devices, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, device_id: str, kind: BenchKind, found: BenchFound, now: datetime) -> StoredBench:
        """A new check of a device of this club."""
        row = BenchRow(
            id=new_id(_PREFIX[kind]),
            club_id=self._club_id,
            device_id=device_id,
            kind=kind,
            created_at=now,
            found=asdict(found),
        )
        self._session.add(row)
        return _stored(row)

    def get(self, device_id: str, kind: BenchKind, bench_id: str) -> StoredBench | None:
        """The check of a device with this id."""
        query = select(BenchRow).where(BenchRow.club_id == self._club_id).where(BenchRow.id == bench_id)
        query = query.where(BenchRow.device_id == device_id).where(BenchRow.kind == kind)
        row = self._session.exec(query).first()
        return None if row is None else _stored(row)

    def page(
        self, device_id: str, kind: BenchKind, after: tuple[datetime, str] | None, limit: int
    ) -> list[StoredBench]:
        """At most `limit` checks of a device, the newest first, those behind (created_at, id) `after`."""
        key = tuple_(col(BenchRow.created_at), col(BenchRow.id))
        query = select(BenchRow).where(BenchRow.club_id == self._club_id)
        query = query.where(BenchRow.device_id == device_id).where(BenchRow.kind == kind)
        query = query.order_by(col(BenchRow.created_at).desc(), col(BenchRow.id).desc())
        if after is not None:
            query = query.where(key < after)
        return [_stored(row) for row in self._session.exec(query.limit(limit))]

    def delete(self, bench_id: str) -> None:
        """Takes it away."""
        self._session.exec(
            delete(BenchRow).where(col(BenchRow.club_id) == self._club_id).where(col(BenchRow.id) == bench_id)
        )


def _stored(row: BenchRow) -> StoredBench:
    return StoredBench(row.id, row.device_id, row.kind, row.created_at, row.found)
