"""From a plan to kilograms for today: rounded to what the club owns, capped, and never raised on one fast rep."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import MOST_KG, NotPlausible, check_velocity
from barwright.analysis.profiles.fit import LoadVelocityProfile
from barwright.analysis.profiles.zones import VelocityZone
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.plates import Equipment, nearest_load
from barwright.analysis.readiness.today import Readiness, Verdict

CAUTION = (
    "Loads and maxima are estimates with an error of several kilograms, not an instruction. Maximal attempts only for "
    "trained lifters under supervision, platform clear, spotters or safeties where the lift calls for them. Minors "
    "supervised. Stop on pain or dizziness. Not medical advice; the coach's eye and local rules overrule."
)
NOVICE, MINOR_AGE = "novice", 18
FEWEST_SETS_TO_RAISE = 2  # warm-up sets


@dataclass(frozen=True, slots=True)
class LoadLimits:
    """What a load may not pass."""

    cap_percent: float = 5.0  # a day's loads stay this close to those of a usual day; common practice
    cap_lifted: bool = False  # the coach lifts the cap for today
    novice_percent: float = 85.0  # most for a novice, % of maximum; common practice, no source
    minor_percent: float = 85.0  # most for someone under 18: no maximal attempts; common practice, no source

    def __post_init__(self) -> None:
        for member in ("novice_percent", "minor_percent"):
            if not 0 < getattr(self, member) <= 100:
                raise NotPlausible(member, f"{getattr(self, member):g} %; above 0 and at most 100 % is right")
        if not 0 <= self.cap_percent <= 20:
            raise NotPlausible("cap_percent", f"{self.cap_percent:g} %; 0 to 20 % is right")


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """One line of a plan; exactly one of percent (of maximum), velocity_m_s or zone is given."""

    reps: int = 1
    sets: int = 1
    percent: float | None = None
    velocity_m_s: float | None = None
    zone: VelocityZone | None = None

    def __post_init__(self) -> None:
        given = [x for x in (self.percent, self.velocity_m_s, self.zone) if x is not None]
        if len(given) != 1:
            raise NotPlausible("percent", f"{len(given)} targets; one of percent, velocity and zone is right")
        if self.percent is not None and not 0 < self.percent <= 130:
            raise NotPlausible("percent", f"{self.percent:g} % is no target; above 0 and at most 130 % is right")
        if self.velocity_m_s is not None:
            check_velocity(self.velocity_m_s)
        if not 1 <= self.reps <= 50:
            raise NotPlausible("reps", f"{self.reps} reps; 1 to 50 is right")
        if not 1 <= self.sets <= 50:
            raise NotPlausible("sets", f"{self.sets} sets; 1 to 50 is right")


@dataclass(frozen=True, slots=True)
class SuggestedLoad:
    """Kilograms for one planned set. wanted: before rounding and limits, with u. each_side: plates as (kg, count).

    velocity: expected at load_kg on a day like this. limited: a cap or limit changed the load. The caution goes along.
    """

    planned: PlannedSet
    load_kg: float
    each_side: tuple[tuple[float, int], ...]
    wanted: Estimate
    velocity: Estimate
    limited: bool
    reasons: tuple[str, ...]
    caution: str = CAUTION


def suggest_loads(
    plan: Sequence[PlannedSet],
    profile: LoadVelocityProfile,
    readiness: Readiness | None = None,
    *,
    equipment: Equipment | None = None,
    limits: LoadLimits | None = None,
    level: str | None = None,
    age: int | None = None,
) -> tuple[SuggestedLoad, ...]:
    """Loads for a day. profile: of the days before it; readiness: of the day, when warm-ups were seen.

    level `novice` and age under 18 bring their limits. The day's maximum counts downward as soon as it is lower, upward
    only when the verdict is up from two warm-up sets or more; never farther from the usual than the cap unless it is
    lifted. Rounding never passes a cap or limit.
    """
    tools, rule = equipment or Equipment(), limits or LoadLimits()
    day = _day(profile, readiness, rule)
    percent, words = _most(rule, level, age)
    return tuple(_one(planned, profile, day, percent, words, tools) for planned in plan)


@dataclass(frozen=True, slots=True)
class _Day:
    """Maxima in kg: usual, the one loads are made from today with its relative u, and the least and most it may be."""

    usual: float
    today: float
    relative_u: float
    least: float
    most: float
    held: bool
    words: str


def _day(profile: LoadVelocityProfile, readiness: Readiness | None, rule: LoadLimits) -> _Day:
    usual = profile.predicted_max.value or 0.0
    own_u = (profile.predicted_max.u or 0.0) / usual
    cap = 0.0 if rule.cap_lifted else rule.cap_percent / 100
    least, most = (0.0, math.inf) if rule.cap_lifted else (usual * (1 - cap), usual * (1 + cap))
    if readiness is None or readiness.verdict is Verdict.NOT_ENOUGH_DATA:
        return _Day(usual, usual, own_u, least, most, False, "from the profile: how today compares is not known yet")
    found = readiness.day_max.estimate.value or usual
    if found > usual and (readiness.verdict is not Verdict.UP or readiness.sets < FEWEST_SETS_TO_RAISE):
        why = "not raised: today is not surely better than usual"
        if readiness.verdict is Verdict.UP:
            why = "not raised on one fast set: a second warm-up set has to say the same"
        return _Day(usual, usual, own_u, least, most, False, why)
    relative_u = (readiness.day_max.estimate.u or 0.0) / found
    if found < least or found > most:
        way = "lower" if found < least else "higher"
        words = (
            f"held within {rule.cap_percent:g} % of a usual day; today's maximum is {way}, the coach may lift the cap"
        )
        return _Day(usual, min(max(found, least), most), relative_u, least, most, True, words)
    words = f"from today's maximum, {100 * (found / usual - 1):+.1f} % against the usual"
    return _Day(usual, found, relative_u, least, most, False, words)


def _most(rule: LoadLimits, level: str | None, age: int | None) -> tuple[float, str]:
    """The most that may be lifted, % of today's maximum (inf: no limit), and why."""
    bounds = [(math.inf, "")]
    if level == NOVICE:
        bounds.append((rule.novice_percent, f"a novice lifts at most {rule.novice_percent:g} % of the maximum"))
    if age is not None and age < MINOR_AGE:
        bounds.append((rule.minor_percent, f"under 18: at most {rule.minor_percent:g} % of the maximum, supervised"))
    return min(bounds)


