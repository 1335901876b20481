"""The shape of velocity against load: a straight line, and how far the athlete's own curve bows from it.

v(x) = one_rep + slope (1 - x) + bend bow(x), x = load / maximum. The line goes from 40 % to the maximum, the range of
the published equations; bow is 0 at both ends and 1 midway, at 70 %: bend is in m/s, how much faster than the line.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
LIGHT = 0.4  # where the line begins; the published squat data do too
MIDDLE = (0.5 * (1.0 - LIGHT)) ** 2
LOWEST, HIGHEST = 0.3, 1.1  # the parabola goes on straight beyond: nobody published farther
MOST_BEND = 0.08  # of the slope: the curve then falls everywhere


def bow(share: Floats) -> tuple[Floats, Floats]:
    """The bow and its derivative at shares of the maximum."""
    near = np.clip(share, LOWEST, HIGHEST)
    steep = (1.0 + LIGHT - 2.0 * near) / MIDDLE
    return (1.0 - near) * (near - LIGHT) / MIDDLE + steep * (share - near), steep


def curving(share: Floats) -> Floats:
    """The second derivative of the bow at shares of the maximum."""
    return np.where((share > LOWEST) & (share < HIGHEST), -2.0 / MIDDLE, 0.0)


def velocity_of(line: Sequence[float] | Floats, share: Floats) -> Floats:
    """Velocities in m/s at shares of the maximum (n,); line begins with (one_rep, slope, bend)."""
    return line[0] + line[1] * (1.0 - share) + line[2] * bow(share)[0]


def shares_at(line: Sequence[float] | Floats, velocity: Floats) -> Floats:
    """The shares of the maximum that move at velocities (n,): the curve falls everywhere, so there is one of each."""
    one_rep, slope, bend = line
    c = bend / MIDDLE
    b, d = slope - c * (1.0 + LIGHT), velocity - one_rep - slope + c * LIGHT
    inside = -2.0 * d / (b + np.sqrt(np.maximum(b * b - 4.0 * c * d, 0.0)))
    edge = np.array([LOWEST, HIGHEST])
    off = velocity[:, None] - velocity_of(line, edge)
    beyond = edge + off / (bend * bow(edge)[1] - slope)
    return np.where(off[:, 0] > 0, beyond[:, 0], np.where(off[:, 1] < 0, beyond[:, 1], inside))


def held(slope: Floats, bend: Floats) -> Floats:
    """The bend, kept where the curve falls everywhere."""
    return np.asarray(np.clip(bend, -MOST_BEND * slope, MOST_BEND * slope), dtype=np.float64)
