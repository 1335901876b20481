"""The latest set of each device: what is going on at each platform."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from barwright.storage.tables import AthleteRow, DeviceRow, SetRow, StreamRow


@dataclass(frozen=True, slots=True)
class LatestSet:
    """A device and the set that was begun last on it. began: when the service heard of it."""

    device_id: str
    device_name: str
    stream_id: str
    set_id: str
    athlete_id: str
    athlete_name: str
    lift: str
    load_kg: float
    state: str
    began: datetime


def latest_of_device(session: Session, club_id: str, device_id: str) -> LatestSet | None:
    """The set begun last on a device of the club."""
    query = (
        select(SetRow, StreamRow.created_at, AthleteRow.name, DeviceRow.name)
        .join(StreamRow, col(StreamRow.id) == col(SetRow.stream_id))
        .join(AthleteRow, col(AthleteRow.id) == col(SetRow.athlete_id))
        .join(DeviceRow, col(DeviceRow.id) == col(SetRow.device_id))
        .where(StreamRow.club_id == club_id)
        .where(StreamRow.device_id == device_id)
        .order_by(col(StreamRow.created_at).desc(), col(StreamRow.id).desc())
    )
    found = session.exec(query.limit(1)).first()
    if found is None:
        return None
    row, began, athlete, device = found
    return LatestSet(
        row.device_id,
        device,
        row.stream_id,
        row.id,
        row.athlete_id,
        athlete,
        row.lift,
        row.load_kg,
        row.state,
        began,
    )
