"""Which change is no noise, and which is worth acting on: the formulas of the reliability literature."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from barwright.analysis.profiles.bounds import NotPlausible


def typical_error(first: Sequence[float], second: Sequence[float]) -> float:
    """Typical error of one measurement from two trials of each athlete: sd of differences / sqrt(2) (Hopkins 2000).

    first, second: (n,) of the same athletes, n >= 2. Also called standard error of measurement, SEM.
    """
    if len(first) != len(second) or len(first) < 2:
        raise NotPlausible("second", "two trials of the same two or more athletes are needed")
    return float(np.std(np.subtract(second, first), ddof=1)) / math.sqrt(2.0)


def minimal_detectable_change(sem: float, count: int = 1, sure: float = 1.96) -> float:
    """Smallest difference between two means of `count` reps that is no noise: sure * sqrt(2) * SEM / sqrt(count).

    sure 1.96: 95 %, both ways (Weir 2005, Journal of Strength and Conditioning Research 19:231-240).
    """
    return sure * math.sqrt(2.0) * sem / math.sqrt(count)


def smallest_worthwhile_percent(maxima_kg: Sequence[float]) -> float:
    """0.2 of the sd between athletes, in % of their mean (Hopkins 2000); maxima_kg of at least two athletes."""
    if len(maxima_kg) < 2:
        raise NotPlausible("maxima_kg", "a spread between athletes needs two of them")
    return 100.0 * 0.2 * float(np.std(maxima_kg, ddof=1)) / float(np.mean(maxima_kg))
