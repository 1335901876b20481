"""Is this athlete ready: today's warm-ups against what is expected for exactly those loads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

import numpy as np

from barwright.analysis.profiles.belief import Belief, DayEfforts, DaySeen, see_day, wait_until
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.curve import bow, velocity_of
from barwright.analysis.profiles.points import LoadVelocityPoint
from barwright.analysis.profiles.robust import weights
from barwright.analysis.quantities.chances import in_percent
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.readiness.day_max import DayMax, day_max, of_seen

USUAL_SMALLEST_PERCENT = 2.0  # 0.2 of 10 %, a usual spread of maxima within one level of athletes
BAD_REP = 3.5  # sd off the others: said so in the reasons
ANY_DAY_SD = 0.30  # a day may be anything: the change is read from the day's own velocities


class Verdict(StrEnum):
    """What the odds allow to say of a day."""

    UP = "up"
    USUAL = "usual"
    DOWN = "down"
    NOT_ENOUGH_DATA = "not_enough_data"


@dataclass(frozen=True, slots=True)
class VerdictParams:
    """When a change is called one."""

    smallest_percent: float = USUAL_SMALLEST_PERCENT  # % of the maximum worth acting on
    odds: float = 0.75  # chance the change has to have of being larger than that
    false_down: float = 0.0375  # of days without a change that may be called down, and up: 5 % together, and a third of
    false_up: float = 0.0125  # the falls for rises, since a false rise puts too much on the bar
    fewest_days: int = 3  # of history, before anything is called usual
    vague_percent: float = 8.0  # u of the change from which the warm-ups say too little for any verdict
    single_percent: float = 5.0  # below it a single warm-up set is never a verdict, nor below what a rise has to exceed

    def __post_init__(self) -> None:
        if not 0 <= self.smallest_percent <= 20:
            detail = f"{self.smallest_percent:g} % cannot be used; 0 to 20 % is right"
            raise NotPlausible("smallest_percent", detail)

    def least_sds(self, up: bool) -> float:
        """How many u a change has to exceed: one-sided minimal detectable change (Weir 2005), u being normal."""
        return NormalDist().inv_cdf(1.0 - (self.false_up if up else self.false_down))


@dataclass(frozen=True, slots=True)
class Readiness:
    """One lift on one day.

    change: % of the usual maximum, read from today's velocities, with u. probability: that it is larger than
    smallest_percent in its direction (None without warm-ups). slower_m_s: mean departure of the velocities from those
    expected at exactly those loads (negative: slower). usual_max: kg. reasons: plain sentences.
    """

    lift: str
    day: int
    verdict: Verdict
    change: Estimate
    probability: float | None
    smallest_percent: float
    velocity_change: Estimate
    day_max: DayMax
    usual_max: Estimate
    sets: int
    reasons: tuple[str, ...]


def readiness_today(
    belief: Belief, day: int, warm_ups: Sequence[LoadVelocityPoint], params: VerdictParams | None = None
) -> Readiness:
    """Today's warm-up points (`best_points` of that day) against a belief that has seen only the days before."""
    rule = params or VerdictParams()
    before = wait_until(belief, day)
    usual_kg = before.usual_max_kg
    usual = Estimate(usual_kg, usual_kg * before.usual_max_sd, "kg")
    if before.days == 0:
        usual = unknown("kg", "no earlier day with this lift")
    found = day_max(belief, day, DayEfforts(warm_ups))
    if not warm_ups or before.days < rule.fewest_days:
        why = "no warm-up set with a velocity yet today" if not warm_ups else _too_few(before.days, rule.fewest_days)
        none = unknown("%", why)
        slower = unknown("m/s", why)
        return Readiness(
            before.lift, day, Verdict.NOT_ENOUGH_DATA, none, None, rule.smallest_percent, slower, found, usual,
            len(warm_ups), (why,),
        )  # fmt: skip
    seen = see_day(before, DayEfforts(warm_ups), ANY_DAY_SD)
    change, u = 100.0 * math.expm1(seen.departure), 100.0 * math.exp(seen.departure) * seen.departure_sd
    chance = _chance(seen, rule.smallest_percent / 100)
    verdict = _verdict(seen, chance, len(warm_ups), rule)
    if verdict is Verdict.DOWN:
        found = _no_higher(found, seen, usual_kg, len(warm_ups))
    departure = _departure(before, seen, warm_ups)
    slower = departure.mean
    reasons = _reasons(warm_ups, usual_kg, departure, change, u, chance, verdict, rule)
    return Readiness(
        before.lift, day, verdict, Estimate(change, u, "%"), chance, rule.smallest_percent, slower, found, usual,
        len(warm_ups), reasons,
    )  # fmt: skip


