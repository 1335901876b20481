"""What changed in an athlete's training is carried on into efforts, points and what is believed of the lift."""

from __future__ import annotations

import json
import logging
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
from sqlmodel import Session

from barwright.analysis.profiles.anchors import anchors, efforts_by_day, is_anchor, step_on
from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.columns import CourseColumns, columns_of
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.storage.beliefs import BeliefStore, StoredBelief
from barwright.storage.efforts import EffortStore, sets_without_effort
from barwright.storage.maxima import MaximumStore, ToldMaximum
from barwright.storage.points import DayPoint, PastPoints, PointStore
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

METHOD = "belief-2"  # raise it whenever the numbers of profiles change: kept beliefs are then worked out anew
STEPPED = METHOD + " stepped"  # from an anchor over the days since
METHODS = (METHOD, STEPPED)
_MEMBERS = {field.name for field in fields(Belief)}
Pair = tuple[str, str]
ALL: Mapping[str, Collection[str]] = {}
_AT_ONCE = 200


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything that was seen of one athlete and lift, as the analysis takes it."""

    points: tuple[LoadVelocityPoint, ...]
    maxima: tuple[MeasuredMax, ...]
    attempts: tuple[Attempt, ...]


def seen_of(points: Sequence[DayPoint], maxima: Sequence[ToldMaximum]) -> Seen:
    """From rows to what the analysis takes; a made load without a velocity counts as an attempt, and so does a miss."""
    measured, attempts = [], []
    for one in points:
        day = one.day.toordinal()
        if one.velocity is not None and one.u is not None:
            figure = Estimate(one.velocity, one.u, "m/s")
            measured.append(LoadVelocityPoint(one.load_kg, figure, day, one.among, one.luck))
        elif one.made:
            attempts.append(Attempt(one.load_kg, day, made=True))
        if one.missed:
            attempts.append(Attempt(one.load_kg, day, made=False))
    return Seen(tuple(measured), _tested(maxima), tuple(attempts))


def _tested(maxima: Sequence[ToldMaximum]) -> tuple[MeasuredMax, ...]:
    return tuple(MeasuredMax(one.load_kg, one.day.toordinal()) for one in maxima)


def columns_seen(past: PastPoints, maxima: Sequence[ToldMaximum]) -> CourseColumns:
    """The same as columns, for years of rows."""
    known = ~(np.isnan(past.velocity) | np.isnan(past.u))
    tried, missed = past.made & ~known, past.missed
    tested = columns_of((), _tested(maxima))
    return CourseColumns(
        past.day[known], past.load_kg[known], (past.velocity - past.luck)[known], past.u[known],
        tested.max_day, tested.max_kg, tested.max_sd,
        np.concatenate([past.day[tried], past.day[missed]]),
        np.concatenate([past.load_kg[tried], past.load_kg[missed]]),
        np.arange(tried.sum() + missed.sum()) < tried.sum(),
    )  # fmt: skip


def beliefs_before(
    session: Session, club_id: str, athlete_ids: Iterable[str], day: date, lifts: Mapping[str, Collection[str]] = ALL
) -> tuple[dict[Pair, Belief], dict[Pair, list[Belief]]]:
    """What the days before `day` say, by (athlete id, lift); and what had to be worked out for it and is new.

    The newest of the new is the one asked for. lifts: athlete id -> the only lifts that are asked for; of athletes that
    it does not name, all. The number of queries does not depend on how many athletes there are.
    """
    ids = set(athlete_ids)
    before = date.fromordinal(day.toordinal() - 1)
    points = PointStore(session, club_id)
    maxima = MaximumStore(session, club_id).of(ids, before)
    last = points.last_days(ids - lifts.keys(), before)
    last |= points.last_days(ids & lifts.keys(), before, {lift for those in lifts.values() for lift in those})
    for pair, told in maxima.items():
        last[pair] = max(last.get(pair, told[-1].day), told[-1].day)
    last = {(who, lift): then for (who, lift), then in last.items() if lift in lifts.get(who, (lift,))}
    kept = {pair: _read(one.document) for pair, one in BeliefStore(session, club_id, METHODS).before(last, day).items()}
    found: dict[Pair, Belief] = {}
    behind: dict[Pair, Belief | None] = {}
    for pair, last_day in last.items():
        belief = kept.get(pair)
        if belief is not None and belief.day >= last_day.toordinal():
            found[pair] = belief
        else:
            behind[pair] = belief
    new = _caught_up(points, behind, maxima, before)
    return found | {pair: beliefs[-1] for pair, beliefs in new.items()}, new


def _caught_up(
    points: PointStore, behind: Mapping[Pair, Belief | None], maxima: Mapping[Pair, list[ToldMaximum]], before: date
) -> dict[Pair, list[Belief]]:
    """Steps over the days that came since; where they pass an anchor, or nothing was kept, from all days."""
    out: dict[Pair, list[Belief]] = {}
    anew = {pair for pair, belief in behind.items() if belief is None}
    starts = {pair: belief for pair, belief in behind.items() if belief is not None}
    since = min((belief.day for belief in starts.values()), default=0) + 1
    for pair, past in points.past(starts, before, date.fromordinal(since)).items():
        belief = starts[pair]
        days = efforts_by_day(columns_seen(past, maxima.get(pair, ())), belief.day)
        if any(is_anchor(belief.days + k) for k in range(1, len(days) + 1)):
            anew.add(pair)
        else:
            out[pair] = [step_on(belief, days)]
    for pair, past in points.past(anew, before).items():
        seen, kept = columns_seen(past, maxima.get(pair, ())), behind[pair]
        known = anchors(prior_for(pair[1]), seen, 0 if kept is None else kept.day)
        days = efforts_by_day(seen, known[-1].day)
        out[pair] = [*known, step_on(known[-1], days)] if days else known
    return out


def refresh_profile(parts: Parts, club_id: str, athlete_ids: Iterable[str], before: date | None = None) -> None:
    """Works out and keeps what the days before one say, so that the next question is quick.

    By default all days, and all but the newest, which may be today and is read from the days before it. In a session
    that writes: nothing can change between working it out and keeping it.
    """
    ids = set(athlete_ids)
    with parts.database.writing(club_id) as session:
        store = BeliefStore(session, club_id, METHODS)
        found, new = beliefs_before(session, club_id, ids, before or date.max)
        _keep(store, new)
        if before is None and found:
            newest = max(belief.day for belief in found.values())
            _keep(store, beliefs_before(session, club_id, ids, date.fromordinal(newest))[1])


def _keep(store: BeliefStore, new: Mapping[Pair, list[Belief]]) -> None:
    told = {
        pair: [
            StoredBelief(date.fromordinal(one.day), METHOD if is_anchor(one.days) else STEPPED, json.dumps(asdict(one)))
            for one in beliefs
        ]
        for pair, beliefs in new.items()
    }
    store.put(told, STEPPED)


def keep_for_next_time(parts: Parts, club_id: str, athlete_ids: Iterable[str], before: date) -> None:
    """As refresh_profile, after an answer that had to work it out; a disk that is full spoils no answer."""
    try:
        refresh_profile(parts, club_id, athlete_ids, before)
    except StorageUnavailableError as error:
        log.warning("what was worked out could not be kept: %s", error)


def fill_efforts(parts: Parts) -> int:
    """At start: efforts of sets that were analysed by a version that kept none. Answers how many there were."""
    turn = parts.database.alone("efforts")
    if not turn.take():  # another service is at it
        return 0
    try:
        return _fill_efforts(parts)
    finally:
        turn.give_back()


def _fill_efforts(parts: Parts) -> int:
    with parts.database.reading() as session:
        due = sets_without_effort(session)
    if due:
        log.info("working out %d efforts of earlier sets", len(due))
    for club_id in {club_id for club_id, _ in due}:
        of_club = [set_id for whose, set_id in due if whose == club_id]
        for start in range(0, len(of_club), _AT_ONCE):
            with parts.database.writing(club_id) as session:
                for set_id in of_club[start : start + _AT_ONCE]:
                    EffortStore(session, club_id).refresh(set_id)
    return len(due)


@lru_cache(maxsize=10_000)  # of a text always the same; a club asks for the same hundreds all day
def _read(document: str) -> Belief | None:
    """None when it has other members."""
    members = json.loads(document)
    if members.keys() != _MEMBERS:
        return None
    return Belief(**{name: _tuples(value) for name, value in members.items()})


def _tuples(value: Any) -> Any:
    if not isinstance(value, list):
        return value
    return tuple(map(_tuples, value)) if value and isinstance(value[0], list) else tuple(value)  # rows, or numbers
