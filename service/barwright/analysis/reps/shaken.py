"""How far what still shakes a motion moves its peaks and crossings: the same figures, read again with more of it.

What is left of a ringing bar, or of the noise of a string, is an error that swings. Read a second time with one more
such error on it, a peak moves by as much as the first error may have moved it (parametric bootstrap, Efron 1979, Annals
of Statistics 7:1-26): a flat one far, a sharp one hardly, and one of two humps may take the other's place.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion, Shake
from barwright.analysis.reps.turning import Rise

Floats = NDArray[np.float64]
STEADY_M_S2 = 0.15
# The square of the size of a Gaussian swing is exponential: the middles of its lower and upper half, of mean 1
SIZES = np.array([0.344, 1.656])
PHASES = 2 * np.pi * (np.arange(8) + 0.5) / 8


def shaken_velocity(motion: Motion, part: slice) -> Floats | None:
    """(16, m) vertical velocity of a part with equally likely swings on it, m/s; None where nothing shakes it.

    A swing has the standard deviations of velocity and acceleration at its place, and so the frequency of their ratio.
    """
    shake = motion.shake
    if shake is None:
        return None
    v, sd = motion.velocity[part, 2], shake.velocity_sd[part]
    turn = shake.accel_sd[part] / np.maximum(sd, 1e-9)
    swing = np.cos(np.cumsum(turn) * motion.dt + PHASES[:, None]) * (np.sqrt(2.0) * sd)
    return np.asarray((v + np.sqrt(SIZES)[:, None, None] * swing).reshape(-1, len(v)))


def peak_time_u(motion: Motion, rise: Rise, peak_s: float, az: Floats) -> float:
    """Seconds by which the peak of a rise, at peak_s, may lie elsewhere; az (n,) smoothed acceleration, m/s2.

    A steady error of acceleration moves it by that over the jerk, a swing by where the peaks of shaken velocity lie.
    """
    u2 = (0.5 * motion.dt) ** 2 + shaken_peak_u(motion, rise, peak_s) ** 2
    if motion.shake is None or motion.ring_hz is not None:  # an accelerometer's
        jerk = abs(float(np.diff(np.interp([peak_s - 0.01, peak_s + 0.01], motion.t_s, az))[0])) / 0.02
        u2 += min(STEADY_M_S2 / max(jerk, 1.0), 0.1) ** 2
    return float(np.sqrt(u2))


def shaken_peak_u(motion: Motion, rise: Rise, peak_s: float) -> float:
    """The part of it, in seconds, that swings; nought where nothing does."""
    shaken = shaken_velocity(motion, slice(rise.start, rise.stop + 1))
    if shaken is None:
        return 0.0
    tops = motion.t_s[rise.start + np.argmax(shaken, axis=1)]
    return float(np.sqrt(np.mean((tops - peak_s) ** 2)))


def ring_left(motion: Motion) -> Shake | None:
    """What a ring that was taken out left behind; None for a bar that did not ring."""
    return None if motion.ring_hz is None else motion.shake


Figure = Literal["velocity_sd", "accel_sd", "position_sd"]


def with_ring(motion: Motion, u: float, of: Figure, *at: int, over: float = 1.0) -> float:
    """u, in squares with what a ring left at some samples, over a slope; u itself for a bar that did not ring.

    of: which of Shake's figures.
    """
    left = ring_left(motion)
    if left is None:
        return u
    more: Floats = getattr(left, of)
    return float(np.sqrt(u**2 + sum((float(more[k]) / over) ** 2 for k in at)))


def crossing_u(motion: Motion, u: float, at: int) -> float:
    """Seconds: u with what the ring left in velocity at a sample, where it crosses a level or turns the bar."""
    near = max(1, round(0.01 / motion.dt))
    a, b = max(0, at - near), min(len(motion.t_s) - 1, at + near)
    slope = abs(float(motion.velocity[b, 2] - motion.velocity[a, 2])) / float(motion.t_s[b] - motion.t_s[a])
    return with_ring(motion, u, "velocity_sd", at, over=max(slope, 1.0))
