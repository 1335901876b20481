"""How much reps, days and months differ for one athlete: learnt from the history, shrunk towards what is usual.

Each figure is weighed on a few values about the prior's centre; what is used is the posterior mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.columns import Floats, Joined
from barwright.analysis.profiles.many_days import Line, Solved, Spreads, level_chain, misses
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.profiles.robust import log_density

REP_STEPS = 0.5 * np.arange(-4, 3)  # of log spread about the prior's centre
REP_WIDTH = 0.7  # sd of log spread between athletes; sensors and lifts differ several fold
DAY_STEPS = 0.35 * np.arange(-2, 3)  # of log day_sd
DAY_WIDTH = 0.40  # day-to-day CV of trained lifters 2-5 % (Grgic et al. 2020, from memory)
DRIFT_STEPS = 1.0 * np.arange(-3, 4)  # of log drift, a variance
DRIFT_WIDTH = 1.4  # of log drift: from a hardly moving to a fast moving maximum


@dataclass(frozen=True, slots=True)
class Centres:
    """Of each course, (courses,): what its prior expects of spread, day_sd and drift."""

    spread: Floats
    day_sd: Floats
    drift: Floats


def centres_of(priors: list[LiftPrior]) -> Centres:
    """The priors' centres as columns."""
    table = np.array([[p.spread, p.day_sd, p.drift] for p in priors])
    return Centres(table[:, 0], table[:, 1], table[:, 2])


def at_centres(centres: Centres) -> Spreads:
    """What is expected before anything was seen."""
    return Spreads(centres.day_sd, centres.drift, centres.spread)


def learn_spread(joined: Joined, solved: Solved, spreads: Spreads, centres: Centres) -> Floats:
    """Spread of reps beside their u, (courses,) m/s, from residuals; spreads: those the round was made with.

    What the day's own maximum takes up of a residual (its leverage) is given back.
    """
    now = solved.fitted
    seen = misses(joined, now)
    u2 = joined.u**2
    used = u2 + (spreads.spread**2)[joined.point_course]
    left = np.maximum(1.0 - seen.by_max**2 / (used * solved.total[joined.point_row]), 0.1)
    miss, scores = seen.miss / np.sqrt(left), []
    for step in REP_STEPS:
        spread2 = (centres.spread * np.exp(step)) ** 2
        variance = u2 + spread2[joined.point_course]
        score = left * log_density(miss, variance)
        scores.append(joined.by_course(joined.by_row(score)) - 0.5 * (step / REP_WIDTH) ** 2)
    chance = _chances(np.stack(scores))
    return np.asarray(centres.spread * np.sqrt(np.exp(2 * REP_STEPS) @ chance))


def learn_day_and_drift(joined: Joined, solved: Solved, line: Line, centres: Centres) -> tuple[Floats, Floats]:
    """day_sd and drift, (courses,) each, from the days' maxima given the line: likelihood of the local level."""
    seen, now = solved.seen, solved.fitted
    start = line.start[joined.course]
    known = seen.h > 0
    y = np.where(known, now.log_max - start + seen.g / np.where(known, seen.h, 1.0), 0.0)
    lengths = (joined.last - joined.first).astype(np.float64)
    scores, nodes = [], []
    for day_step in DAY_STEPS:
        variance = (centres.day_sd * np.exp(day_step))[joined.course] ** 2
        spread = 1.0 + seen.h * variance
        weight = seen.h / spread
        alone = -joined.by_course(np.log(spread) + weight * y**2)
        for drift_step in DRIFT_STEPS:
            drift = centres.drift * np.exp(drift_step)
            chain = level_chain(joined, weight, drift)
            mean = chain.solve((weight * y)[None])[0]
            fit = joined.by_course(weight * y * mean - np.log(chain.pivots)) - lengths * np.log(drift)
            apart = (day_step / DAY_WIDTH) ** 2 + (drift_step / DRIFT_WIDTH) ** 2
            scores.append(0.5 * (alone + fit - apart))
            nodes.append((day_step, drift_step))
    chance = _chances(np.stack(scores))
    steps = np.array(nodes)
    day_sd = centres.day_sd * np.sqrt(np.exp(2 * steps[:, 0]) @ chance)
    drift = centres.drift * (np.exp(0.5 * steps[:, 1]) @ chance) ** 2
    return day_sd, drift


def _chances(scores: Floats) -> Floats:
    weight = np.exp(scores - scores.max(axis=0))
    return np.asarray(weight / weight.sum(axis=0))
