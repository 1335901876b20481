"""From the reps of many sets to the points a profile rests on: the best effort at each load of each day."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import check_day, check_load, check_uncertainty, check_velocity
from barwright.analysis.quantities.estimate import Estimate

MADE = "made"
REP_TO_REP = 0.035  # m/s: how far equal efforts at one load differ; SEM 0.03-0.04 (Banyard et al. 2018)
NOT_MEANT_FAST = 4.0  # a rep this many joint u below the fastest was no best effort


@dataclass(frozen=True, slots=True)
class Effort:
    """One rep of one set, as far as profiles need it.

    velocity is the lift's key velocity in m/s (`Lift.key_velocity`); day is date.toordinal(); outcome is made, failed
    or partial. Raises NotPlausible for what cannot be true.
    """

    load_kg: float
    velocity: Estimate
    day: int
    outcome: str = MADE

    def __post_init__(self) -> None:
        check_load(self.load_kg)
        check_day(self.day)
        if self.velocity.value is not None and self.velocity.u is not None:
            check_velocity(self.velocity.value)
            check_uncertainty(self.velocity.u, "m/s", "velocity.u")


@dataclass(frozen=True, slots=True)
class LoadVelocityPoint:
    """The fastest made rep at one load on one day.

    velocity: m/s with u. among: how many made reps it is the fastest of. luck: m/s by which the fastest of so many is
    expected to be fast by chance alone; fits take it off.
    """

    load_kg: float
    velocity: Estimate
    day: int
    among: int = 1
    luck: float = 0.0

    def __post_init__(self) -> None:
        check_load(self.load_kg)
        check_day(self.day)
        if self.velocity.value is None or self.velocity.u is None:
            raise ValueError("velocity: a point needs a velocity that is known")
        check_velocity(self.velocity.value)
        check_uncertainty(self.velocity.u, "m/s", "velocity.u")


@dataclass(frozen=True, slots=True)
class MeasuredMax:
    """A maximum that was lifted: kg, its standard uncertainty in kg (None: half a usual step), and the day."""

    load_kg: float
    day: int
    u_kg: float | None = None

    def __post_init__(self) -> None:
        check_load(self.load_kg)
        check_day(self.day)
        if self.u_kg is not None:
            check_uncertainty(self.u_kg, "kg", "u_kg")


@dataclass(frozen=True, slots=True)
class Attempt:
    """A single tried without a usable velocity: a made one bounds the day's maximum from below, a miss says little."""

    load_kg: float
    day: int
    made: bool

    def __post_init__(self) -> None:
        check_load(self.load_kg)
        check_day(self.day)


def best_points(efforts: Iterable[Effort]) -> tuple[LoadVelocityPoint, ...]:
    """The fastest made rep of each load on each day, in order of day and load.

    Failed and partial reps, and reps without a velocity, never count. How lucky the fastest of several is, is judged
    from how far the others lie below it (`_luck`); reps far below it were no best efforts and say nothing.
    """
    groups: dict[tuple[int, float], list[Effort]] = {}
    for effort in efforts:
        if effort.outcome == MADE and effort.velocity.value is not None:
            groups.setdefault((effort.day, effort.load_kg), []).append(effort)
    return tuple(_point(day, load, reps) for (day, load), reps in sorted(groups.items()))


def missed_loads(efforts: Iterable[Effort]) -> tuple[Attempt, ...]:
    """The failed reps as attempts, one for each load and day."""
    found = {(effort.day, effort.load_kg) for effort in efforts if effort.outcome == "failed"}
    return tuple(Attempt(load, day, made=False) for day, load in sorted(found))


def _point(day: int, load_kg: float, reps: list[Effort]) -> LoadVelocityPoint:
    fastest = max(reps, key=lambda rep: rep.velocity.value or 0.0)
    values = [rep.velocity.value for rep in reps if rep.velocity.value is not None]
    return LoadVelocityPoint(load_kg, fastest.velocity, day, len(values), _luck(values, fastest.velocity.u or 0.0))


def _luck(values: list[float], u: float) -> float:
    """Expected excess of the fastest, m/s: each rep is shrunk to the mean as far as chance explains their spread."""
    chance = math.hypot(u, REP_TO_REP)
    top = max(values)
    close = [value for value in values if top - value < NOT_MEANT_FAST * chance]
    if len(close) < 2:
        return 0.0
    mean = sum(close) / len(close)
    spread2 = sum((value - mean) ** 2 for value in close) / (len(close) - 1)
    by_chance = 1.0 if spread2 <= chance**2 else chance**2 / spread2
    return max(by_chance * (top - mean), 0.0)
