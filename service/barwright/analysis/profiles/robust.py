"""Weights that let one bad rep count for little: Student-t, set so that good reps count for what they are worth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
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


def weights(z: Floats) -> Floats:
    """Weights of residuals z, given in standard deviations; about 1 for good reps, falling as 1 / z² for bad ones."""
    return np.asarray(_LEVEL / (1.0 + z**2 / _WIDTH), dtype=np.float64)


def day_weights(z: Floats) -> Floats:
    """Weights of departures of days, z in day_sd: 1 for usual days, falling as 1 / z beyond (Huber 1964).

    A day far off the usual is believed when its velocities say so, instead of being pulled back.
    """
    return np.asarray(USUAL_DAYS / np.maximum(np.abs(z), USUAL_DAYS), dtype=np.float64)


def day_score(z: float) -> float:
    """Huber's log density, to a constant, of a day's departure z in day_sd."""
    size = abs(z)
    return -0.5 * size**2 if size <= USUAL_DAYS else -USUAL_DAYS * (size - 0.5 * USUAL_DAYS)


def log_density(z2: Floats, variance: Floats) -> Floats:
    """Log density, to a constant, of residuals with squared size z2 in variances: whose spread fits normal reps'."""
    return np.asarray(-0.5 * np.log(variance) - 0.5 * (DEGREES + 1) * np.log1p(z2 / _WIDTH), dtype=np.float64)
