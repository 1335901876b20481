"""What live runs of one club's streams have to remember."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from barwright.storage.live_tables import LiveRunRow
from barwright.storage.tables import StreamRow


@dataclass(frozen=True, slots=True)
class KeptRun:
    """velocity_loss: % lost at which the set is to be stopped, None when nobody asked."""

    velocity_loss: float | None = None
    memory: dict[str, Any] | None = None


class LiveRunStore:
    """Reads and writes the live runs of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def get(self, stream_id: str) -> KeptRun:
        """What is remembered of a stream."""
        row = self._row(stream_id)
        return KeptRun() if row is None else KeptRun(row.velocity_loss, row.memory)

    def several(self, stream_ids: Sequence[str]) -> dict[str, KeptRun]:
        """What is remembered of each of these."""
        query = select(LiveRunRow).join(StreamRow).where(StreamRow.club_id == self._club_id)
        rows = self._session.exec(query.where(col(LiveRunRow.stream_id).in_(stream_ids)))
        kept = {row.stream_id: KeptRun(row.velocity_loss, row.memory) for row in rows}
        return {one: kept.get(one) or KeptRun() for one in stream_ids}

    def ask_stop(self, stream_id: str, velocity_loss: float | None) -> None:
        """The velocity loss at which a set of this club is to be stopped."""
        self._kept(stream_id).velocity_loss = velocity_loss

    def remember(self, stream_id: str, memory: dict[str, Any]) -> None:
        """The state of the run of a stream of this club."""
        self._kept(stream_id).memory = memory

    def _kept(self, stream_id: str) -> LiveRunRow:
        row = self._row(stream_id)
        if row is None:
            row = LiveRunRow(stream_id=stream_id)
            self._session.add(row)
        return row

    def _row(self, stream_id: str) -> LiveRunRow | None:
        query = select(LiveRunRow).join(StreamRow).where(StreamRow.club_id == self._club_id)
        return self._session.exec(query.where(LiveRunRow.stream_id == stream_id)).first()
