"""A device is calibrated from still poses; what is found is kept, and used for streams that begin later."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.motion.samples import ImuSamples
from barwright.analysis.poses.found import SensorFound
from barwright.ingest.calibration_body import CalibrationBody
from barwright.ingest.recording_of import recording_of
from barwright.storage.calibrations import CalibrationStore, StoredCalibration
from barwright.storage.devices import Device, DeviceStore
from barwright.workflows.analysis_job import Unusable, sensor_setup
from barwright.workflows.calibration_job import CalibrationJob
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

_PROBLEM_OF = {"no-still-poses": "no-still-poses", "poses-too-alike": "poses-too-alike"}


def device_to_calibrate(parts: Parts, caller: Caller, device_id: str) -> Device:
    """The device. Raises Cannot when the club has none with this id, or it is an encoder."""
    with parts.database.reading() as session:
        device = DeviceStore(session, caller.club_id).get(device_id)
    if device is None:
        raise not_found("device", device_id)
    if device.facts.kind != "imu":
        raise Cannot(
            "kind-mismatch",
            f"{device.facts.name!r} is an encoder; still poses calibrate an imu. Name the device they were held with.",
        )
    return device


def calibrate_device(
    parts: Parts,
    caller: Caller,
    device: Device,
    told: CalibrationBody,
    retry: Retry | None,
    answer: Callable[[StoredCalibration], bytes],
) -> bytes:
    """A new calibration, kept. Raises Cannot where the poses do not tell enough, or are those of an encoder."""
    found = _found(parts, device, told)

    def keep(session: Session) -> StoredCalibration:
        if DeviceStore(session, caller.club_id).get(device.id) is None:
            raise not_found("device", device.id)
        return CalibrationStore(session, caller.club_id).create(device.id, found, parts.now())

    return create_once(parts, caller, retry, keep, answer)


def list_calibrations(
    parts: Parts, caller: Caller, device_id: str, after: tuple[datetime, str] | None, limit: int
) -> list[StoredCalibration]:
    """Calibrations of a device, the newest first."""
    with parts.database.reading() as session:
        if DeviceStore(session, caller.club_id).get(device_id) is None:
            raise not_found("device", device_id)
        return CalibrationStore(session, caller.club_id).page(device_id, after, limit)


def find_calibration(parts: Parts, caller: Caller, device_id: str, calibration_id: str) -> StoredCalibration:
    """One calibration of a device."""
    with parts.database.reading() as session:
        return _of_device(session, caller, device_id, calibration_id)


def delete_calibration(parts: Parts, caller: Caller, device_id: str, calibration_id: str) -> None:
    """Takes a calibration away. Sets analysed with it keep their results until they are analysed again."""
    with parts.database.writing(caller.club_id) as session:
        _of_device(session, caller, device_id, calibration_id)
        CalibrationStore(session, caller.club_id).delete(calibration_id)


def _of_device(session: Session, caller: Caller, device_id: str, calibration_id: str) -> StoredCalibration:
    found = CalibrationStore(session, caller.club_id).get(calibration_id)
    if found is None or found.device_id != device_id:
        raise not_found("calibration", calibration_id)
    return found


def _found(parts: Parts, device: Device, told: CalibrationBody) -> SensorFound:
    setup = sensor_setup(device.facts, None)
    samples: tuple[ImuSamples, ...] = ()
    notes = told.notes
    if told.recording is not None:
        if told.recording.kind != "imu":
            raise Cannot(
                "kind-mismatch", "The recording is that of an encoder; still poses need accel_x to gyro_z of an imu."
            )
        recording = recording_of(told.recording.blocks, "imu", told.recording.units, setup)
        samples = tuple(part for part in recording.parts if isinstance(part, ImuSamples))
        notes = told.recording.notes
    outcome = parts.calibrate(CalibrationJob(samples, told.means, told.rate_hz, setup, told.gravity))
    if isinstance(outcome, SensorFound):
        return replace(outcome, words=notes + outcome.words)
    if isinstance(outcome, Unusable):
        raise Cannot(_PROBLEM_OF.get(outcome.code, "samples-unusable"), " ".join((outcome.detail, *notes)))
    log.error("device %s: the calibration failed\n%s", device.id, outcome.log)
    raise RuntimeError("a calibration failed")
