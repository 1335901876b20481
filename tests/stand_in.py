"""A stand-in for the analysis, for tests of what is around it: quick, exact, and wrong about lifting."""

from __future__ import annotations

import numpy as np

from barwright.analysis.motion.samples import ImuSamples, Recording
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import Lift
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.results import Phase, Quality, Rep, RepPath, SetAnalysis
from barwright.workflows.analysis_job import AnalysisJob, Outcome, run_job

FEWEST_SAMPLES = 20
BUGGY_LIFT = "tall_clean"  # the stand-in has a bug for this one


def analyse_set(recording: Recording, lift: Lift) -> SetAnalysis:
    """One rep over the whole recording; its peak velocity is the largest number in the samples."""
    if lift.code == BUGGY_LIFT:
        raise ZeroDivisionError("a bug")
    parts = recording.parts
    count = sum(len(part.t_s) for part in parts)
    if count < FEWEST_SAMPLES:
        raise UnusableSamples("too-few-samples", f"There are {count} samples; {FEWEST_SAMPLES} are needed.")
    t_s = np.concatenate([part.t_s for part in parts])
    imu = isinstance(parts[0], ImuSamples)
    largest = max(float(np.max(part.accel_m_s2 if isinstance(part, ImuSamples) else _column(part))) for part in parts)
    path = RepPath(
        t_s=t_s,
        z_m=t_s * 0.5,
        vz=t_s * 0.25,
        az=t_s * 0.125,
        u_z=t_s * 0 + 0.01,
        u_vz=t_s * 0 + 0.02,
        x_m=t_s * 0.1 if imu else None,
        vx=t_s * 0.2 if imu else None,
        u_x=t_s * 0 + 0.03 if imu else None,
    )
    measures = {
        "peak_velocity": Estimate(largest, 0.01, "m/s"),
        "drop_to_catch": unknown("m", "this lift is not caught"),
    }
    phases = (Phase("first_pull", 0.1, 0.6, 0.9),)
    rep = Rep(1, "made", 0.0, float(t_s[-1] - t_s[0]), measures, phases, {"x_most": Estimate(-0.1, 0.01, "m")}, path)
    quality = Quality("good", ("All is well.",), count, float(t_s[-1] - t_s[0]), 200.0, 0.0, rests=((0.0, 0.5),))
    return SetAnalysis("stand-in-1", lift.code, quality, (rep,), ("A stand-in.",))


def outcome_of(job: AnalysisJob) -> Outcome:
    """What a worker process would answer."""
    return run_job(job, analyse_set)


def _column(part):
    return part.position_m if part.position_m is not None else part.velocity_m_s
