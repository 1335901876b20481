"""Which calibration a set is analysed with when it is analysed again."""

from __future__ import annotations

from sqlmodel import Session

from barwright.storage.calibrations import CalibrationStore
from barwright.storage.sets import SetStore


def nearest_calibration(session: Session, club_id: str, set_id: str) -> str | None:
    """The device's last one before the set began; the first one after where there was none."""
    found = SetStore(session, club_id).get(set_id)
    if found is None:
        return None
    store = CalibrationStore(session, club_id)
    before = store.last_before(found.device_id, found.started_at)
    return before or store.first_after(found.device_id, found.started_at)
