"""What attempts say about the day's maximum."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MAX_SD = 0.01  # relative sd of a measured maximum about the day's: half a usual step; cf. Ruf et al. 2018, CV 1.9 %
MADE_SD, MISSED_SD = 0.02, 0.05  # relative; how sharply an attempt says where the maximum is
BOUND_FELT = 0.08  # a made load this far (log) below the maximum says nothing any more
MISSED_OTHERWISE = 0.3  # share of misses that strength does not explain; common practice, no source


def attempt_evidence(above: Floats, made: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Gradient and curvature of the log likelihood of attempts in log maximum; above (n,): log(maximum / load).

    Made: Phi(above / MADE_SD), a bound from below. Missed: MISSED_OTHERWISE + the rest times Phi(-above / MISSED_SD),
    soft, since lifts are also missed for other reasons; its curvature is kept from going below 0.
    """
    from scipy.special import log_ndtr  # a start of the service should not wait for it

    z = above / MADE_SD
    ratio = np.exp(-0.5 * z * z - 0.5 * math.log(2 * math.pi) - log_ndtr(z))
    push, pull = ratio / MADE_SD, ratio * (ratio + z) / MADE_SD**2
    y = above / MISSED_SD
    density = (1 - MISSED_OTHERWISE) * np.exp(-0.5 * y * y) / math.sqrt(2 * math.pi)
    missed = density / (MISSED_OTHERWISE + (1 - MISSED_OTHERWISE) * np.exp(log_ndtr(-y)))
    drag = np.maximum(missed * (missed - y), 0.0) / MISSED_SD**2
    return np.where(made, push, -missed / MISSED_SD), np.where(made, pull, drag)


def attempt_score(above: Floats, made: NDArray[np.bool_]) -> Floats:
    """The log likelihood itself, (n,)."""
    from scipy.special import log_ndtr

    missed = np.log(MISSED_OTHERWISE + (1 - MISSED_OTHERWISE) * np.exp(log_ndtr(-above / MISSED_SD)))
    return np.asarray(np.where(made, log_ndtr(above / MADE_SD), missed), dtype=np.float64)
