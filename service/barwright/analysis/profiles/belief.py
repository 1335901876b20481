"""What is believed of one athlete and lift: one-rep velocity, slope, usual maximum; and how a day changes it.

The model of one day: v = one_rep + slope (1 - load / exp(s + d)) + error. s, the logarithm of the usual maximum in kg,
wanders slowly; d, the day's departure from it, is new every day. See docs/profiles.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.profiles.robust import weights

Floats = NDArray[np.float64]
ROUNDS = 8  # of Gauss-Newton; it settles in four to six
FIRST_SHARE, FIRST_SD = 0.78, 0.40  # the heaviest load of a first day as a share of the maximum, and how wide (log)
MAX_STEP_SD = (
    0.01  # relative sd of a measured maximum about the day's: half a usual step; cf. Ruf et al. 2018, CV 1.9 %
)
MADE_SD, MISSED_SD = 0.02, 0.05  # relative; how sharply an attempt says where the maximum is
MISSED_OTHERWISE = 0.3  # share of misses that strength does not explain; common practice, no source


@dataclass(frozen=True, slots=True)
class Belief:
    """Normal belief about (one_rep m/s, slope m/s, s = log of the usual maximum in kg) of one athlete and lift.

    mean (3,) and covariance (3, 3), row by row, on `day`. day_sd: sd of the days' departures (log); drift: variance s
    gains a day; spread: sd of reps about the line beside their own u, m/s. days, points: how many it rests on.
    """

    lift: str
    day: int
    mean: tuple[float, float, float]
    covariance: tuple[tuple[float, float, float], ...]
    day_sd: float
    drift: float
    spread: float
    days: int = 0
    points: int = 0

    @property
    def usual_max_kg(self) -> float:
        """The usual maximum, kg (median)."""
        return math.exp(self.mean[2])


@dataclass(frozen=True, slots=True)
class DaySeen:
    """What one day's efforts make of a belief: the belief after it, and the day's maximum (log, mean and sd).

    departure, departure_sd: of the day from the usual (log).
    """

    after: Belief
    log_max: float
    log_max_sd: float
    departure: float
    departure_sd: float


@dataclass(frozen=True, slots=True)
class DayEfforts:
    """All that one day brought: points, measured maxima, attempts."""

    points: Sequence[LoadVelocityPoint] = ()
    maxima: Sequence[MeasuredMax] = ()
    attempts: Sequence[Attempt] = ()


def first_belief(prior: LiftPrior, day: int, around_kg: float, around_sd: float = FIRST_SD) -> Belief:
    """What is believed before the first rep; around_kg is a first guess of the maximum, around_sd its relative sd."""
    variances = (prior.one_rep_sd**2, prior.slope_sd**2, around_sd**2)
    covariance = tuple(tuple(v if i == j else 0.0 for j in range(3)) for i, v in enumerate(variances))
    mean = (prior.one_rep, prior.slope, math.log(around_kg))
    return Belief(prior.lift, day, mean, covariance, prior.day_sd, prior.drift, prior.spread)  # type: ignore[arg-type]


def guess_max(efforts: DayEfforts) -> float:
    """A first guess of the maximum, kg, from one day alone."""
    if efforts.maxima:
        return max(one.load_kg for one in efforts.maxima)
    loads = [point.load_kg / FIRST_SHARE for point in efforts.points]
    loads += [attempt.load_kg / (1.0 if attempt.made else 1.05) for attempt in efforts.attempts]
    return max(loads)


def wait_until(belief: Belief, day: int) -> Belief:
    """The belief on a later day, wider by the drift of the days between."""
    between = max(day - belief.day, 0)
    covariance = np.array(belief.covariance)
    covariance[2, 2] += belief.drift * between
    return replace(belief, day=max(day, belief.day), covariance=_rows(covariance))


def see_day(belief: Belief, efforts: DayEfforts, day_sd: float | None = None) -> DaySeen:
    """Update a belief of this day (see `wait_until`) by the day's efforts; day_sd stands in for the belief's own."""
    deviation = belief.day_sd if day_sd is None else day_sd
    before = np.zeros(4)
    before[:3] = belief.mean
    precision = np.zeros((4, 4))
    precision[:3, :3] = np.linalg.inv(np.array(belief.covariance))
    precision[3, 3] = 1.0 / deviation**2
    now = before.copy()
    for _ in range(ROUNDS):
        information, gradient = _evidence(now, efforts, belief.spread)
        total = precision + information
        now = now + np.linalg.solve(total, gradient + precision @ (before - now))
        now[1] = max(now[1], 0.1)
    covariance = np.linalg.inv(precision + _evidence(now, efforts, belief.spread)[0])
    both = np.array([0.0, 0.0, 1.0, 1.0])
    after = replace(
        belief,
        mean=(float(now[0]), float(now[1]), float(now[2])),
        covariance=_rows(covariance[:3, :3]),
        days=belief.days + 1,
        points=belief.points + len(efforts.points),
    )
    sd = math.sqrt(float(both @ covariance @ both))
    return DaySeen(after, float(now[2] + now[3]), sd, float(now[3]), math.sqrt(float(covariance[3, 3])))


def _evidence(now: Floats, efforts: DayEfforts, spread: float) -> tuple[Floats, Floats]:
    """Information (4, 4) and gradient (4,) of a day's efforts about (one_rep, slope, s, d)."""
    information, gradient = np.zeros((4, 4)), np.zeros(4)
    one_rep, slope, log_max = now[0], now[1], now[2] + now[3]
    if efforts.points:
        loads = np.array([point.load_kg for point in efforts.points])
        v = np.array([(point.velocity.value or 0.0) - point.luck for point in efforts.points])
        u = np.array([point.velocity.u or 0.0 for point in efforts.points])
        share = loads / math.exp(log_max)
        sd = np.hypot(u, spread)
        miss = v - one_rep - slope * (1.0 - share)
        rows = np.stack([np.ones_like(v), 1.0 - share, slope * share, slope * share], axis=1)
        weight = weights(miss / sd) / sd**2
        information += (rows * weight[:, None]).T @ rows
        gradient += rows.T @ (weight * miss)
    both = np.array([0.0, 0.0, 1.0, 1.0])
    for one in efforts.maxima:
        sd_max = math.hypot(MAX_STEP_SD, 0.0) if one.u_kg is None else max(one.u_kg / one.load_kg, 0.001)
        information += np.outer(both, both) / sd_max**2
        gradient += both * (math.log(one.load_kg) - log_max) / sd_max**2
    for attempt in efforts.attempts:
        push, pull = attempt_evidence(log_max - math.log(attempt.load_kg), attempt.made)
        information += np.outer(both, both) * pull
        gradient += both * push
    return information, gradient


def attempt_evidence(above: float, made: bool) -> tuple[float, float]:
    """Gradient and curvature of the log likelihood of an attempt in log maximum; above: log(maximum / load).

    Made: Phi(above / MADE_SD). Missed: MISSED_OTHERWISE + the rest times Phi(-above / MISSED_SD), curvature kept >= 0.
    """
    if made:
        z = above / MADE_SD
        ratio = math.exp(-0.5 * z * z - 0.5 * math.log(2 * math.pi) - float(log_ndtr(z)))
        return ratio / MADE_SD, ratio * (ratio + z) / MADE_SD**2
    z = above / MISSED_SD
    density = math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)
    chance = MISSED_OTHERWISE + (1 - MISSED_OTHERWISE) * math.exp(float(log_ndtr(-z)))
    ratio = (1 - MISSED_OTHERWISE) * density / chance
    return -ratio / MISSED_SD, max(ratio * (ratio - z), 0.0) / MISSED_SD**2


def _rows(matrix: NDArray[Any]) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(a), float(b), float(c)) for a, b, c in matrix)
