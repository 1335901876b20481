"""A plan for a day, the kilograms for it, and what the coach decides against them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.profiles.fit import LoadVelocityProfile, learn, profile_of
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.readiness.loads import CAUTION, LoadLimits, SuggestedLoad, suggest_loads
from barwright.analysis.readiness.loads import PlannedSet as WantedSet
from barwright.analysis.readiness.plates import nearest_load
from barwright.storage.athletes import Athlete
from barwright.storage.audit import note_deed
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.plans import Decision, Plan, PlannedSet, PlanStore, ToldDecision
from barwright.workflows.cannot import Cannot, not_found, unknown_lift
from barwright.workflows.change_club import equipment_of
from barwright.workflows.check_readiness import NOTHING, AthleteToday, LiftToday, days_of
from barwright.workflows.days import day_asked, not_before_bars, today_of
from barwright.workflows.loads_told import load_in_kg
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts
from barwright.workflows.read_profile import check_zone, find_zone
from barwright.workflows.refresh_profile import keep_for_next_time
from barwright.workflows.tell_maxima import athlete_of

FARTHEST = timedelta(days=366)  # a plan for later than that is a typing error


@dataclass(frozen=True, slots=True)
class LoadOfSet:
    """One line of the plan, number 1 the first. suggested: None when there is nothing to suggest from (`reason`).

    decided: the coach's own load, which goes before the suggestion. velocity: expected at the load that holds.
    each_side: plates of that load as (kg, count), empty when the club's plates do not make it.
    """

    number: int
    planned: PlannedSet
    suggested: SuggestedLoad | None
    decided: Decision | None
    velocity: Estimate | None
    each_side: tuple[tuple[float, int], ...]
    reason: str | None


@dataclass(frozen=True, slots=True)
class LoadsOfDay:
    """Loads of one athlete for one day. caps_lifted: decisions that lifted the cap, by lift."""

    today: AthleteToday
    settings: ClubSettings
    sets: tuple[LoadOfSet, ...]
    caps_lifted: dict[str, Decision]
    caution: str = CAUTION


def make_plan(
    parts: Parts,
    caller: Caller,
    athlete_id: str,
    told: tuple[date | None, tuple[PlannedSet, ...], str | None],
    retry: Retry | None,
    answer: Callable[[Plan], bytes],
) -> bytes:
    """Keeps a plan; told: day (None: today), sets, note. From now on it counts for that day. Raises Cannot."""
    on, sets, note = told

    def keep(session: Session) -> Plan:
        athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        today = today_of(parts, settings)
        day = not_before_bars(on or today, "/on")
        if day > today + FARTHEST:
            raise Cannot("in-the-future", f"`on` is {day}; a day within a year from today ({today}) is right.", "/on")
        for place, one in enumerate(sets):
            if one.lift not in LIFTS:
                raise unknown_lift(one.lift, f"/sets/{place}/lift")
            if one.zone is not None:
                check_zone(settings, one.lift, one.zone, f"/sets/{place}/zone")
        made = PlanStore(session, caller.club_id).add(athlete_id, day, sets, note, parts.now())
        told = {"plan_id": made.id, "on": day.isoformat(), "sets": [asdict(one) for one in sets]}
        note_deed(session, caller, "plan.made", athlete_id, parts.now(), told)
        return made

    return create_once(parts, caller, retry, keep, answer)


def list_plans(
    parts: Parts, caller: Caller, athlete_id: str, after: tuple[datetime, str] | None, limit: int
) -> list[Plan]:
    """Plans of an athlete, the newest first."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        return PlanStore(session, caller.club_id).page(athlete_id, after, limit)


