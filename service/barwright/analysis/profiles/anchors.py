"""Beliefs that are kept: after some days everything is fitted anew, after the days between the last one goes a step on.

Which days these are follows from the history alone, so that the same history always gives the same beliefs.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from barwright.analysis.profiles.belief import Belief, DayEfforts, see_day, wait_until
from barwright.analysis.profiles.columns import CourseColumns
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior
from barwright.analysis.quantities.estimate import Estimate

EVERY = 8  # days with the lift; the first that many are fitted one by one


def is_anchor(days: int) -> bool:
    """Whether everything is fitted anew after that many days with the lift."""
    return days <= EVERY or days % EVERY == 0


def days_of(seen: CourseColumns) -> list[int]:
    """The days of a course, rising."""
    return [int(day) for day in np.unique(np.concatenate([seen.point_day, seen.max_day, seen.try_day]))]


def anchors(prior: LiftPrior, seen: CourseColumns, after: int = 0) -> list[Belief]:
    """The beliefs of every anchor of a course that comes later than day `after`, in order."""
    wanted = [day for count, day in enumerate(days_of(seen), 1) if is_anchor(count) and day > after]
    fits = fit_courses([seen.until(day) for day in wanted], [prior] * len(wanted))
    return [fit.belief for fit in fits]


def efforts_by_day(seen: CourseColumns, after: int = 0) -> list[tuple[int, DayEfforts]]:
    """What each day later than `after` brought, in order."""
    return [(day, _efforts(seen, day)) for day in days_of(seen) if day > after]


def step_on(belief: Belief, days: Iterable[tuple[int, DayEfforts]]) -> Belief:
    """A belief after further days, in order."""
    for day, efforts in days:
        belief = see_day(wait_until(belief, day), efforts).after
    return belief


def _efforts(seen: CourseColumns, day: int) -> DayEfforts:
    points = np.flatnonzero(seen.point_day == day).tolist()
    maxima = np.flatnonzero(seen.max_day == day).tolist()
    tries = np.flatnonzero(seen.try_day == day).tolist()
    return DayEfforts(
        [_point(seen, k, day) for k in points],
        [MeasuredMax(float(seen.max_kg[k]), day, float(seen.max_kg[k] * seen.max_sd[k])) for k in maxima],
        [Attempt(float(seen.try_kg[k]), day, bool(seen.try_made[k])) for k in tries],
    )


def _point(seen: CourseColumns, k: int, day: int) -> LoadVelocityPoint:
    return LoadVelocityPoint(float(seen.load_kg[k]), Estimate(float(seen.velocity[k]), float(seen.u[k]), "m/s"), day)
