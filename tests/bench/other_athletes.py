"""Athletes drawn in another way than those the analysis knows: to judge verdicts on people they were not made for.

Days hang together (AR(1)), reps have Student-t errors, strength goes in waves and a trend instead of wandering, loads
are a written plan rounded to 2.5 kg, and every athlete's curve is the published one of the group, not our parabola.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.columns import CourseColumns, point_columns
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.profiles.published import EQUATIONS
from bench.athletes import START, Floats

PLAN = (0.5, 0.6, 0.7, 0.8, 0.85)  # of the maximum the plan was written for
HANG_TOGETHER = 0.5  # of one day's departure with the next one's
SQUAT = EQUATIONS["back_squat", "mean_velocity"]


@dataclass(frozen=True, slots=True)
class OtherAthlete:
    """Truth: off (m/s, of the group's curve), usual_kg two days after the last day, day_sd; and what was seen."""

    off: float
    usual_kg: float
    day_sd: float
    last: int
    seen: CourseColumns


def velocity(off: float, share: Floats, rng: np.random.Generator, noise: float, bad: float = 0.03) -> Floats:
    """Reps at shares of the maximum: the published squat curve shifted, Student-t errors of that sd, some slow ones."""
    true = off + np.vectorize(SQUAT.velocity_at)(100 * np.clip(share, 0.2, 1.2))
    slow = (rng.random(share.shape) < bad) * rng.uniform(0.1, 0.3, share.shape)
    return np.maximum(true + noise * rng.standard_t(4, share.shape) / np.sqrt(2.0) - slow, 0.03)


def other_athlete(seed: int, prior: LiftPrior, days: tuple[int, int], day_sd: tuple[float, float]) -> OtherAthlete:
    """Draw one who squats; day_sd: of days, least and most."""
    rng = np.random.default_rng(seed)
    count, off = int(rng.integers(days[0], days[1] + 1)), prior.one_rep_sd * rng.normal()
    day = START + np.cumsum(rng.choice((2, 2, 3), count))
    spread, start = rng.uniform(*day_sd), rng.uniform(60.0, 200.0)
    t = (day - day[0]) / 365.0
    wave = 0.015 * np.sin(2 * np.pi * (day / rng.uniform(60, 120) + rng.random()))
    usual = start * np.exp(rng.uniform(-0.03, 0.08) * t + wave)
    departure = np.zeros(count)
    for k in range(count):
        before = departure[k - 1] if k else 0.0
        departure[k] = HANG_TOGETHER * before + spread * np.sqrt(1 - HANG_TOGETHER**2) * rng.normal()
    written = np.repeat(usual[::12], 12)[:count] * rng.uniform(0.94, 1.02)  # a new plan every four weeks
    load = np.round(written[:, None] * np.array(PLAN) / 2.5) * 2.5
    seen = velocity(off, load / (usual * np.exp(departure))[:, None], rng, 0.02)
    columns = point_columns(np.repeat(day, len(PLAN)), load.ravel(), seen.ravel(), np.full(seen.size, 0.02))
    return OtherAthlete(off, float(usual[-1]), spread, int(day[-1]), columns)