def read_plan(parts: Parts, caller: Caller, athlete_id: str, plan_id: str) -> Plan:
    """One plan of an athlete."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        found = PlanStore(session, caller.club_id).get(athlete_id, plan_id)
    if found is None:
        raise not_found("plan", plan_id)
    return found


def drop_plan(parts: Parts, caller: Caller, athlete_id: str, plan_id: str) -> None:
    """Takes a plan away; the one before it for the same day, if any, counts again."""
    with parts.database.writing(caller.club_id) as session:
        athlete_of(session, caller, athlete_id)
        if not PlanStore(session, caller.club_id).delete(athlete_id, plan_id):
            raise not_found("plan", plan_id)
        note_deed(session, caller, "plan.dropped", athlete_id, parts.now(), {"plan_id": plan_id})


def decide(
    parts: Parts,
    caller: Caller,
    athlete_id: str,
    told: ToldDecision,
    on: date | None,
    unit: str | None,
    retry: Retry | None,
    answer: Callable[[Decision], bytes],
) -> bytes:
    """Keeps what the coach decided; told.load_kg is in `unit`. on: None is today. Raises Cannot and Refusal."""
    load_kg = None if told.load_kg is None else load_in_kg(told.load_kg, unit)

    def keep(session: Session) -> Decision:
        athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = not_before_bars(on or today_of(parts, settings), "/on")
        store = PlanStore(session, caller.club_id)
        lift, plan_id = told.lift, None
        if told.kind == "load":
            plan = store.that_count(day, [athlete_id]).get(athlete_id)
            if plan is None:
                raise Cannot("not-found", f"There is no plan for {day}; make one before deciding on its loads.", "/on")
            if told.set_number is None or told.set_number > len(plan.sets):
                raise Cannot(
                    "not-found", f"The plan for {day} has {len(plan.sets)} lines; 1 is the first of them.", "/set"
                )
            lift, plan_id = plan.sets[told.set_number - 1].lift, plan.id
        elif lift not in LIFTS:
            raise unknown_lift(lift)
        kept = ToldDecision(told.kind, day, lift, told.reason, plan_id, told.set_number, load_kg)
        decided = store.decide(athlete_id, kept, parts.now())
        said = {"on": day.isoformat(), "kind": kept.kind, "lift": lift, "set": kept.set_number, "load_kg": load_kg}
        note_deed(session, caller, "decision.made", athlete_id, parts.now(), {"decision_id": decided.id, **said})
        return decided

    return create_once(parts, caller, retry, keep, answer)


def list_decisions(parts: Parts, caller: Caller, athlete_id: str, on: date | None) -> list[Decision]:
    """What the coach decided about an athlete, the oldest first; on one day, or ever."""
    with parts.database.reading() as session:
        athlete_of(session, caller, athlete_id)
        return PlanStore(session, caller.club_id).decisions(athlete_id, on)


def loads_of_day(parts: Parts, caller: Caller, athlete_id: str, on: date | None) -> LoadsOfDay:
    """Kilograms for the plan that counts on a day; no sets when there is none. Raises Cannot."""
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = day_asked(parts, settings, on, "on")
        (today,), missing = days_of(session, caller.club_id, settings, [athlete], day)
        decisions = PlanStore(session, caller.club_id).decisions(athlete_id, day)
    if missing:
        keep_for_next_time(parts, caller.club_id, [athlete_id], day)
    caps_lifted = {one.told.lift: one for one in decisions if one.told.kind == "lift_cap"}
    sets = loads_for(today, settings, decisions, caps_lifted)
    return LoadsOfDay(today, settings, sets, caps_lifted)


def youngest_age(athlete: Athlete, day: date) -> int | None:
    """The least age in years that goes with a year of birth; None when it was not told."""
    born = athlete.facts.birth_year
    return None if born is None else day.year - born - 1


def profile_of_lift(one: LiftToday, day: date) -> LoadVelocityProfile | None:
    """Of the days before; on a first day of what was done on it."""
    belief = one.belief
    if belief is None:
        seen = one.warm_ups
        if not (seen.points or seen.attempts):
            return None
        belief = learn(prior_for(one.lift), seen.points, seen.maxima, seen.attempts, day.toordinal())
    return profile_of(belief, [point.load_kg for point in one.warm_ups.points], prior_for(one.lift))


def loads_for(
    today: AthleteToday, settings: ClubSettings, decisions: list[Decision], caps_lifted: dict[str, Decision]
) -> tuple[LoadOfSet, ...]:
    """Loads of the plan of a day; caps_lifted: by lift."""
    if today.plan is None:
        return ()
    own = {
        one.told.set_number: one for one in decisions if one.told.kind == "load" and one.told.plan_id == today.plan.id
    }
    profiles = {one.lift: profile_of_lift(one, today.on) for one in today.lifts}
    lifts = {one.lift: one for one in today.lifts}
    out = []
    for number, planned in enumerate(today.plan.sets, 1):
        profile, decided = profiles.get(planned.lift), own.get(number)
        suggested, reason = None, NOTHING
        if profile is not None:
            suggested, reason = _suggest(
                today, settings, planned, profile, lifts[planned.lift], planned.lift in caps_lifted
            )
        velocity, each_side = (None, ()) if suggested is None else (suggested.velocity, suggested.each_side)
        if decided is not None and decided.told.load_kg is not None:
            velocity = None if profile is None else profile.velocity_at(decided.told.load_kg)
            built = nearest_load(decided.told.load_kg, equipment_of(settings, today.athlete.facts.sex))
            each_side = built.each_side if abs(built.load_kg - decided.told.load_kg) < 0.01 else ()
        out.append(LoadOfSet(number, planned, suggested, decided, velocity, each_side, None if suggested else reason))
    return tuple(out)


def _suggest(
    today: AthleteToday,
    settings: ClubSettings,
    planned: PlannedSet,
    profile: LoadVelocityProfile,
    lift: LiftToday,
    cap_lifted: bool,
) -> tuple[SuggestedLoad | None, str]:
    facts = today.athlete.facts
    zone = None
    if planned.zone is not None:
        zone = find_zone(settings, planned.lift, profile, planned.zone)
        if zone is None:
            return None, f"the zone {planned.zone!r} is no longer one of this lift"
    wanted = WantedSet(planned.reps, planned.sets, planned.percent, planned.velocity, zone)
    (suggested,) = suggest_loads(
        [wanted],
        profile,
        lift.readiness,
        equipment=equipment_of(settings, facts.sex),
        limits=LoadLimits(cap_percent=settings.daily_cap_percent, cap_lifted=cap_lifted),
        level=None if facts.level is None else facts.level.strip().lower(),
        age=youngest_age(today.athlete, today.on),
    )
    return suggested, ""
