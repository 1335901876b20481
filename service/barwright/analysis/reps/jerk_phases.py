"""Phases of a jerk or push press: dip, drive, rise to the apex, receive, recovery."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.results import Phase
from barwright.analysis.reps.shaken import crossing_u, ring_left, shaken_peak_u
from barwright.analysis.reps.turning import Rise

Floats = NDArray[np.float64]
SINKING = -0.05  # m/s: the dip begins where the still bar sinks faster
RECEIVED = 0.02  # m/s: the bar has been received once it falls slower


def jerk_phases(motion: Motion, window: RepWindow) -> tuple[Phase, ...]:
    """Phases of the drive of a window: its own for a jerk, that after the clean for a clean and jerk."""
    rise = window.rise if window.drive is None else window.drive
    t, v, last = motion.t_s, motion.velocity[:, 2], len(motion.t_s) - 1
    begin = dip_start(v, rise.low, motion.dt) if window.drive is not None else window.span.start
    received = received_at(v, rise, max(window.span.stop, rise.high + 1), motion.dt)
    bounds = (begin, rise.low, rise.fastest, rise.high, received, min(last, window.span.stop))
    times = [float(t[k]) for k in bounds]
    u = [crossing_u(motion, plain, k) for plain, k in zip((0.02, 0.008, 0.006, 0.01, 0.02, 0.1), bounds, strict=True)]
    u[2] = float(np.hypot(0.006, shaken_peak_u(motion, rise, times[2]) if ring_left(motion) else 0.0))
    names = (("dip", 0.9), ("drive", 0.95), ("rise_to_apex", 0.9), ("receive", 0.7), ("recovery", 0.6))
    return tuple(
        Phase(name, times[k], max(times[k], times[k + 1]), sure, u[k], u[k + 1]) for k, (name, sure) in enumerate(names)
    )


def dip_start(v: Floats, bottom: int, dt: float) -> int:
    """The last sample before the dip's bottom at which the bar did not yet sink faster than 5 cm/s."""
    far = max(0, bottom - round(1.2 / dt))
    sinking = np.flatnonzero(v[far:bottom] < SINKING)
    if not len(sinking):
        return bottom
    gaps = np.flatnonzero(np.diff(sinking) > round(0.06 / dt) + 1)  # a calm piece parts it from what was before
    return far + int(sinking[gaps[-1] + 1] if len(gaps) else sinking[0])


def received_at(v: Floats, rise: Rise, stop: int, dt: float) -> int:
    """First sample after the apex at which the falling bar has stopped; the lowest one of the fall else."""
    fall = v[rise.high : min(len(v), stop + round(0.3 / dt), rise.high + round(0.8 / dt))]
    ended = np.flatnonzero((fall[1:] > -RECEIVED) & (fall[:-1] <= -RECEIVED))
    if not len(ended):
        return rise.high + max(0, len(fall) - 1)
    at = rise.high + int(ended[0]) + 1
    slope = (float(v[min(at + 1, len(v) - 1)]) - float(v[at - 2])) / (3 * dt) if at >= 2 else 1.0
    return min(at + round(RECEIVED / max(slope, 1.0) / dt), len(v) - 1)  # from there to nought, as it is slowing
