"""Weights that let one bad rep count for little: Student-t, set so that good reps count for what they are worth."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SLOW_SHARE, SLOW_BY = 0.03, 0.4  # reps not meant to be fast, and by how many m/s; common practice, no source
USUAL_DAYS = 2.5  # day_sd; 99 of 100 normal days lie within
DEGREES = 5.0  # of freedom; 4-6 are usual for regression with some bad points (Lange, Little, Taylor 1989, JASA 84:881)


def _calibrate() -> tuple[float, float]:
    """Scale and level of the weights for normal residuals of sd 1.

    Scale: of the t distribution closest to them (the fixed point of its scale equation). Level: makes the weights' mean
    the efficiency of the estimate they give, so that precision = weight / sd² is neither too high nor too low.
    """
    z, share = np.polynomial.hermite_e.hermegauss(80)
    share = share / share.sum()
    scale2 = 1.0
    for _ in range(60):
        scale2 = float(np.sum(share * (DEGREES + 1) * z**2 / (DEGREES + z**2 / scale2)))
    bare = 1.0 / (1.0 + z**2 / (DEGREES * scale2))
    slope = bare - 2.0 * bare**2 * z**2 / (DEGREES * scale2)
    efficiency = float(np.sum(share * slope)) ** 2 / float(np.sum(share * (z * bare) ** 2))
    return DEGREES * scale2, efficiency / float(np.sum(share * bare))


_WIDTH, _LEVEL = _calibrate()
_ROOT_2_PI = math.sqrt(2 * math.pi)
_POWER = (DEGREES + 1) / 2
_HEIGHT = math.gamma(_POWER) / (math.gamma(DEGREES / 2) * math.sqrt(math.pi * _WIDTH))


def weights(miss: Floats, variance: Floats) -> Floats:
    """Weights of reps that miss the line by `miss` m/s, variance (m/s)²; precision is weight / variance.

    About 1 for good reps, falling as 1 / miss² for strange ones (Student-t), times the chance that the rep was meant to
    be fast: a slow one may be one of the `SLOW_SHARE` that were not, as much as `SLOW_BY` slower.
    """
    z2 = miss**2 / variance
    meant = (1 - SLOW_SHARE) / _ROOT_2_PI * np.exp(-0.5 * np.minimum(z2, 80.0))
    not_meant = (SLOW_SHARE / SLOW_BY) * np.sqrt(variance) * (miss < 0)
    return np.asarray(_LEVEL / (1.0 + z2 / _WIDTH) * (meant / (meant + not_meant)), dtype=np.float64)


def log_density(miss: Floats, variance: Floats) -> Floats:
    """Log density of a miss in m/s: Student-t for reps that were meant, uniform below for those that were not."""
    meant = (1 - SLOW_SHARE) * _HEIGHT / np.sqrt(variance) * (1.0 + miss**2 / (variance * _WIDTH)) ** -_POWER
    return np.asarray(np.log(meant + (SLOW_SHARE / SLOW_BY) * (miss < 0)), dtype=np.float64)


def day_weights(z: Floats) -> Floats:
    """Weights of departures of days, z in day_sd: 1 for usual days, falling as 1 / z beyond (Huber 1964).

    A day far off the usual is believed when its velocities say so, instead of being pulled back.
    """
    return np.asarray(USUAL_DAYS / np.maximum(np.abs(z), USUAL_DAYS), dtype=np.float64)


def day_score(z: float) -> float:
    """Huber's log density, to a constant, of a day's departure z in day_sd."""
    size = abs(z)
    return -0.5 * size**2 if size <= USUAL_DAYS else -USUAL_DAYS * (size - 0.5 * USUAL_DAYS)
