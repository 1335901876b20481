"""Strength over months: the usual maximum and each day's, seen from the day itself and looking back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.profiles.belief import Belief, first_belief, guess_max, see_day, wait_until
from barwright.analysis.profiles.fit import by_day
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.day_max import DayMax, of_seen


@dataclass(frozen=True, slots=True)
class StrengthDay:
    """One day: its maximum, and the usual maximum about then, kg, known looking back from the last day."""

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
    known = prior or prior_for(lift)
    seen_days = by_day(points, maxima, attempts)
    if not seen_days:
        raise ValueError("points: nothing to follow; one made rep with a velocity, or one maximum, is the least")
    belief: Belief | None = None
    out = []
    for day, efforts in seen_days.items():
        belief = first_belief(known, day, guess_max(efforts)) if belief is None else wait_until(belief, day)
        seen = see_day(belief, efforts)
        belief = seen.after
        kg = belief.usual_max_kg
        usual = Estimate(kg, kg * math.sqrt(belief.covariance[2][2]), "kg")
        out.append(StrengthDay(day, of_seen(seen, len(efforts.points)), usual))
    assert belief is not None
    return Strength(lift, tuple(out), belief)
