"""One check of a sensor as data, and doing it: this is what runs in another process."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.devices.compared import MotionChecked
from barwright.analysis.devices.found import DeviceFound
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.quantities.estimate import Estimate
from barwright.workflows.analysis_job import Broken, Unusable, as_data
from barwright.workflows.finite import check_finite


@dataclass(frozen=True, slots=True)
class MotionTold:
    """What was told of a known motion: its name, and each measure with its u, SI."""

    motion: str
    length: Estimate | None = None
    turns: Estimate | None = None
    radius: Estimate | None = None


@dataclass(frozen=True, slots=True)
class BenchJob:
    """parts: the recording. gravity m/s2, None when not told. clock: (device, server) seconds. motion: None for a check
    of the whole sensor.
    """

    parts: tuple[ImuSamples, ...]
    setup: SensorSetup
    gravity: Estimate | None
    clock: tuple[tuple[float, float], ...] = ()
    motion: MotionTold | None = None


BenchOutcome = DeviceFound | MotionChecked | Unusable | Broken


def run_bench(job: BenchJob) -> BenchOutcome:
    """Does one check."""
    return as_data(lambda: check_finite(_found(job), "device check"))


def _found(job: BenchJob) -> DeviceFound | MotionChecked:
    if job.motion is None:
        from barwright.analysis.devices.device_check import check_device  # scipy loads where it is used

        return check_device(job.parts, job.setup, None if job.gravity is None else job.gravity.value, job.clock)
    from barwright.analysis.devices.known_motions import Told, check_motion, standard_gravity

    told = job.motion
    here = job.gravity or standard_gravity()
    return check_motion(job.parts[0], job.setup, Told(told.motion, here, told.length, told.turns, told.radius))
