"""One analysis as data, and doing it: this is what runs in another process."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from barwright.analysis.motion.calibration import Calibration
from barwright.analysis.motion.samples import Recording, SensorSetup
from barwright.analysis.quantities.lifts import LIFTS, Lift
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.results import SetAnalysis
from barwright.ingest.block import unpack_many
from barwright.ingest.recording_of import recording_of
from barwright.storage.devices import DeviceFacts
from barwright.storage.streams import NewStream
from barwright.workflows.finite import check_finite

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class AnalysisJob:
    """stored: stored forms of blocks, in any order. told: what was told of the stream. calibration: of its device."""

    stored: tuple[bytes, ...]
    told: NewStream
    calibration: Calibration | None = None


@dataclass(frozen=True, slots=True)
class Unusable:
    """Nothing can be said of these samples, and why."""

    code: str
    detail: str


@dataclass(frozen=True, slots=True)
class Broken:
    """The analysis itself failed; log: for the operator only. killed: its process was ended from outside."""

    log: str
    killed: bool = False


Outcome = SetAnalysis | Unusable | Broken


def run_job(job: AnalysisJob, analyse: Callable[[Recording, Lift], SetAnalysis] | None = None) -> Outcome:
    """Does one analysis."""
    return as_data(lambda: _analysed(job, analyse))


def as_data(work: Callable[[], T]) -> T | Unusable | Broken:
    """Does a job; whatever happens comes back as data, because not every exception survives the way back."""
    try:
        return work()
    except UnusableSamples as unusable:
        return Unusable(unusable.code, sentence(unusable.detail))
    except Exception:  # a bug in the numbers costs one job, never the service
        return Broken(traceback.format_exc())


def _analysed(job: AnalysisJob, analyse: Callable[[Recording, Lift], SetAnalysis] | None) -> SetAnalysis:
    if analyse is None:
        from barwright.analysis.reps.set_analysis import analyse_set  # scipy loads only where it is used

        analyse = analyse_set
    blocks = [block for stored in job.stored for block in unpack_many(stored)]
    told = job.told
    setup = replace(sensor_setup(told.setup, told.rate_hz), calibration=job.calibration)
    recording = recording_of(blocks, told.setup.kind, told.units, setup)
    return check_finite(analyse(recording, LIFTS[told.lift]))


def sentence(words: str) -> str:
    """The words with a capital and a full stop."""
    return words[:1].upper() + words[1:].rstrip(".") + "."


def sensor_setup(device: DeviceFacts, rate_hz: float | None) -> SensorSetup:
    """What the analysis wants to know of a device."""
    mounting = device.mounting
    return SensorSetup(
        bar_axis=None if mounting.bar_axis is None else np.array(mounting.bar_axis),
        place=mounting.place,
        along_m=mounting.along_m,
        device_class=device.device_class,
        accel_range_m_s2=device.ranges.get("accel"),
        gyro_range_rad_s=device.ranges.get("gyro"),
        anchor_offset_m=mounting.anchor_offset_m,
        anchor_height_m=mounting.anchor_height_m,
        nominal_rate_hz=rate_hz,
    )
