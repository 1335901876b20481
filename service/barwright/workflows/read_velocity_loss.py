"""How much velocity a set lost, and whether to stop; and maxima from repetitions for those without a sensor."""

from __future__ import annotations

from dataclasses import dataclass, replace

from barwright.access.caller import Caller
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.rep_max import RepMax, rep_max
from barwright.analysis.profiles.velocity_loss import VelocityLoss, velocity_loss
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.readiness.loads import CAUTION
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.plans import PlanStore
from barwright.storage.sets import SetStore, StoredSet
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.loads_told import load_in_kg
from barwright.workflows.parts import Parts


@dataclass(frozen=True, slots=True)
class LossInSet:
    """limit_from: asked, plan or None. reps: (index, velocity) of the reps that count, in order."""

    lift_set: StoredSet
    measure: str
    found: VelocityLoss
    limit_percent: float | None
    limit_from: str | None
    reps: tuple[tuple[int, Estimate], ...]


@dataclass(frozen=True, slots=True)
class RepMaxAnswer:
    """Estimates from repetitions to failure, with the caution."""

    found: RepMax
    caution: str = CAUTION


def loss_in_set(parts: Parts, caller: Caller, set_id: str, limit_percent: float | None) -> LossInSet:
    """From the fastest to the last made rep; the limit is the one asked with, else the plan's. Raises Cannot."""
    with parts.database.reading() as session:
        one = SetStore(session, caller.club_id).get(set_id)
        if one is None:
            raise not_found("set", set_id)
        zone = ClubSettingsStore(session, caller.club_id).zone()
        day = one.started_at.astimezone(zone).date()
        plan = PlanStore(session, caller.club_id).that_count(day, [one.athlete_id]).get(one.athlete_id)
    limit, limit_from = limit_percent, "asked"
    if limit is None:
        planned = [x.velocity_loss for x in (plan.sets if plan else ()) if x.lift == one.lift and x.velocity_loss]
        limit, limit_from = (planned[0], "plan") if planned else (None, "")
    measure = LIFTS[one.lift].key_velocity
    reps = tuple(
        (rep.index, rep.measures.get(measure, unknown("m/s", "this rep has no such figure")))
        for rep in one.reps
        if rep.outcome == "made" and not rep.excluded
    )
    try:
        found = velocity_loss([velocity for _, velocity in reps], limit)
    except NotPlausible as error:
        raise Cannot("not-plausible", f"{error.detail}.", "limit" if "limit" in error.member else None) from error
    if limit_from == "asked":
        found = replace(found, words=found.words.replace("the plan's limit", "the limit"))
    return LossInSet(one, measure, found, limit, limit_from or None, reps)


def rep_max_of(load: float, unit: str | None, reps: int, lift: str | None) -> RepMaxAnswer:
    """The maximum by each formula. Raises Cannot for a lift they do not fit, and for too many reps."""
    if lift is not None and lift not in LIFTS:
        raise unknown_lift(lift, "lift")
    if lift is not None and LIFTS[lift].key_velocity == "peak_velocity":
        raise Cannot(
            "not-plausible",
            f"Repetitions to failure say nothing of the maximum of a {LIFTS[lift].title.lower()}; the formulas are for "
            "squats, presses, deadlifts and rows.",
            "lift",
        )
    load_kg = load_in_kg(load, unit, "load")
    try:
        return RepMaxAnswer(rep_max(load_kg, reps))
    except NotPlausible as error:
        raise Cannot("not-plausible", f"{error.detail}.", error.member) from error