def _no_higher(found: DayMax, seen: DaySeen, usual_kg: float, sets: int) -> DayMax:
    """On a day that is called down, never a maximum near the usual one.

    A day far beyond the usual spread of days is left out of `day_max` as if it were none of them; its own velocities
    then say what the maximum is, so that loads go down with the verdict.
    """
    told = math.log((found.estimate.value or usual_kg) / usual_kg)
    return found if told < 0.5 * seen.departure else of_seen(seen, sets)


def _chance(seen: DaySeen, smallest: float) -> float:
    """Chance that the change is larger than the smallest that matters, in its direction."""
    bound = math.log1p(smallest) if seen.departure > 0 else -math.log1p(-smallest)
    return 0.5 * math.erfc((bound - abs(seen.departure)) / (seen.departure_sd * math.sqrt(2.0)))


def _verdict(seen: DaySeen, chance: float, sets: int, rule: VerdictParams) -> Verdict:
    up = seen.departure > 0
    if seen.departure_sd > rule.vague_percent / 100:
        return Verdict.NOT_ENOUGH_DATA
    least = seen.departure_sd * rule.least_sds(up or sets == 1)
    if sets == 1:
        least = max(least, rule.single_percent / 100)
    if chance < rule.odds or abs(seen.departure) < least:
        return Verdict.USUAL
    return Verdict.UP if up else Verdict.DOWN


@dataclass(frozen=True, slots=True)
class _Departure:
    """Mean of (velocity - expected at that load), m/s, bad reps counting little; off: the points that are bad ones."""

    mean: Estimate
    off: tuple[tuple[LoadVelocityPoint, float], ...]


def _departure(before: Belief, seen: DaySeen, warm_ups: Sequence[LoadVelocityPoint]) -> _Departure:
    loads = np.array([point.load_kg for point in warm_ups])
    velocity = np.array([(point.velocity.value or 0.0) - point.luck for point in warm_ups])
    sd = np.hypot(np.array([point.velocity.u or 0.0 for point in warm_ups]), before.spread)
    share = loads / before.usual_max_kg
    miss = velocity - velocity_of(before.line, share)
    beside = velocity - velocity_of(seen.after.line, loads / math.exp(seen.log_max))
    weight = weights(beside, sd**2) / sd**2
    weight = weight / weight.sum()
    _, slope, bend = before.line
    bowed, steep = bow(share)
    row = np.stack([np.ones_like(share), 1.0 - share, bowed, share * (slope - bend * steep)]) @ weight
    variance = float(row @ np.array(before.covariance) @ row) + float(weight**2 @ sd**2)
    off = tuple((warm_ups[k], float(beside[k])) for k in np.flatnonzero(np.abs(beside) > BAD_REP * sd).tolist())
    return _Departure(Estimate(float(weight @ miss), math.sqrt(variance), "m/s"), off)


def _too_few(days: int, fewest: int) -> str:
    return f"{days} earlier {'day' if days == 1 else 'days'} with this lift; what is usual shows from {fewest} on"


def _reasons(
    warm_ups: Sequence[LoadVelocityPoint], usual_kg: float, departure: _Departure, change: float, u: float,
    chance: float, verdict: Verdict, rule: VerdictParams,
) -> tuple[str, ...]:  # fmt: skip
    shares = sorted(100.0 * point.load_kg / usual_kg for point in warm_ups)
    span = f"{shares[0]:.0f} %" if shares[-1] - shares[0] < 1 else f"{shares[0]:.0f}-{shares[-1]:.0f} %"
    sets = f"{len(warm_ups)} warm-up {'set' if len(warm_ups) == 1 else 'sets'}, {span}"
    by = departure.mean.value or 0.0
    word = "slower" if by < 0 else "faster"
    first = f"{sets}, {abs(by):.2f} m/s {word} than usual for these loads, {in_percent(chance)} likely real"
    size = f"{round(change, 1) + 0.0:+.1f} ± {u:.1f} %"
    second = f"the day's maximum is {size} against the usual; {rule.smallest_percent:g} % matters"
    out = [first, second]
    for point, off in departure.off:
        others = "the others" if len(warm_ups) > 1 else "what this athlete has shown"
        out.append(f"the rep with {point.load_kg:g} kg was {abs(off):.2f} m/s off {others} and counted little")
    if verdict is Verdict.NOT_ENOUGH_DATA:
        out.append("these warm-up sets say too little; another set would tell")
    if verdict is Verdict.USUAL and len(warm_ups) == 1 and chance >= rule.odds:
        out.append(f"one warm-up set alone is no verdict below {rule.single_percent:g} %")
    elif verdict is Verdict.USUAL:
        out.append("within what days and reps differ anyway")
    return tuple(out)
