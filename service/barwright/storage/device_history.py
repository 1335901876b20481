"""What the latest recordings of each device were like."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from barwright.storage.tables import SetRow


@dataclass(frozen=True, slots=True)
class RecordingSeen:
    """One recording of a device. verdict: None while it has none. accel_noise m/s2/sqrt(Hz)."""

    device_id: str
    started_at: datetime
    verdict: str | None
    accel_noise: float | None


def latest_recordings(session: Session, club_id: str, limit: int) -> list[RecordingSeen]:
    """The club's latest recordings of all devices, the latest first."""
    query = select(SetRow.device_id, SetRow.started_at, SetRow.quality).where(SetRow.club_id == club_id)
    rows = session.exec(query.order_by(col(SetRow.started_at).desc(), col(SetRow.id).desc()).limit(limit))
    return [
        RecordingSeen(
            device_id,
            started_at,
            None if quality is None else quality["verdict"],
            None if quality is None else quality["accel_noise"],
        )
        for device_id, started_at, quality in rows
    ]
