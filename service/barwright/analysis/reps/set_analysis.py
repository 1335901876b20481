"""The whole pure pipeline: samples of one set in, reps out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.motion.encoder_motion import encoder_motion
from barwright.analysis.motion.imu_motion import imu_motion
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording
from barwright.analysis.quantities.lifts import Lift
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.quantities.vectors import norms
from barwright.analysis.reps.encoder_words import encoder_quality
from barwright.analysis.reps.find_reps import RepWindow, find_reps
from barwright.analysis.reps.measures import UP, measure_rep
from barwright.analysis.reps.path_measures import path_measures
from barwright.analysis.reps.phases import PULLS, find_phases
from barwright.analysis.reps.pull_marks import pull_marks
from barwright.analysis.reps.quality_words import quality_of
from barwright.analysis.reps.results import Quality, Rep, RepPath, SetAnalysis

Floats = NDArray[np.float64]
METHOD = "barwright-1"
PATH_HZ = 100.0
ONLY_STRING = "The inertial sensor alone tells no motion here; the figures are the string's."
# No arms are so long, and no bar is lifted so fast (common practice, no source)
FARTHEST_M, FASTEST_M_S = 4.0, 10.0
BETWEEN_PARTS_S = 1.0  # a device that started anew does not say how long it was off


def analyse_set(recording: Recording, lift: Lift) -> SetAnalysis:
    """Reps, measures and quality of one set. Raises UnusableSamples when nothing at all can be said."""
    reps: list[Rep] = []
    qualities: list[Quality] = []
    notes: list[str] = []
    offset = 0.0
    if not recording.parts:
        raise UnusableSamples("too-few-samples", "the recording is empty; at least 8 samples are needed")
    for part in recording.parts:
        check_samples(part)
        motions, quality = _motions(part, recording, lift)
        for motion in motions:
            for window in find_reps(motion, lift):
                reps.append(_rep(motion, window, lift, len(reps), offset))
        qualities.append(quality)
        offset += quality.duration_s + BETWEEN_PARTS_S
    if len(recording.parts) > 1:
        notes.append(
            f"The device started {len(recording.parts)} times; the parts are joined {BETWEEN_PARTS_S:.0f} s apart."
        )
    if not reps:
        notes.append(f"No rep of a {lift.title.lower()} was found: {_why_none(qualities)}")
    axis = recording.setup.bar_axis
    told = None if axis is None else (float(axis[0]), float(axis[1]), float(axis[2]))
    return SetAnalysis(METHOD, lift.code, _worst(qualities), tuple(reps), tuple(notes), told)


def check_samples(part: ImuSamples | EncoderSamples) -> None:
    """Refuse what no analysis can use: nothing, non-finite values, a sensor that says the same all the time."""
    if len(part.t_s) < 8:
        raise UnusableSamples("too-few-samples", f"{len(part.t_s)} samples; at least 8 are needed")
    if isinstance(part, ImuSamples):
        columns = {"accel": part.accel_m_s2, "gyro": part.gyro_rad_s}
        if part.position_m is not None:
            columns["position"] = part.position_m
    else:
        columns = {"position": part.position_m} if part.position_m is not None else {"velocity": part.velocity_m_s}  # type: ignore[dict-item]
    for name, values in columns.items():
        if not np.isfinite(values).all():
            raise UnusableSamples("not-finite", f"{name} holds a value that is not a number")
    if isinstance(part, ImuSamples):
        force = float(np.median(norms(part.accel_m_s2)))
        if force < 3.0:
            raise UnusableSamples(
                "no-gravity",
                f"the accelerometer reads {force:.2f} m/s2 most of the time; "
                "at rest it must read about 9.8 (check the unit)",
            )
        if force > 30.0:
            raise UnusableSamples(
                "too-much-gravity",
                f"the accelerometer reads {force:.0f} m/s2 most of the time; "
                "at rest it must read about 9.8 (check the unit)",
            )
        if not any((x != x[0]).any() for x in (part.accel_m_s2, part.gyro_rad_s)):
            raise UnusableSamples("frozen", "every sample is the same: the sensor seems stuck")
    else:
        _check_string(part)


def _check_string(part: EncoderSamples) -> None:
    """Millimetres or counts taken for metres would come out as a lift a thousand times too fast."""
    if part.position_m is not None:
        low, high = np.quantile(part.position_m, (0.02, 0.98))  # single wild values are repaired later
        if high - low > FARTHEST_M:
            raise UnusableSamples(
                "position-too-far",
                f"the string moves by {high - low:.3g} m; a bar goes no farther than about 3 m (check the unit of "
                "position)",
            )
    elif part.velocity_m_s is not None:
        fast = float(np.quantile(np.abs(part.velocity_m_s), 0.98))
        if fast > FASTEST_M_S:
            raise UnusableSamples(
                "velocity-too-fast",
                f"the string moves at {fast:.3g} m/s for some time; a lifted bar is no faster than about 4 m/s (check "
                "the unit of velocity)",
            )


def _motions(part: ImuSamples | EncoderSamples, recording: Recording, lift: Lift) -> tuple[tuple[Motion, ...], Quality]:
    if isinstance(part, ImuSamples):
        found = imu_motion(part, recording.setup)
        quality = quality_of(found, recording.setup.nominal_rate_hz)
        if found.motions or part.position_m is None:
            return found.motions, quality
        string = encoder_motion(EncoderSamples(part.t_s, part.position_m), recording.setup, lift.swing_m)
        told = encoder_quality(string)
        return (string.motion,), replace(told, words=(*quality.words, ONLY_STRING, *told.words))
    string = encoder_motion(part, recording.setup, lift.swing_m)
    return (string.motion,), encoder_quality(string)


def _rep(motion: Motion, window: RepWindow, lift: Lift, index: int, offset: float) -> Rep:
    t = motion.t_s
    stop = min(len(t) - 1, window.span.stop)
    marks = pull_marks(motion, window, lift.start == "floor") if lift.pattern in PULLS else None
    phases = tuple(
        replace(phase, start_s=phase.start_s + offset, stop_s=phase.stop_s + offset)
        for phase in find_phases(motion, window, lift, marks)
    )
    return Rep(
        index=index, outcome=window.outcome,
        start_s=float(t[window.span.start]) + offset, stop_s=float(t[stop]) + offset,
        measures=measure_rep(motion, window, lift), phases=phases,
        path_measures=path_measures(motion, window, lift, marks), path=_path(motion, window, offset),
    )  # fmt: skip


def _path(motion: Motion, window: RepWindow, offset: float) -> RepPath:
    """The rep's path at 100 Hz at most, from its start; a little before and after so that a chart shows the rest."""
    lead = round(0.25 / motion.dt)
    a, b = max(0, window.span.start - lead), min(len(motion.t_s), max(window.span.stop, window.rise.high) + lead)
    step = max(1, round(1.0 / (PATH_HZ * motion.dt)))
    take = np.arange(a, b, step)
    t = motion.t_s[take]
    start_s = float(motion.t_s[window.span.start])
    z0 = motion.position[window.span.start]
    near = np.maximum(1, len(t) // 60)
    coarse = t[::near] if t[::near][-1] == t[-1] else np.append(t[::near], t[-1])

    def spread(sd: Floats) -> Floats:
        return np.asarray(np.interp(t, coarse, sd))

    moved = motion.position[take] - z0
    x = vx = u_x = None
    if motion.forward is not None:
        x, vx = moved @ motion.forward, motion.velocity[take] @ motion.forward
        u_x = spread(motion.errors.displacement_sd(start_s, coarse, motion.forward))
    return RepPath(
        t_s=t + offset, z_m=moved[:, 2], vz=motion.velocity[take, 2], az=motion.acceleration[take, 2],
        u_z=spread(motion.errors.displacement_sd(start_s, coarse, UP)),
        u_vz=spread(motion.errors.velocity_sd(coarse, UP)),
        x_m=x, vx=vx, u_x=u_x,
    )  # fmt: skip


def _worst(qualities: list[Quality]) -> Quality:
    """One verdict for the set: the worst part's, with every part's words."""
    if len(qualities) == 1:
        return qualities[0]
    order = ("good", "usable", "poor", "unusable")
    worst = max(qualities, key=lambda q: order.index(q.verdict))
    words = tuple(f"Part {n + 1}: {word}" for n, q in enumerate(qualities) for word in q.words)
    total = sum(q.duration_s for q in qualities) + BETWEEN_PARTS_S * (len(qualities) - 1)
    return replace(worst, words=words, samples=sum(q.samples for q in qualities), duration_s=total)


def _why_none(qualities: list[Quality]) -> str:
    if all(q.verdict == "unusable" for q in qualities):
        return "no part of the recording could be turned into motion (see quality)"
    return "the bar did not move the way that lift moves it"
