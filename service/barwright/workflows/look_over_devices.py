"""Every device of the club with what its recordings were like of late."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from barwright.access.caller import Caller
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.device_history import RecordingSeen, latest_recordings
from barwright.storage.devices import Device, DeviceStore
from barwright.workflows.parts import Parts

_RECORDINGS = 600  # of the whole club
_EACH = 12


@dataclass(frozen=True, slots=True)
class DeviceSeen:
    """recordings: the latest first, at most twelve. calibrated_at: None when it never was."""

    device: Device
    recordings: tuple[RecordingSeen, ...]
    calibrated_at: datetime | None


def look_over_devices(parts: Parts, caller: Caller) -> list[DeviceSeen]:
    """All devices in order of name."""
    with parts.database.reading() as session:
        devices = DeviceStore(session, caller.club_id).page(None, 1000)
        seen: dict[str, list[RecordingSeen]] = {}
        for one in latest_recordings(session, caller.club_id, _RECORDINGS):
            seen.setdefault(one.device_id, []).append(one)
        calibrations = CalibrationStore(session, caller.club_id)
        return [_seen(device, seen.get(device.id, []), calibrations) for device in devices]


def _seen(device: Device, recordings: list[RecordingSeen], calibrations: CalibrationStore) -> DeviceSeen:
    latest = calibrations.page(device.id, None, 1)
    return DeviceSeen(device, tuple(recordings[:_EACH]), latest[0].created_at if latest else None)
