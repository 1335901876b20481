"""One calibration as data, and doing it: this is what runs in another process."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.poses.found import SensorFound, ToldMeans
from barwright.workflows.analysis_job import Broken, Unusable, as_data
from barwright.workflows.finite import check_finite


@dataclass(frozen=True, slots=True)
class CalibrationJob:
    """parts: the recording, or means: of poses, with rate_hz where it was told. gravity m/s2, None when not told."""

    parts: tuple[ImuSamples, ...]
    means: tuple[ToldMeans, ...]
    rate_hz: float | None
    setup: SensorSetup
    gravity: float | None


CalibrationOutcome = SensorFound | Unusable | Broken


def run_calibration(job: CalibrationJob) -> CalibrationOutcome:
    """Does one calibration."""
    return as_data(lambda: check_finite(_found(job), "calibration"))


def _found(job: CalibrationJob) -> SensorFound:
    from barwright.analysis.poses.calibrate import calibrate_means, calibrate_recording  # scipy loads where it is used

    if job.means:
        return calibrate_means(job.means, job.rate_hz, job.setup, job.gravity)
    return calibrate_recording(job.parts, job.setup, job.gravity)
