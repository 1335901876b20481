"""Strength over months: the usual maximum and each day's, seen from the day itself and looking back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.columns import CourseColumns, columns_of
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.day_max import DayMax, from_log


@dataclass(frozen=True, slots=True)
class StrengthDay:
    """One day: its maximum, and the usual maximum about then in kg, as known looking back from the last day."""

    day: int
    day_max: DayMax
    usual: Estimate


@dataclass(frozen=True, slots=True)
class Strength:
    """The course of one lift: days in order, and what is believed after the last (store this; today builds on it)."""

    lift: str
    days: tuple[StrengthDay, ...]
    belief: Belief


def strength_over_months(
    lift: str,
    points: Sequence[LoadVelocityPoint],
    maxima: Sequence[MeasuredMax] = (),
    attempts: Sequence[Attempt] = (),
    *,
    prior: LiftPrior | None = None,
) -> Strength:
    """The course of strength from everything seen. Raises ValueError when nothing was seen."""
    if not (points or maxima or attempts):
        raise ValueError("points: nothing to follow; one made rep with a velocity, or one maximum, is the least")
    return course_of(lift, columns_of(points, maxima, attempts), prior=prior)


def course_of(lift: str, seen: CourseColumns, since: int = 0, *, prior: LiftPrior | None = None) -> Strength:
    """The course of strength from columns; days: only those from day `since` on, the line rests on all."""
    fitted = fit_courses([seen], [prior or prior_for(lift)])[0]
    sets = Counter(seen.point_day.tolist())
    shown = slice(int(np.searchsorted(fitted.day, since)), None)
    kg = np.exp(fitted.level[shown])
    rows = zip(
        fitted.day[shown].tolist(), fitted.log_max[shown].tolist(), fitted.log_max_sd[shown].tolist(), kg.tolist(),
        (kg * fitted.level_sd[shown]).tolist(), strict=True,
    )  # fmt: skip
    days = tuple(
        StrengthDay(day, from_log(day, log_max, sd, sets[day]), Estimate(usual, u, "kg"))
        for day, log_max, sd, usual, u in rows
    )
    return Strength(lift, days, fitted.belief)
