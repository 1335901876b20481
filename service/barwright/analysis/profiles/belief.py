"""What is believed of one athlete and lift: one-rep velocity, slope, bend, usual maximum; and how a day changes it.

The model of one day: v = one_rep + slope (1 - x) + bend bow(x) + error, x = load / exp(s + d). s, the logarithm of the
usual maximum in kg, wanders slowly; d, the day's departure from it, is new every day. See docs/profiles.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.profiles.columns import columns_of
from barwright.analysis.profiles.curve import bow, held, shares_at, velocity_of
from barwright.analysis.profiles.evidence import BOUND_FELT, MAX_SD, attempt_evidence, attempt_score
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import FIRST_SD, FIRST_SHARE, LEAST_SLOPE, LiftPrior
from barwright.analysis.profiles.robust import day_score, day_weights, log_density, weights

Floats = NDArray[np.float64]
Four = tuple[float, float, float, float]
NONE: Floats = np.zeros(0)
BOTH: Floats = np.array([0.0, 0.0, 0.0, 1.0, 1.0])  # of (one_rep, slope, bend, s, d): log of the day's maximum
ROUNDS = 10  # of Gauss-Newton from each start; it settles in four or five
SETTLED = 5e-5  # m/s and log kg
NEAR = 0.02  # log; a day whose reps say no more than this by themselves has one place to settle
LARGEST_STEP = 0.2  # of a log maximum in one round


@dataclass(frozen=True, slots=True)
class Belief:
    """Normal belief about (one_rep, slope, bend, all m/s, s = log of the usual maximum in kg) of one athlete and lift.

    mean (4,) and covariance (4, 4), row by row, on `day`. day_sd: sd of the days' departures (log); drift: variance s
    gains a day; spread: sd of reps about the line beside their own u, m/s. days, points: how many it rests on.
    """

    lift: str
    day: int
    mean: Four
    covariance: tuple[Four, ...]
    day_sd: float
    drift: float
    spread: float
    days: int = 0
    points: int = 0

    @property
    def usual_max_kg(self) -> float:
        """The usual maximum, kg (median)."""
        return math.exp(self.mean[3])

    @property
    def usual_max_sd(self) -> float:
        """How surely it is known: sd of its logarithm."""
        return math.sqrt(self.covariance[3][3])

    @property
    def line(self) -> tuple[float, float, float]:
        """One-rep velocity, slope and bend, m/s."""
        return self.mean[:3]


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
    sd = np.array([prior.one_rep_sd, prior.slope_sd, prior.bend_sd, around_sd])
    mean = (prior.one_rep, prior.slope, prior.bend, math.log(around_kg))
    return Belief(prior.lift, day, mean, _rows(np.diag(sd**2)), prior.day_sd, prior.drift, prior.spread)


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
    covariance[3, 3] += belief.drift * between
    return replace(belief, day=max(day, belief.day), covariance=_rows(covariance))


def see_day(belief: Belief, efforts: DayEfforts, day_sd: float | None = None) -> DaySeen:
    """Update a belief of this day (see `wait_until`) by the day's efforts; day_sd stands in for the belief's own.

    Gauss-Newton with Student-t weights can settle at the usual or at what one bad rep says; both starts are tried, and
    the more probable end is taken.
    """
    deviation = belief.day_sd if day_sd is None else day_sd
    usual = np.array([*belief.mean, 0.0])
    precision = np.zeros((5, 5))
    precision[:4, :4] = _inverse(np.array(belief.covariance))
    said = _Said(efforts, belief)
    own = said.own_departure(usual)
    starts = (0.0,) if abs(own) < NEAR else (0.0, own)
    ends = [_settle(said, precision, deviation, usual, start) for start in starts]
    now = ends[0] if len(ends) == 1 else max(ends, key=lambda end: _score(end, said, precision, deviation, usual))
    covariance = _inverse(_with_day(precision, now[4], deviation) + said.about(now)[0])
    after = replace(
        belief,
        mean=four(now[:4]),
        covariance=_rows(covariance[:4, :4]),
        days=belief.days + 1,
        points=belief.points + len(efforts.points),
    )
    sd = math.sqrt(float(BOTH @ covariance @ BOTH))
    return DaySeen(after, float(now[3] + now[4]), sd, float(now[4]), math.sqrt(float(covariance[4, 4])))


def _score(end: Floats, said: _Said, precision: Floats, deviation: float, usual: Floats) -> float:
    off = end - usual  # the precision has no entry for the day yet
    return said.score(end) - 0.5 * float(off @ precision @ off) + day_score(float(off[4]) / deviation)


def _with_day(precision: Floats, departure: float, deviation: float) -> Floats:
    whole = precision.copy()
    whole[4, 4] = float(day_weights(np.array(departure / deviation))) / deviation**2
    return whole


def _settle(said: _Said, precision: Floats, deviation: float, usual: Floats, departure: float) -> Floats:
    now = usual + departure * np.array([0.0, 0.0, 0.0, 0.0, 1.0])
    for _ in range(ROUNDS):
        information, gradient = said.about(now)
        prior = _with_day(precision, now[4], deviation)
        step = np.linalg.solve(prior + information, gradient + prior @ (usual - now))
        now = now + step * min(1.0, LARGEST_STEP / max(abs(step[3] + step[4]), 1e-12))
        now[1] = max(now[1], LEAST_SLOPE)
        now[2] = held(now[1], now[2])
        if np.abs(step).max() < SETTLED:
            break
    return np.asarray(now, dtype=np.float64)


class _Said:
    """One day's efforts as arrays, and what they say about (one_rep, slope, bend, s, d)."""

    def __init__(self, efforts: DayEfforts, belief: Belief) -> None:
        seen = columns_of(efforts.points, efforts.maxima, efforts.attempts, MAX_SD)
        self.seen = seen
        self.variance = seen.u**2 + belief.spread**2
        heaviest = seen.load_kg.max(initial=0.0)
        bound = [heaviest] if heaviest else []
        self.try_log = np.log(np.array([*seen.try_kg, *bound]))
        self.try_made = np.array([*seen.try_made, *(True for _ in bound)], dtype=np.bool_)

    def own_departure(self, usual: Floats) -> float:
        """The departure the efforts say by themselves, through the usual line: the median of each one's."""
        level = usual[3]
        share = np.clip(shares_at(usual[:3], self.seen.velocity), 0.1, 1.3)
        each = np.concatenate([np.log(self.seen.load_kg / share), np.log(self.seen.max_kg)])
        return float(np.median(each) - level) if len(each) else 0.0

    def about(self, now: Floats) -> tuple[Floats, Floats]:
        """Information (5, 5) and gradient (5,)."""
        miss, share = self._misses(now)
        bowed, steep = bow(share)
        by_max = share * (now[1] - now[2] * steep)
        rows = np.stack([np.ones_like(share), 1.0 - share, bowed, by_max, by_max])
        weighted = rows * (weights(miss, self.variance) / self.variance)
        log_max = now[3] + now[4]
        above = log_max - self.try_log
        felt = ~self.try_made | (above < BOUND_FELT)
        push, pull = attempt_evidence(above[felt], self.try_made[felt]) if felt.any() else (NONE, NONE)
        off = (np.log(self.seen.max_kg) - log_max) / self.seen.max_sd**2
        of_max = np.sum(pull) + np.sum(1.0 / self.seen.max_sd**2)
        information = weighted @ rows.T + of_max * np.outer(BOTH, BOTH)
        return information, weighted @ miss + BOTH * (np.sum(push) + np.sum(off))

    def score(self, now: Floats) -> float:
        """Log likelihood, to a constant."""
        log_max = now[3] + now[4]
        reps = np.sum(log_density(self._misses(now)[0], self.variance))
        maxima = -0.5 * np.sum(((np.log(self.seen.max_kg) - log_max) / self.seen.max_sd) ** 2)
        return float(reps + maxima + np.sum(attempt_score(log_max - self.try_log, self.try_made)))

    def _misses(self, now: Floats) -> tuple[Floats, Floats]:
        share = self.seen.load_kg * math.exp(-(now[3] + now[4]))
        return self.seen.velocity - velocity_of(now, share), share


def four(values: Sequence[float] | Floats) -> Four:
    """Four plain floats."""
    one, two, three, last = values
    return float(one), float(two), float(three), float(last)


def _inverse(matrix: Floats) -> Floats:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _rows(matrix: Floats) -> tuple[Four, ...]:
    return tuple(four(row) for row in matrix)
