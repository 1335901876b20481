"""From a plan to kilograms for today: rounded to what the club owns, capped, and never raised on one fast rep."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import NotPlausible, check_velocity
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
    only when the verdict is up; never farther from the usual than the cap unless it is lifted.
    """
    tools, rule = equipment or Equipment(), limits or LoadLimits()
    usual = profile.predicted_max.value or 0.0
    today, words = _max_to_use(usual, readiness, rule)
    top, top_words = _most(today, rule, level, age)
    return tuple(_one(planned, profile, usual, today, words, top, top_words, tools) for planned in plan)


def _max_to_use(usual: float, readiness: Readiness | None, rule: LoadLimits) -> tuple[float, tuple[str, ...]]:
    """The maximum loads are made from, kg, and why."""
    if readiness is None or readiness.verdict is Verdict.NOT_ENOUGH_DATA:
        return usual, ("from the usual maximum: today is not known yet",)
    day = readiness.day_max.estimate.value or usual
    if day > usual and readiness.verdict is not Verdict.UP:
        return usual, ("not raised: today is not surely better than usual",)
    if rule.cap_lifted:
        return day, (f"from today's maximum, {100 * (day / usual - 1):+.1f} % against the usual",)
    low, high = usual * (1 - rule.cap_percent / 100), usual * (1 + rule.cap_percent / 100)
    if not low <= day <= high:
        return min(max(day, low), high), (f"held within {rule.cap_percent:g} % of a usual day",)
    return day, (f"from today's maximum, {100 * (day / usual - 1):+.1f} % against the usual",)


def _most(today: float, rule: LoadLimits, level: str | None, age: int | None) -> tuple[float, str | None]:
    bounds = []
    if level == NOVICE:
        bounds.append((rule.novice_percent, f"a novice lifts at most {rule.novice_percent:g} % of the maximum"))
    if age is not None and age < MINOR_AGE:
        bounds.append((rule.minor_percent, f"under 18: at most {rule.minor_percent:g} % of the maximum, supervised"))
    if not bounds:
        return math.inf, None
    percent, words = min(bounds)
    return today * percent / 100, words


def _one(
    planned: PlannedSet, profile: LoadVelocityProfile, usual: float, today: float, words: tuple[str, ...],
    top: float, top_words: str | None, tools: Equipment,
) -> SuggestedLoad:  # fmt: skip
    scale = today / usual
    if planned.percent is not None:
        relative = (profile.predicted_max.u or 0.0) / usual
        kg = today * planned.percent / 100
        wanted = Estimate(kg, kg * relative, "kg")
    else:
        found = profile.load_at(_velocity(planned))
        wanted = Estimate(max((found.value or 0.0) * scale, 0.0), (found.u or 0.0) * scale, "kg")
    kg = wanted.value or 0.0
    limited = kg > top or words[0].startswith("held")
    reasons = (*words, top_words) if kg > top and top_words else words
    built = nearest_load(min(kg, top), tools, at_most_kg=min(top, 600.0))
    if built.load_kg > kg + 0.5 and not built.each_side:
        reasons = (*reasons, "the empty bar is heavier than wanted")
    velocity = profile.velocity_at(built.load_kg / scale)
    return SuggestedLoad(planned, built.load_kg, built.each_side, wanted, velocity, limited, reasons)


def _velocity(planned: PlannedSet) -> float:
    """The velocity a target means, m/s; of a zone its middle, or its bound where the other is open."""
    if planned.velocity_m_s is not None:
        return planned.velocity_m_s
    assert planned.zone is not None
    if math.isinf(planned.zone.to_m_s):
        return planned.zone.from_m_s
    return 0.5 * (planned.zone.from_m_s + planned.zone.to_m_s)
