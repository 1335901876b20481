"""The load-velocity profile of one athlete and lift: a line with its uncertainty, and the maximum it predicts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.profiles.belief import Belief, wait_until
from barwright.analysis.profiles.columns import columns_of
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.curve import bow, shares_at, velocity_of
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from barwright.analysis.quantities.estimate import Estimate

INTERVAL_SDS = {50: 0.6744897501960817, 95: 1.959963984540054}

FEW_DAYS = 3
FAR = 0.8  # heaviest load over maximum: below it straight lines are known to mislead (docs/profiles.md, last table)
GROUPS_OWN = 0.8  # of the prior's sd of the one-rep velocity


@dataclass(frozen=True, slots=True)
class LoadVelocityProfile:
    """v = intercept + slope * load + bend * bow(load / predicted_max), m/s with load in kg, on `on`.

    covariance (2, 2): of (intercept, slope), the straight line from 40 % to the maximum. bend: how much faster than it
    70 % moves, m/s (`profiles/curve.py` has bow).
    predicted_max is the usual maximum in kg, interval_50 and interval_95 its intervals. days and loads: how many days
    and distinct loads it rests on. belief holds what the line was made from. notes: plain words on what it lacks.
    """

    lift: str
    measure: str
    on: int
    intercept: float
    slope: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    bend: Estimate
    spread: float
    one_rep_velocity: Estimate
    predicted_max: Estimate
    interval_50: tuple[float, float]
    interval_95: tuple[float, float]
    days: int
    loads: int
    prior: LiftPrior
    belief: Belief
    notes: tuple[str, ...] = ()

    def velocity_at(self, load_kg: float) -> Estimate:
        """The velocity expected at a load, m/s; u is of the curve, without the spread of single reps."""
        share = load_kg / self.belief.usual_max_kg
        value = float(velocity_of(self.belief.line, np.array(share)))
        return Estimate(value, self._u(self._row(share)), "m/s")

    def load_at(self, velocity_m_s: float) -> Estimate:
        """The load that moves at a velocity, kg."""
        maximum, share = self.belief.usual_max_kg, self._share(velocity_m_s)
        row = self._row(share)
        return Estimate(maximum * share, self._u(row) * maximum * share / row[3], "kg")

    def percent_at(self, velocity_m_s: float) -> Estimate:
        """The share of the usual maximum that moves at a velocity, %."""
        share = self._share(velocity_m_s)
        row = self._row(share)
        steep = row[3] / share if share else self.belief.mean[1]
        return Estimate(100.0 * share, 100.0 * self._u(row * np.array([1.0, 1.0, 1.0, 0.0])) / steep, "%")

    def _share(self, velocity_m_s: float) -> float:
        return float(shares_at(self.belief.line, np.array([velocity_m_s]))[0])

    def _row(self, share: float) -> NDArray[np.float64]:
        """Derivatives of the velocity at a share of the usual maximum by what is believed."""
        bowed, steep = bow(np.array(share))
        _, slope, bend, _ = self.belief.mean
        return np.array([1.0, 1.0 - share, bowed, share * (slope - bend * steep)])

    def _u(self, row: NDArray[np.float64]) -> float:
        return math.sqrt(float(row @ np.array(self.belief.covariance) @ row))


def fit_profile(
    lift: str,
    points: Sequence[LoadVelocityPoint],
    maxima: Sequence[MeasuredMax] = (),
    attempts: Sequence[Attempt] = (),
    *,
    on: int | None = None,
    prior: LiftPrior | None = None,
) -> LoadVelocityProfile:
    """Fit a profile as it is on day `on` (default: the last day seen) to all days up to it.

    points: see `best_points`. Raises ValueError when there is nothing to fit.
    """
    known = prior or prior_for(lift)
    belief = learn(known, points, maxima, attempts, on)
    return profile_of(belief, [point.load_kg for point in points if point.day <= belief.day], known)


def learn(
    prior: LiftPrior,
    points: Sequence[LoadVelocityPoint],
    maxima: Sequence[MeasuredMax] = (),
    attempts: Sequence[Attempt] = (),
    until: int | None = None,
) -> Belief:
    """What is believed on day `until` (default: the last day seen) after all days up to it."""
    last = max(all_days(points, maxima, attempts), default=0) if until is None else until
    seen = columns_of(
        [p for p in points if p.day <= last],
        [m for m in maxima if m.day <= last],
        [a for a in attempts if a.day <= last],
    )
    if not (len(seen.point_day) or len(seen.max_day) or len(seen.try_day)):
        raise ValueError("points: nothing to fit; one made rep with a velocity, or one maximum, is the least")
    return wait_until(fit_courses([seen], [prior])[0].belief, last)


def all_days(
    points: Sequence[LoadVelocityPoint], maxima: Sequence[MeasuredMax], attempts: Sequence[Attempt]
) -> set[int]:
    """The days on which anything was seen."""
    return {p.day for p in points} | {m.day for m in maxima} | {a.day for a in attempts}


def profile_of(belief: Belief, loads_kg: Sequence[float], prior: LiftPrior) -> LoadVelocityProfile:
    """The line that a belief is, in kg. loads_kg: of all points it rests on."""
    one_rep, slope, bend, log_max = belief.mean
    covariance = np.array(belief.covariance)
    maximum, sd = math.exp(log_max), belief.usual_max_sd
    per_kg = -slope / maximum
    rows = np.array([[1.0, 1.0, 0.0, 0.0], [0.0, -1.0 / maximum, 0.0, slope / maximum]])
    line = rows @ covariance @ rows.T
    fifty, ninety_five = (
        (math.exp(log_max - k * sd), math.exp(log_max + k * sd)) for k in (INTERVAL_SDS[50], INTERVAL_SDS[95])
    )
    return LoadVelocityProfile(
        lift=belief.lift,
        measure=prior.measure,
        on=belief.day,
        intercept=one_rep + slope,
        slope=per_kg,
        covariance=((float(line[0, 0]), float(line[0, 1])), (float(line[1, 0]), float(line[1, 1]))),
        bend=Estimate(bend, math.sqrt(covariance[2, 2]), "m/s"),
        spread=belief.spread,
        one_rep_velocity=Estimate(one_rep, math.sqrt(covariance[0, 0]), "m/s"),
        predicted_max=Estimate(maximum, maximum * sd, "kg"),
        interval_50=fifty,
        interval_95=ninety_five,
        days=belief.days,
        loads=len(set(loads_kg)),
        prior=prior,
        belief=belief,
        notes=_notes(belief, loads_kg, prior),
    )


def _notes(belief: Belief, loads_kg: Sequence[float], prior: LiftPrior) -> tuple[str, ...]:
    out = []
    if belief.days < FEW_DAYS:
        out.append(f"rests on {belief.days} {'day' if belief.days == 1 else 'days'}; more make it surer")
    reach = max(loads_kg, default=0.0) / belief.usual_max_kg
    if 0 < reach < FAR:
        out.append(
            f"the heaviest load seen is {100 * reach:.0f} % of the maximum; lines bend beyond what was seen, and a "
            "heavier single would tell more"
        )
    if math.sqrt(belief.covariance[0][0]) > GROUPS_OWN * prior.one_rep_sd:
        out.append("the one-rep velocity is still mostly the group's; a tested maximum would tell this athlete's own")
    return tuple(out)