def _one(
    planned: PlannedSet, profile: LoadVelocityProfile, day: _Day, percent: float, words: str, tools: Equipment
) -> SuggestedLoad:
    share, share_u = _share(planned, profile)
    relative_u = share * day.relative_u if planned.percent is not None else share_u
    wanted = Estimate(day.today * share, day.today * relative_u, "kg")
    kg, reasons, limited = day.today * share, [day.words], day.held
    held = planned.percent is None and share > 1.0
    if held:
        kg, limited = day.today, True
        reasons.append("slower than the one-rep velocity: held at the maximum")
    if kg > day.today * percent / 100:
        kg, limited = day.today * percent / 100, True
        reasons.append(words)
    bound = min(day.today * percent / 100, day.today if held else day.most * share)
    built = nearest_load(kg, tools, at_most_kg=min(bound, MOST_KG))
    if not built.each_side and built.load_kg > kg + tools.step_kg:
        reasons.append("the empty bar is heavier than wanted")
    velocity = profile.velocity_at(built.load_kg * day.usual / day.today)
    return SuggestedLoad(planned, built.load_kg, built.each_side, wanted, velocity, limited, tuple(reasons))


def _share(planned: PlannedSet, profile: LoadVelocityProfile) -> tuple[float, float]:
    """The target as a share of the maximum, with its own u; a zone stands for its middle, of what can be lifted."""
    if planned.percent is not None:
        return planned.percent / 100, 0.0
    if planned.velocity_m_s is not None:
        velocity = planned.velocity_m_s
    else:
        assert planned.zone is not None
        low, high = planned.zone.from_m_s, planned.zone.to_m_s
        slowest = max(low, min(profile.belief.mean[0], high))
        velocity = slowest if math.isinf(high) else 0.5 * (slowest + high)
    # of a velocity the load is known better than either its share or the maximum alone: u is that of the load
    found, usual = profile.load_at(velocity), profile.predicted_max.value or 1.0
    return max(found.value or 0.0, 0.0) / usual, (found.u or 0.0) / usual
