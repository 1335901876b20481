"""What changed in an athlete's training is carried on into efforts, points and what is believed of the lift."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import Any

from sqlmodel import Session

from barwright.analysis.profiles.belief import Belief
from barwright.analysis.profiles.fit import learn
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.quantities.estimate import Estimate
from barwright.storage.beliefs import BeliefStore, StoredBelief
from barwright.storage.efforts import EffortStore, sets_without_effort
from barwright.storage.maxima import MaximumStore, ToldMaximum
from barwright.storage.points import DayPoint, PointStore
from barwright.storage.sessions import StorageUnavailableError
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

METHOD = "belief-2"  # raise it whenever the numbers of profiles change: kept beliefs are then worked out anew
Pair = tuple[str, str]
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
    tested = tuple(MeasuredMax(one.load_kg, one.day.toordinal()) for one in maxima)
    return Seen(tuple(measured), tested, tuple(attempts))


def beliefs_before(
    session: Session, club_id: str, athlete_ids: Iterable[str], day: date
) -> tuple[dict[Pair, Belief], dict[Pair, Belief]]:
    """What the days before `day` say, by (athlete id, lift); and those of them that had to be worked out and are new.

    The number of queries does not depend on how many athletes there are.
    """
    ids = set(athlete_ids)
    before = date.fromordinal(day.toordinal() - 1)
    points = PointStore(session, club_id)
    maxima = MaximumStore(session, club_id).of(ids, before)
    last = points.last_days(ids, before)
    for pair, told in maxima.items():
        last[pair] = max(last.get(pair, told[-1].day), told[-1].day)
    kept = BeliefStore(session, club_id).before(ids, day)
    found: dict[Pair, Belief] = {}
    stale = []
    for pair, last_day in last.items():
        stored = kept.get(pair)
        belief = None if stored is None or stored.until < last_day else _read(stored)
        if belief is None:
            stale.append(pair)
        else:
            found[pair] = belief
    new: dict[Pair, Belief] = {}
    rows = points.of(stale, before)
    for pair in stale:
        belief = _learn(pair[1], seen_of(rows.get(pair, ()), maxima.get(pair, ())), last[pair].toordinal())
        if belief is not None:
            new[pair] = belief
    return found | new, new


def refresh_profile(parts: Parts, club_id: str, athlete_ids: Iterable[str], before: date = date.max) -> None:
    """Works out and keeps what the days before one say, by default all of them, so that the next question is quick.

    In a session that writes: nothing can change between working it out and keeping it.
    """
    with parts.database.writing(club_id) as session:
        _, new = beliefs_before(session, club_id, athlete_ids, before)
        store = BeliefStore(session, club_id)
        for (athlete_id, lift), belief in new.items():
            store.put(athlete_id, lift, StoredBelief(date.fromordinal(belief.day), METHOD, asdict(belief)))


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
    for start in range(0, len(due), _AT_ONCE):
        with parts.database.writing() as session:
            for club_id, set_id in due[start : start + _AT_ONCE]:
                EffortStore(session, club_id).refresh(set_id)
    return len(due)


def _learn(lift: str, seen: Seen, until: int) -> Belief | None:
    if not (seen.points or seen.maxima or seen.attempts):
        return None
    return learn(prior_for(lift), seen.points, seen.maxima, seen.attempts, until)


def _read(stored: StoredBelief) -> Belief | None:
    """None when it was made by another method, or has other members."""
    names = {field.name for field in fields(Belief)}
    if stored.method != METHOD or set(stored.document) != names:
        return None
    return Belief(**{name: _tuples(value) for name, value in stored.document.items()})


def _tuples(value: Any) -> Any:
    return tuple(_tuples(one) for one in value) if isinstance(value, list) else value
