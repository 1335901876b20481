"""The club's sensors and how well they do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from barwright.coach.numbers import Display, ago, counted
from barwright.coach.words import Tag, verdict_tag
from barwright.workflows.look_over_devices import DeviceSeen

_OLD_CALIBRATION = timedelta(days=180)  # common practice, no source
_MICRO_G = 9.80665e-6


@dataclass(frozen=True, slots=True)
class DeviceLine:
    """One device. recordings: the latest verdicts, the newest first; said: the same in words."""

    id: str
    name: str
    kind: str
    last_seen: str
    noise: str
    calibration: str
    calibration_old: bool
    recordings: tuple[Tag, ...]
    said: str
    mounting: str


@dataclass(frozen=True, slots=True)
class DevicesView:
    """All devices."""

    devices: tuple[DeviceLine, ...]


def devices_view(seen: Sequence[DeviceSeen], now: datetime, display: Display) -> DevicesView:
    """In order of name."""
    return DevicesView(tuple(_line(one, now, display) for one in seen))


def _line(one: DeviceSeen, now: datetime, display: Display) -> DeviceLine:
    facts = one.device.facts
    verdicts = [recording.verdict for recording in one.recordings if recording.verdict is not None]
    noises = sorted(r.accel_noise for r in one.recordings if r.accel_noise is not None)
    imu = facts.kind == "imu"
    last = one.recordings[0].started_at if one.recordings else None
    noise = "–" if not imu else "not known yet"
    if noises:
        noise = f"{noises[len(noises) // 2] / _MICRO_G:.0f} µg/√Hz"
    calibration = "not for this kind" if not imu else "never"
    if one.calibrated_at is not None:
        calibration = ago(one.calibrated_at, now)
    return DeviceLine(
        id=one.device.id,
        name=facts.name,
        kind="Inertial sensor" if imu else "String encoder",
        last_seen="never" if last is None else f"{ago(last, now)} ({display.day(last)})",
        noise=noise,
        calibration=calibration,
        calibration_old=one.calibrated_at is not None and now - one.calibrated_at > _OLD_CALIBRATION,
        recordings=tuple(verdict_tag(verdict) for verdict in verdicts),
        said=_said(verdicts),
        mounting=_mounting(one),
    )


def _said(verdicts: Sequence[str]) -> str:
    if not verdicts:
        return "No recording yet"
    found = Counter(verdicts)
    told = [f"{found[word]} {word}" for word in ("good", "usable", "poor", "unusable") if found[word]]
    return f"Last {counted(len(verdicts), 'recording')}: {', '.join(told)}"


def _mounting(one: DeviceSeen) -> str:
    facts = one.device.facts
    if facts.kind == "encoder":
        offset = facts.mounting.anchor_offset_m
        return "string straight below the bar" if not offset else f"string {100 * offset:.0f} cm beside the bar"
    axis = facts.mounting.bar_axis
    if axis is None:
        return f"on the {facts.mounting.place}; which way it lies is not told, so paths may be mirrored"
    names = [f"{'+' if value > 0 else '−'}{name}" for name, value in zip("xyz", axis, strict=True) if abs(value) > 0.99]
    return f"on the {facts.mounting.place}, {names[0] if names else 'its told'} axis to the lifter's left"
