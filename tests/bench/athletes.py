"""Athletes who train for weeks to years, simulated with the truth known: maxima, days, velocities, bad reps.

Everything is drawn here from a plain description of an athlete; nothing comes from the analysis but the prior,
which says what athletes are common.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.profiles.columns import CourseColumns, point_columns
from barwright.analysis.profiles.points import Effort, LoadVelocityPoint, MeasuredMax, best_points
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.quantities.estimate import Estimate

Floats = NDArray[np.float64]
START = 740_000  # an ordinal day


@dataclass(frozen=True, slots=True)
class Habits:
    """How athletes are drawn: ranges are uniform, `_sd` normal.

    days: least and most training days. loads: of a day, as shares of the usual maximum; sets: how many, and reps in
    each. noise: of reps, m/s. u: told with each, never more than the noise. day_sd: of days. drift: of the maximum
    a week. bad: share of reps that are 0.1-0.3 m/s slow. gap: most days between two trainings; break_share: chance of a
    break of up to six weeks. one_rep_off: true one-rep velocities against the prior's, m/s. test_every: days
    of training between tested maxima, 0 none. bend: of everyone, m/s; None: drawn as the group's published curve and
    its spread say.
    """

    days: tuple[int, int] = (4, 120)
    loads: tuple[float, float] = (0.45, 0.90)
    sets: tuple[int, int] = (3, 5)
    reps: int = 1
    noise: tuple[float, float] = (0.02, 0.05)
    u: float = 0.02
    day_sd: tuple[float, float] = (0.02, 0.05)
    drift: tuple[float, float] = (0.003, 0.012)
    bad: float = 0.03
    gap: int = 5
    break_share: float = 0.02
    one_rep_off: float = 0.0
    test_every: int = 0
    bend: float | None = None


@dataclass(frozen=True, slots=True)
class Athlete:
    """One simulated athlete. Truth: one_rep, slope, bend, noise (m/s), usual_kg, max_kg (days,), day_sd, drift a day.

    day (days,) ordinals. efforts: all reps, in order. maxima: those tested.
    """

    one_rep: float
    slope: float
    bend: float
    day: NDArray[np.int64]
    usual_kg: Floats
    max_kg: Floats
    noise: float
    u: float
    day_sd: float
    drift: float
    row: NDArray[np.int64]
    load_kg: Floats
    velocity: Floats
    maxima: tuple[MeasuredMax, ...]

    def points(self) -> tuple[LoadVelocityPoint, ...]:
        """What the service would make of the reps."""
        days = self.day[self.row].tolist()
        reps = zip(self.load_kg.tolist(), self.velocity.tolist(), days, strict=True)
        return best_points(Effort(load, Estimate(v, self.u, "m/s"), day) for load, v, day in reps)

    def columns(self) -> CourseColumns:
        """The same in columns; single reps go the short way."""
        return point_columns(self.day[self.row], self.load_kg, self.velocity, np.full(len(self.row), self.u))

    def today(self) -> tuple[Floats, Floats]:
        """Loads and velocities of the last day."""
        own = self.row == len(self.day) - 1
        return self.load_kg[own], self.velocity[own]


def curve(one_rep: float, slope: float, bend: float, share: Floats) -> Floats:
    """Velocity at shares of the maximum: from 40 % to the maximum a line, and a parabola that is `bend` at 70 %."""
    return one_rep + slope * (1.0 - share) + bend * (1.0 - share) * (share - 0.4) / 0.09


def bend_of(prior: LiftPrior, fixed: float | None, slope: float, rng: np.random.Generator) -> float:
    """One athlete's bend, m/s; never so large that the curve would rise."""
    drawn = prior.bend + prior.bend_sd * rng.normal()
    return float(np.clip(drawn if fixed is None else fixed, -0.08 * slope, 0.08 * slope))


def athlete(seed: int, prior: LiftPrior, habits: Habits | None = None, last_departure: float | None = None) -> Athlete:
    """Draw one athlete; last_departure fixes the last day's departure from the usual (log)."""
    rule, rng = habits or Habits(), np.random.default_rng(seed)
    one_rep = prior.one_rep + rule.one_rep_off + prior.one_rep_sd * rng.normal()
    slope = max(prior.slope + prior.slope_sd * rng.normal(), 0.4 * prior.slope)
    bend = bend_of(prior, rule.bend, slope, rng)
    noise, day_sd = rng.uniform(*rule.noise), rng.uniform(*rule.day_sd)
    drift = rng.uniform(*rule.drift) ** 2 / 7.0
    count = int(rng.integers(rule.days[0], rule.days[1] + 1))
    steps = rng.integers(1, rule.gap + 1, count) + (rng.random(count) < rule.break_share) * rng.integers(7, 43, count)
    day = START + np.cumsum(steps)
    wander = np.cumsum(np.sqrt(drift * np.diff(day, prepend=day[0])) * rng.normal(size=count))
    usual = np.log(rng.uniform(45.0, 220.0)) + wander
    departure = day_sd * rng.normal(size=count)
    if last_departure is not None:
        departure[-1] = last_departure
    maximum = usual + departure
    sets = rng.integers(rule.sets[0], rule.sets[1] + 1, count)
    of_set = np.repeat(np.arange(count), sets)
    share = rng.uniform(*rule.loads, len(of_set))
    most = 0.98 * np.exp(maximum[of_set])  # on a bad day nobody makes more
    load = np.round(np.minimum(np.exp(usual[of_set]) * share, most) * 2) / 2
    row, load = np.repeat(of_set, rule.reps), np.repeat(load, rule.reps)
    true = curve(one_rep, slope, bend, load / np.exp(maximum[row]))
    slow = (rng.random(len(row)) < rule.bad) * rng.uniform(0.1, 0.3, len(row))
    velocity = np.maximum(true + noise * rng.normal(size=len(row)) - slow, 0.03)
    tested = tuple(
        MeasuredMax(float(np.round(np.exp(maximum[k]))), int(day[k]))
        for k in (range(0, count, rule.test_every) if rule.test_every else ())
    )
    return Athlete(
        one_rep, slope, bend, day, np.exp(usual), np.exp(maximum), noise, min(rule.u, noise), day_sd, drift, row, load,
        velocity, tested,
    )  # fmt: skip
