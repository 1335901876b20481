"""Small helpers: points and days written short."""

from __future__ import annotations

import numpy as np

from barwright.analysis.profiles.points import Effort, LoadVelocityPoint
from barwright.analysis.quantities.estimate import Estimate

DAY = 740_000


def speed(value: float, u: float = 0.02) -> Estimate:
    """A velocity."""
    return Estimate(value, u, "m/s")


def point(load_kg: float, velocity: float, day: int = DAY, u: float = 0.02) -> LoadVelocityPoint:
    """One point."""
    return LoadVelocityPoint(load_kg, speed(velocity, u), day)


def effort(load_kg: float, velocity: float, day: int = DAY, outcome: str = "made") -> Effort:
    """One rep."""
    return Effort(load_kg, speed(velocity), day, outcome)


def year(
    seed: int = 0,
    days: int = 120,
    maximum: float = 120.0,
    one_rep: float = 0.32,
    slope: float = 1.5,
    noise: float = 0.02,
) -> list[LoadVelocityPoint]:
    """Three loads a day, three days apart, days that differ by 3 %; the first on DAY."""
    rng = np.random.default_rng(seed)
    out = []
    for k in range(days):
        today = maximum * np.exp(0.03 * rng.normal())
        for share in (0.55, 0.70, 0.85):
            load = round(share * maximum)
            velocity = one_rep + slope * (1 - load / today) + noise * rng.normal()
            out.append(point(load, float(velocity), DAY + 3 * k))
    return out
