"""A device is checked: as a whole, by a known motion, or its string is set up; what is found is kept."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.devices.compared import MotionChecked
from barwright.analysis.devices.found import DeviceFound
from barwright.analysis.devices.string_setup import Offsets, Pull, set_up_string
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.gravity import ANOMALY, normal_gravity
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.ingest.recording_file import RecordingFile
from barwright.ingest.recording_of import recording_of
from barwright.storage.bench import BenchKind, BenchStore, StoredBench
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.devices import Device, DeviceStore
from barwright.workflows.analysis_job import Unusable, sensor_setup, sentence
from barwright.workflows.bench_job import BenchJob, MotionTold
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)
_PROBLEMS = ("no-still-poses", "poses-too-alike", "motion-not-found")
_TOLD_SD = 0.0002  # m/s2, of a gravity that was told
Answer = Callable[[StoredBench], bytes]


def gravity_here(gravity: float | None, latitude_deg: float | None, altitude_m: float | None) -> Estimate | None:
    """Local gravity as told, or of the WGS 84 ellipsoid at a latitude; None where neither was told."""
    if gravity is not None:
        return Estimate(gravity, _TOLD_SD, "m/s2")
    if latitude_deg is None:
        return None
    return Estimate(normal_gravity(latitude_deg, altitude_m or 0.0), ANOMALY, "m/s2")


def check_device(
    parts: Parts,
    caller: Caller,
    device: Device,
    recording: RecordingFile,
    gravity: Estimate | None,
    clock: tuple[tuple[float, float], ...],
    retry: Retry | None,
    answer: Answer,
) -> bytes:
    """A new check, kept. Raises Cannot where the recording does not tell enough, or is that of an encoder."""
    job = BenchJob(*_read(parts, caller, device, recording), gravity, clock)
    return _kept(parts, caller, device, "check", _run(parts, device, job, recording.notes), retry, answer)


def check_motion(
    parts: Parts,
    caller: Caller,
    device: Device,
    recording: RecordingFile,
    gravity: Estimate | None,
    told: MotionTold,
    retry: Retry | None,
    answer: Answer,
) -> bytes:
    """A known motion beside what was to be expected, kept. Raises Cannot where there is no such motion in it."""
    job = BenchJob(*_read(parts, caller, device, recording), gravity, motion=told)
    return _kept(parts, caller, device, "motion", _run(parts, device, job, recording.notes), retry, answer)


def set_up(
    parts: Parts,
    caller: Caller,
    device_id: str,
    pulls: tuple[Pull, ...],
    offsets: Offsets | None,
    apply: bool,
    retry: Retry | None,
    answer: Answer,
) -> bytes:
    """A string set up, kept; apply: where the anchor sits is told to the device. Raises Cannot for an imu, and for what
    makes no sense.
    """
    with parts.database.reading() as session:
        device = DeviceStore(session, caller.club_id).get(device_id)
    if device is None:
        raise not_found("device", device_id)
    if device.facts.kind != "encoder":
        raise Cannot("kind-mismatch", f"{device.facts.name!r} is an imu; only an encoder has a string to set up.")
    try:
        found = set_up_string(pulls, offsets)
    except UnusableSamples as unusable:
        raise Cannot(unusable.code, sentence(unusable.detail)) from unusable

    def keep(session: Session) -> StoredBench:
        devices = DeviceStore(session, caller.club_id)
        now = devices.get(device_id)
        if now is None:
            raise not_found("device", device_id)
        if apply and found.anchor_offset.value is not None:
            mounting = replace(now.facts.mounting, anchor_offset_m=round(found.anchor_offset.value, 3))
            devices.change(device_id, replace(now.facts, mounting=mounting))
        return BenchStore(session, caller.club_id).create(device_id, "string", found, parts.now())

    return create_once(parts, caller, retry, keep, answer)


def list_benches(
    parts: Parts, caller: Caller, device_id: str, kind: BenchKind, after: tuple[datetime, str] | None, limit: int
) -> list[StoredBench]:
    """Checks of a device, the newest first."""
    with parts.database.reading() as session:
        if DeviceStore(session, caller.club_id).get(device_id) is None:
            raise not_found("device", device_id)
        return BenchStore(session, caller.club_id).page(device_id, kind, after, limit)


def find_bench(parts: Parts, caller: Caller, device_id: str, kind: BenchKind, bench_id: str) -> StoredBench:
    """One check of a device."""
    with parts.database.reading() as session:
        return _one(session, caller, device_id, kind, bench_id)


def delete_bench(parts: Parts, caller: Caller, device_id: str, kind: BenchKind, bench_id: str) -> None:
    """Takes a check away; nothing else rests on it."""
    with parts.database.writing(caller.club_id) as session:
        _one(session, caller, device_id, kind, bench_id)
        BenchStore(session, caller.club_id).delete(bench_id)


def _one(session: Session, caller: Caller, device_id: str, kind: BenchKind, bench_id: str) -> StoredBench:
    found = BenchStore(session, caller.club_id).get(device_id, kind, bench_id)
    if found is None:
        raise not_found("check", bench_id)
    return found


def _kept(
    parts: Parts,
    caller: Caller,
    device: Device,
    kind: BenchKind,
    found: DeviceFound | MotionChecked,
    retry: Retry | None,
    answer: Answer,
) -> bytes:
    def keep(session: Session) -> StoredBench:
        if DeviceStore(session, caller.club_id).get(device.id) is None:
            raise not_found("device", device.id)
        return BenchStore(session, caller.club_id).create(device.id, kind, found, parts.now())

    return create_once(parts, caller, retry, keep, answer)


def _read(
    parts: Parts, caller: Caller, device: Device, recording: RecordingFile
) -> tuple[tuple[ImuSamples, ...], SensorSetup]:
    if recording.kind != "imu":
        raise Cannot("kind-mismatch", "The recording is that of an encoder; this needs accel_x to gyro_z of an imu.")
    setup = sensor_setup(device.facts, None)
    with parts.database.reading() as session:
        calibrations = CalibrationStore(session, caller.club_id)
        newest = calibrations.page(device.id, None, 1)
    if newest:
        setup = replace(setup, calibration=newest[0].found.calibration)
    found = recording_of(recording.blocks, "imu", recording.units, setup)
    return tuple(part for part in found.parts if isinstance(part, ImuSamples)), setup


def _run(parts: Parts, device: Device, job: BenchJob, notes: tuple[str, ...]) -> DeviceFound | MotionChecked:
    outcome = parts.bench(job)
    if isinstance(outcome, DeviceFound | MotionChecked):
        return replace(outcome, words=notes + outcome.words)
    if isinstance(outcome, Unusable):
        code = outcome.code if outcome.code in _PROBLEMS else "samples-unusable"
        raise Cannot(code, " ".join((outcome.detail, *notes)))
    log.error("device %s: the check failed\n%s", device.id, outcome.log)
    raise RuntimeError("a device check failed")
