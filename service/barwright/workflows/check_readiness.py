"""Is an athlete ready today: warm-ups of the day against what earlier days let expect, for one athlete or the club."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.profiles.anchors import is_anchor
from barwright.analysis.profiles.belief import Belief, DayEfforts, first_belief, guess_max
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.readiness.loads import CAUTION
from barwright.analysis.readiness.today import Readiness, Verdict, VerdictParams, readiness_today
from barwright.storage.athletes import Athlete, AthleteStore
from barwright.storage.club_settings import ClubSettings, ClubSettingsStore
from barwright.storage.plans import Plan, PlanStore
from barwright.storage.points import DayPoint, PointStore
from barwright.workflows.cannot import unknown_lift
from barwright.workflows.days import day_asked
from barwright.workflows.parts import Parts
from barwright.workflows.refresh_profile import Pair, Seen, beliefs_before, keep_for_next_time, seen_of
from barwright.workflows.tell_maxima import athlete_of

# A pure function of what it is given: a page about the whole club works out anew only what has changed since.
_readiness = lru_cache(maxsize=20_000)(readiness_today)
RECENT = timedelta(days=42)  # a lift not done for six weeks is not asked about by itself
_NOTHING_YET = seen_of((), ())
NOTHING = "nothing is known of this lift yet; one set recorded with a made rep is the least"


@dataclass(frozen=True, slots=True)
class LiftToday:
    """One lift of one athlete on a day. readiness: None when nothing at all is known of it.

    belief: after the days before this one, None on a first day. warm_ups: what was done on the day itself.
    """

    lift: str
    readiness: Readiness | None
    belief: Belief | None
    warm_ups: Seen


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class AthleteToday:
    """One athlete on a day; main: the lift the verdict comes from, None when there is none to speak of.

    A club is told the same objects until something of the athlete changes.
    """

    athlete: Athlete
    on: date
    lifts: tuple[LiftToday, ...]
    main: LiftToday | None
    plan: Plan | None
    caution: str = CAUTION

    @property
    def verdict(self) -> Verdict:
        """Of the main lift."""
        return Verdict.NOT_ENOUGH_DATA if self.main is None else verdict_of(self.main)


@dataclass(frozen=True, slots=True)
class ClubToday:
    """Every athlete of the club on a day, in order of name."""

    on: date
    items: tuple[AthleteToday, ...]
    caution: str = CAUTION


def check_readiness(
    parts: Parts, caller: Caller, athlete_id: str, on: date | None, lift: str | None = None
) -> AthleteToday:
    """One athlete; lift: only this one. Raises Cannot."""
    if lift is not None and lift not in LIFTS:
        raise unknown_lift(lift, "lift")
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = day_asked(parts, settings, on, "on")
        (found,), missing = days_of(session, caller.club_id, settings, [athlete], day, lift)
    if missing:
        keep_for_next_time(parts, caller.club_id, [athlete_id], day)
    return found


def check_club(parts: Parts, caller: Caller, on: date | None) -> ClubToday:
    """The whole club, with as many queries as for one athlete. Raises Cannot."""
    with parts.database.reading() as session:
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = day_asked(parts, settings, on, "on")
        found, missing = club_on(parts, session, caller.club_id, settings, day)
    if missing:
        keep_for_next_time(parts, caller.club_id, missing, day)
    return found


def club_on(
    parts: Parts, session: Session, club_id: str, settings: ClubSettings, day: date
) -> tuple[ClubToday, set[str]]:
    """As days_of, of all athletes; worked out is only who has changed since the same was asked last."""
    athletes, params = AthleteStore(session, club_id).all(), _params(settings)
    told = parts.days.get(club_id, day, params, athletes)
    changed = [one for one in athletes if one.id not in told]
    missing: set[str] = set()
    if changed:
        found, missing = days_of(session, club_id, settings, changed, day)
        told |= {one.athlete.id: one for one in found}
        parts.days.keep(club_id, day, params, told)
    parts.days.leave_only(club_id, (one.id for one in athletes))
    return ClubToday(day, tuple(told[one.id] for one in athletes)), missing


def catch_up(parts: Parts, caller: Caller) -> None:
    """Keeps what the days before today say of every lift, also of those that nobody asks for today."""
    with parts.database.reading() as session:
        settings = ClubSettingsStore(session, caller.club_id).get()
        day = day_asked(parts, settings, None, "on")
        ids = [one.id for one in AthleteStore(session, caller.club_id).all()]
        _, new = beliefs_before(session, caller.club_id, ids, day)
    if missing := _in_earnest(new):
        keep_for_next_time(parts, caller.club_id, missing, day)


def days_of(
    session: Session,
    club_id: str,
    settings: ClubSettings,
    athletes: Sequence[Athlete],
    day: date,
    lift: str | None = None,
) -> tuple[list[AthleteToday], set[str]]:
    """The day of each of these athletes; and the ids of those whose past had to be worked out in earnest for it."""
    ids = [one.id for one in athletes]
    today = PointStore(session, club_id).of_day(ids, day)
    plans = PlanStore(session, club_id).that_count(day, ids)
    asked = _lifts_of_the_day(today, plans) if lift is None else {one: {lift} for one in ids}
    beliefs, new = beliefs_before(session, club_id, ids, day, asked)
    asked = _lifts_of_late(beliefs, day) | asked
    params = _params(settings)
    out = []
    for athlete in athletes:
        lifts = sorted(asked.get(athlete.id, ()))
        found = tuple(_lift(athlete.id, one, day, beliefs, today, params) for one in lifts)
        out.append(AthleteToday(athlete, day, found, _main(found), plans.get(athlete.id)))
    return out, _in_earnest(new)


def verdict_of(one: LiftToday) -> Verdict:
    """not_enough_data when nothing is known of the lift."""
    return Verdict.NOT_ENOUGH_DATA if one.readiness is None else one.readiness.verdict


def _params(settings: ClubSettings) -> VerdictParams:
    own = settings.smallest_change_percent
    return VerdictParams() if own is None else VerdictParams(smallest_percent=own)


def _in_earnest(new: Mapping[Pair, Sequence[Belief]]) -> set[str]:
    """Ids of athletes for whom more had to be worked out than a step over the last days."""
    return {athlete_id for (athlete_id, _), beliefs in new.items() if is_anchor(beliefs[0].days)}


def _lifts_of_the_day(today: Iterable[Pair], plans: Mapping[str, Plan]) -> dict[str, set[str]]:
    """Athlete id -> what is done or planned on the day, for whom that is anything."""
    done = set(today) | {(who, one.lift) for who, plan in plans.items() for one in plan.sets}
    return _by_athlete(done)


def _lifts_of_late(beliefs: Mapping[Pair, Belief], day: date) -> dict[str, set[str]]:
    """Athlete id -> what was done lately."""
    since = (day - RECENT).toordinal()
    return _by_athlete(pair for pair, belief in beliefs.items() if belief.day >= since)


def _by_athlete(pairs: Iterable[Pair]) -> dict[str, set[str]]:
    out: dict[str, set[str]] = {}
    for who, lift in pairs:
        out.setdefault(who, set()).add(lift)
    return out


def _lift(
    athlete_id: str,
    lift: str,
    day: date,
    beliefs: dict[Pair, Belief],
    today: dict[Pair, list[DayPoint]],
    params: VerdictParams,
) -> LiftToday:
    points = today.get((athlete_id, lift))
    seen = _NOTHING_YET if points is None else seen_of(points, ())
    belief = beliefs.get((athlete_id, lift))
    start = belief
    if start is None and (seen.points or seen.attempts):
        efforts = DayEfforts(seen.points, seen.maxima, seen.attempts)
        start = first_belief(prior_for(lift), day.toordinal(), guess_max(efforts))
    readiness = None if start is None else _readiness(start, day.toordinal(), seen.points, params)
    return LiftToday(lift, readiness, belief, seen)


_ORDER = (Verdict.DOWN, Verdict.UP, Verdict.USUAL, Verdict.NOT_ENOUGH_DATA)


def _main(lifts: Sequence[LiftToday]) -> LiftToday | None:
    """Down goes before up, up before usual; of equals the one with most warm-up sets."""
    known = [one for one in lifts if one.readiness is not None]
    if not known:
        return lifts[0] if lifts else None
    return min(known, key=lambda one: (_ORDER.index(verdict_of(one)), -len(one.warm_ups.points), one.lift))
