"""Fit the courses of one or many athletes: line, strength day by day, and what is believed after the last day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.belief import Belief, four
from barwright.analysis.profiles.columns import CourseColumns, Floats, Ints, Joined, join
from barwright.analysis.profiles.many_days import (
    PARTS,
    Certainty,
    Solved,
    Spreads,
    begin,
    certainty,
    line_of,
    one_round,
)
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.profiles.spreads import at_centres, centres_of, learn_day_and_drift, learn_spread

FIRST_ROUNDS, MIDDLE_ROUNDS, LAST_ROUNDS = 4, 2, 3


@dataclass(frozen=True, slots=True)
class CourseFit:
    """One course: belief after its last day; for each day (days,), log kg, its usual and own maximum with their sd."""

    belief: Belief
    day: Ints
    level: Floats
    level_sd: Floats
    log_max: Floats
    log_max_sd: Floats


def fit_courses(courses: Sequence[CourseColumns], priors: Sequence[LiftPrior]) -> list[CourseFit]:
    """Fit courses, each with the prior of its lift; together they cost far less than one by one.

    Raises ValueError for a course of which nothing was seen.
    """
    if not courses:
        return []
    joined, known = join(courses), list(priors)
    line, centres = line_of(joined, known), centres_of(known)
    spreads, now = at_centres(centres), begin(joined, line)
    for _ in range(FIRST_ROUNDS):
        solved = one_round(joined, line, spreads, now)
        now = solved.fitted
    spreads = Spreads(spreads.day_sd, spreads.drift, learn_spread(joined, solved, spreads, centres))
    for _ in range(MIDDLE_ROUNDS):
        solved = one_round(joined, line, spreads, now)
        now = solved.fitted
    day_sd, drift = learn_day_and_drift(joined, solved, line, centres)
    spreads = Spreads(day_sd, drift, learn_spread(joined, solved, spreads, centres))
    for _ in range(LAST_ROUNDS):
        solved = one_round(joined, line, spreads, now)
        now = solved.fitted
    return _parted(joined, known, spreads, solved, certainty(joined, solved))


def _parted(
    joined: Joined, priors: list[LiftPrior], spreads: Spreads, solved: Solved, certain: Certainty
) -> list[CourseFit]:
    now, last = solved.fitted, joined.last
    covariance = np.zeros((len(last), PARTS + 1, PARTS + 1))
    covariance[:, :PARTS, :PARTS] = certain.theta
    covariance[:, PARTS, :PARTS] = covariance[:, :PARTS, PARTS] = certain.last_with_theta
    covariance[:, PARTS, PARTS] = certain.level_var[last]
    level_sd, log_max_sd = np.sqrt(certain.level_var), np.sqrt(certain.log_max_var)
    points = np.bincount(joined.point_course, minlength=len(last)).tolist()
    means = np.column_stack([now.theta, now.level[last]]).tolist()
    figures = zip(spreads.day_sd.tolist(), spreads.drift.tolist(), spreads.spread.tolist(), strict=True)
    rows, days = covariance.tolist(), joined.day[last].tolist()
    out = []
    for k, (day_sd, drift, spread) in enumerate(figures):
        own = slice(int(joined.first[k]), int(last[k]) + 1)
        belief = Belief(
            priors[k].lift, days[k], four(means[k]), tuple(four(row) for row in rows[k]),
            day_sd, drift, spread, own.stop - own.start, points[k],
        )  # fmt: skip
        out.append(CourseFit(belief, joined.day[own], now.level[own], level_sd[own], now.log_max[own], log_max_sd[own]))
    return out
