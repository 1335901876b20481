"""Bar motions drawn by hand: velocity as a sum of smooth pieces, height its exact integral."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.truths import vertical_motion
from barwright.analysis.motion.bar_motion import Motion

Floats = NDArray[np.float64]
RATE_HZ = 1000.0


def from_velocity(knots: Sequence[tuple[float, float]], seconds: float, sway_m: float = 0.0) -> Motion:
    """Velocity through (time, m/s) knots with smooth half-cosine ramps between, nought before and after.

    sway_m: amplitude of a 0.9 Hz sway laid over the height all the time. Rests: before the first knot, after the last.
    """
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    v, z, a = np.zeros_like(t), np.zeros_like(t), np.zeros_like(t)
    height = 0.0
    for (t0, v0), (t1, v1) in itertools.pairwise(knots):
        inside = (t >= t0) & (t < t1)
        length, u = t1 - t0, (t[inside] - t0) / (t1 - t0)
        v[inside] = v0 + (v1 - v0) * (1 - np.cos(np.pi * u)) / 2
        a[inside] = (v1 - v0) * np.pi / (2 * length) * np.sin(np.pi * u)
        z[inside] = height + length * (v0 * u + (v1 - v0) * (u - np.sin(np.pi * u) / np.pi) / 2)
        height += length * (v0 + v1) / 2
    z[t >= knots[-1][0]] = height
    w = 2 * np.pi * 0.9
    z, v, a = z + sway_m * np.sin(w * t), v + sway_m * w * np.cos(w * t), a - sway_m * w**2 * np.sin(w * t)
    rests = ((0.1, knots[0][0] - 0.1), (knots[-1][0] + 0.1, seconds - 0.1))
    return vertical_motion(t, z, v, a, rests)
