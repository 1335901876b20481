"""The maximum of one day, kg, with its intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

from barwright.analysis.profiles.belief import Belief, DayEfforts, DaySeen, see_day, wait_until
from barwright.analysis.profiles.fit import INTERVAL_SDS
from barwright.analysis.quantities.estimate import Estimate


@dataclass(frozen=True, slots=True)
class DayMax:
    """Maximum of `day` in kg with u; interval_50 and interval_95 in kg. sets: warm-up points of the day it rests on."""

    day: int
    estimate: Estimate
    interval_50: tuple[float, float]
    interval_95: tuple[float, float]
    sets: int


def day_max(belief: Belief, day: int, efforts: DayEfforts | None = None) -> DayMax:
    """The maximum of a day: what is believed before it, and what the day's efforts say.

    belief: after the days before (`learn`). Without efforts it is the usual maximum, as wide as days differ.
    """
    before = wait_until(belief, day)
    if efforts is None or not (efforts.points or efforts.maxima or efforts.attempts):
        sd = math.hypot(before.usual_max_sd, before.day_sd)
        return from_log(day, before.mean[3], sd, 0)
    return of_seen(see_day(before, efforts), len(efforts.points))


def of_seen(seen: DaySeen, sets: int) -> DayMax:
    """The day's maximum of a belief that has seen the day."""
    return from_log(seen.after.day, seen.log_max, seen.log_max_sd, sets)


def from_log(day: int, mean: float, sd: float, sets: int) -> DayMax:
    """From the normal law of the logarithm: the median, u to first order, and exact intervals."""
    kg = math.exp(mean)
    fifty, ninety_five = ((math.exp(mean - k * sd), math.exp(mean + k * sd)) for k in INTERVAL_SDS.values())
    return DayMax(day, Estimate(kg, kg * sd, "kg"), fifty, ninety_five, sets)
