"""The analysis of an open window as data, and doing it: this is what runs in another process."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.calibration import Calibration
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Rep
from barwright.ingest.block import unpack_many
from barwright.ingest.recording_of import recording_of
from barwright.live.run import Found, FoundRep, Window
from barwright.storage.streams import NewStream
from barwright.workflows.analysis_job import Broken, Unusable, as_data, sensor_setup
from barwright.workflows.finite import check_finite


@dataclass(frozen=True, slots=True)
class LiveJob:
    """The samples since the last agreed rest, with what was told of the stream."""

    window: Window
    told: NewStream
    calibration: Calibration | None = None


def run_live_job(job: LiveJob) -> Found | Broken | None:
    """The reps of the window in seconds of the stream; None when nothing can be said of its samples yet."""
    found = as_data(lambda: _found(job))
    return None if isinstance(found, Unusable) else found


def _found(job: LiveJob) -> Found:
    from barwright.analysis.reps.set_analysis import analyse_set  # scipy loads only where it is used

    memory, told = job.window.memory, job.told
    blocks = [block for held in job.window.blocks for block in unpack_many(held.packed)]
    setup = replace(sensor_setup(told.setup, told.rate_hz), calibration=job.calibration)
    part = recording_of(blocks, told.setup.kind, told.units, setup).parts[0]
    since = part.t_s >= memory.from_us * 1e-6 - 1e-7
    part = _samples_of(part, since)
    analysis = check_finite(analyse_set(Recording((part,), setup), LIFTS[told.lift]))  # type: ignore[arg-type]
    begin_s = memory.stream_s(round(float(part.t_s[0]) * 1e6))
    reps = tuple(_shifted(rep, begin_s) for rep in analysis.reps)
    rests = tuple((a + begin_s, b + begin_s) for a, b in analysis.quality.rests)
    return Found(reps, rests, memory.stream_s(round(float(part.t_s[-1]) * 1e6)))


# How much wider u is while the set is open: in simulated sets of six lifts and two device classes, with and without
# errors outside the model, 96 % of provisional peak velocities then lie within 2u of the final ones.
PROVISIONAL_U = 1.6

Kept = NDArray[np.bool_]


def _samples_of(part: ImuSamples | EncoderSamples, take: Kept) -> ImuSamples | EncoderSamples:
    if isinstance(part, ImuSamples):
        string = None if part.position_m is None else part.position_m[take]
        return ImuSamples(part.t_s[take], part.accel_m_s2[take], part.gyro_rad_s[take], string)
    if part.position_m is not None:
        return EncoderSamples(part.t_s[take], position_m=part.position_m[take])
    assert part.velocity_m_s is not None
    return EncoderSamples(part.t_s[take], velocity_m_s=part.velocity_m_s[take])


def _shifted(rep: Rep, by: float) -> FoundRep:
    phases = tuple(replace(one, start_s=one.start_s + by, stop_s=one.stop_s + by) for one in rep.phases)
    return FoundRep(
        outcome=rep.outcome,
        start_s=rep.start_s + by,
        stop_s=rep.stop_s + by,
        measures=_less_sure(rep.measures),
        phases=phases,
        path_measures=_less_sure(rep.path_measures),
        notes=rep.notes,
    )


def _less_sure(figures: dict[str, Estimate]) -> dict[str, Estimate]:
    return {name: one if one.u is None else replace(one, u=PROVISIONAL_U * one.u) for name, one in figures.items()}
