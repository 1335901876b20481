"""Invented lifters: size, one-rep maxima, and how fast they move a given share of their maximum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Shares of body mass a trained lifter moves once; common practice, no source.
_MAX_PER_BODY_MASS = {
    "snatch": 1.25,
    "snatch_pull": 1.25,
    "clean": 1.55,
    "clean_and_jerk": 1.5,
    "jerk": 1.6,
    "back_squat": 2.0,
    "front_squat": 1.75,
    "bench_press": 1.3,
    "deadlift": 2.3,
    "press": 0.85,
    "bent_over_row": 1.2,
}


@dataclass(frozen=True, slots=True)
class Lifter:
    """One lifter. best_kg overrides the share of body mass used otherwise."""

    name: str
    stature_m: float
    body_mass_kg: float
    best_kg: dict[str, float]

    def max_kg(self, lift: str) -> float:
        """One-rep maximum of a lift, kg."""
        return self.best_kg.get(lift, _MAX_PER_BODY_MASS[lift] * self.body_mass_kg)


LIFTERS: dict[str, Lifter] = {
    one.name: one
    for one in (
        Lifter("Imke", 1.66, 64.0, {"snatch": 78.0, "clean": 98.0}),
        Lifter("Tomas", 1.78, 88.0, {"clean_and_jerk": 145.0, "snatch": 118.0}),
        Lifter("Rana", 1.62, 59.0, {"back_squat": 105.0, "snatch": 66.0}),
        Lifter("Oskar", 1.83, 95.0, {"snatch": 105.0, "clean_and_jerk": 132.0}),
        Lifter("Lucja", 1.70, 67.0, {"bench_press": 47.5, "back_squat": 80.0}),
    )
}


def peak_velocity_of(lift: str, share: float, rng: np.random.Generator) -> float:
    """Peak velocity (m/s) of one rep of a ballistic lift at `share` of the maximum (1.0 = 100 %).

    Level and slope lie inside the wide published ranges (snatch 1.6-2.1, clean 1.1-1.7, jerk drive 1.3-1.9 m/s near
    maximum; 0.010-0.015 m/s per 1 %), from memory.
    """
    at_max, slope = {"snatch": (1.74, 1.2), "clean": (1.36, 1.1), "jerk": (1.5, 0.9), "snatch_pull": (1.62, 1.3)}[lift]
    return float(at_max + slope * (1.0 - share) + rng.normal(0.0, 0.035))


def mean_velocity_of(lift: str, share: float, rng: np.random.Generator) -> float:
    """Mean concentric velocity (m/s) of one rep of a slow lift at `share` of the maximum.

    Squat: L = -12.87 v^2 - 46.31 v + 116.3 (Sanchez-Medina et al. 2017); bench press: L = 8.4326 v^2 - 73.501 v
    + 112.33 (Gonzalez-Badillo & Sanchez-Medina 2010), both solved for v. The others: invented straight lines.
    """
    percent = float(np.clip(100 * share, 25.0, 100.0))
    if lift in ("back_squat", "front_squat"):
        v = (-46.31 + np.sqrt(46.31**2 + 4 * 12.87 * (116.3 - percent))) / (2 * 12.87)
    elif lift == "bench_press":
        v = (73.501 - np.sqrt(73.501**2 - 4 * 8.4326 * (112.33 - percent))) / (2 * 8.4326)
    else:
        low, slope = {"deadlift": (0.20, 1.05), "press": (0.21, 1.2), "bent_over_row": (0.40, 0.6)}[lift]
        v = low + slope * (1.0 - percent / 100)
    return float(max(v * (1 + rng.normal(0.0, 0.03)), 0.12))
