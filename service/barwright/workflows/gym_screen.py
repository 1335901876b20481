"""What a screen beside the platform shows of one athlete: the set that goes on, whether to stop, what is next."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime, time

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.zones import VelocityZone, zone_of
from barwright.analysis.quantities.lifts import LIFTS
from barwright.live.run import KnownRep
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.live_events import EventStore
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.plans import Decision, Plan, PlanStore
from barwright.storage.sets import SetFilter, SetStore, StoredSet
from barwright.storage.streams import StreamStore
from barwright.workflows.begin_following import memory_of
from barwright.workflows.days import today_of
from barwright.workflows.parts import Parts
from barwright.workflows.plan_loads import LoadsOfDay, loads_of_day
from barwright.workflows.read_profile import ZonesOnDay, read_zones
from barwright.workflows.stop_limit import LossSoFar, loss_so_far, stop_limit
from barwright.workflows.tell_maxima import athlete_of

_SETS_A_DAY = 100


@dataclass(frozen=True, slots=True)
class ScreenRep:
    """A rep as it is known now; provisional while its set is open. zone: of its velocity, None outside all of them."""

    rep: KnownRep
    provisional: bool
    zone: VelocityZone | None


@dataclass(frozen=True, slots=True)
class NextSet:
    """Which line of the plan comes next (number 1 the first), and how many sets of it are left."""

    number: int
    left: int


@dataclass(frozen=True, slots=True)
class Known:
    """What a screen is made of before anything is worked out; `mark` changes whenever any of it does."""

    athlete_name: str
    on: date
    last_event_id: int
    lift_set: StoredSet | None
    reps: tuple[KnownRep, ...]
    lost: LossSoFar | None
    plan: Plan | None
    decisions: tuple[Decision, ...]
    done: tuple[tuple[str, int], ...]

    @property
    def mark(self) -> str:
        """Digest of all of it."""
        return hashlib.sha256(repr(self).encode()).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class Screen:
    """Everything a screen shows. loads: of the whole day; next_reason: why there is no next set."""

    known: Known
    measure: str | None
    reps: tuple[ScreenRep, ...]
    loads: LoadsOfDay | None
    next_set: NextSet | None
    next_reason: str | None


def screen_facts(parts: Parts, caller: Caller, athlete_id: str) -> Known:
    """The cheap half: a few short queries. Raises Cannot."""
    with parts.database.reading() as session:
        athlete = athlete_of(session, caller, athlete_id)
        store = ClubSettingsStore(session, caller.club_id)
        day, zone = today_of(parts, store.get()), store.zone()
        store_of_sets = SetStore(session, caller.club_id)
        since = datetime.combine(day, time(), zone)
        sets = store_of_sets.page(SetFilter(athlete_id, from_at=since), None, _SETS_A_DAY)
        sets = sets or store_of_sets.page(SetFilter(athlete_id), None, 1)
        plans = PlanStore(session, caller.club_id)
        last = sets[0] if sets else None
        reps, lost = ((), None) if last is None else _reps_of(session, caller, last)
        done: dict[str, int] = {}
        for one in sets:
            if one.started_at.astimezone(zone).date() == day and any(rep.outcome == "made" for rep in one.reps):
                done[one.lift] = done.get(one.lift, 0) + 1
        return Known(
            athlete_name=athlete.facts.name,
            on=day,
            last_event_id=EventStore(session, caller.club_id).newest_id(athlete_id=athlete_id),
            lift_set=last,
            reps=reps,
            lost=lost,
            plan=plans.that_count(day, [athlete_id]).get(athlete_id),
            decisions=tuple(plans.decisions(athlete_id, day)),
            done=tuple(sorted(done.items())),
        )


def gym_screen(parts: Parts, caller: Caller, athlete_id: str, known: Known) -> Screen:
    """The whole screen, from what is known."""
    last = known.lift_set
    reps: tuple[ScreenRep, ...] = ()
    if last is not None:
        zones = read_zones(parts, caller, athlete_id, last.lift, None, None)
        reps = tuple(ScreenRep(rep, last.state == "open", _zone(rep, zones)) for rep in known.reps)
    loads = loads_of_day(parts, caller, athlete_id, None) if known.plan is not None else None
    next_set, reason = _next(known, loads)
    return Screen(known, None if last is None else LIFTS[last.lift].key_velocity, reps, loads, next_set, reason)


def _reps_of(session: Session, caller: Caller, last: StoredSet) -> tuple[tuple[KnownRep, ...], LossSoFar | None]:
    stream = StreamStore(session, caller.club_id).get(last.stream_id)
    if stream is None:
        return (), None
    kept = LiveRunStore(session, caller.club_id).get(stream.id).memory
    if last.state in ("open", "analysing") and last.revision == 0:
        reps = () if kept is None else memory_of(kept).reps
    else:
        measure = LIFTS[last.lift].key_velocity
        figures = [(rep, rep.measures.get(measure)) for rep in last.reps if not rep.excluded]
        reps = tuple(
            KnownRep(
                rep.index, rep.start_s, rep.stop_s, rep.outcome, found.value if found else None,
                found.u if found else None,
            )
            for rep, found in figures
        )  # fmt: skip
    return reps, loss_so_far(reps, stop_limit(session, caller.club_id, stream))


def _zone(rep: KnownRep, zones: ZonesOnDay) -> VelocityZone | None:
    if rep.velocity is None:
        return None
    try:
        return zone_of(rep.velocity, zones.zones).zone
    except NotPlausible:
        return None


def _next(known: Known, loads: LoadsOfDay | None) -> tuple[NextSet | None, str | None]:
    if loads is None:
        return None, "there is no plan for today"
    done = dict(known.done)
    for line in loads.sets:
        before = done.get(line.planned.lift, 0)
        if before < line.planned.sets:
            return NextSet(line.number, line.planned.sets - before), None
        done[line.planned.lift] = before - line.planned.sets
    return None, "every set of today's plan is done"
