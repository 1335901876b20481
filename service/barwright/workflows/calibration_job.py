"""One calibration as data, and doing it: this is what runs in another process."""

from __future__ import annotations

import traceback
from dataclasses import dataclass

from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.poses.found import SensorFound, ToldMeans
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.workflows.analysis_job import Broken, Unusable, sentence
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
    """Does one calibration; whatever happens comes back as data, because not every exception survives the way back."""
    try:
        from barwright.analysis.poses.calibrate import calibrate_means, calibrate_recording  # scipy loads where used

        if job.means:
            found = calibrate_means(job.means, job.rate_hz, job.setup, job.gravity)
        else:
            found = calibrate_recording(job.parts, job.setup, job.gravity)
        return check_finite(found, "calibration")
    except UnusableSamples as unusable:
        return Unusable(unusable.code, sentence(unusable.detail))
    except Exception:  # a bug in the numbers costs one calibration, never the service
        return Broken(traceback.format_exc())
