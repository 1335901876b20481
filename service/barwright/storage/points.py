"""Points: what an athlete did at each load of each day, ready for profiles; worked out whenever a set changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import bindparam, delete, func, insert
from sqlmodel import Session, select

from barwright.analysis.profiles.bounds import MOST_KG, MOST_M_S
from barwright.analysis.profiles.points import Effort, LoadVelocityPoint, best_points
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.storage.beliefs import forget_beliefs
from barwright.storage.tables import METADATA
from barwright.storage.training_tables import EffortRow as EffortRow  # its table, and the points'

Place = tuple[str, str, date]

_TABLE = METADATA.tables["point"]
_EFFORTS = METADATA.tables["effort"]
_EFFORT_COLUMNS = [_EFFORTS.c[name] for name in ("lift", "day", "load_kg", "made", "missed", "reps")]
_FORGET = delete(_TABLE).where(
    _TABLE.c.athlete_id == bindparam("who"), _TABLE.c.lift == bindparam("what"), _TABLE.c.day == bindparam("then")
)
_ATHLETES = METADATA.tables["athlete"]


@dataclass(frozen=True, slots=True)
class DayPoint:
    """One load of one day. velocity, u: m/s, of the fastest made rep, the fastest of `among`; None when unmeasured."""

    athlete_id: str
    lift: str
    day: date
    load_kg: float
    made: int
    missed: int
    velocity: float | None
    u: float | None
    among: int
    luck: float


@dataclass(frozen=True, slots=True)
class PastPoints:
    """The same of many days as columns (n,): ordinal day, kg, m/s and u (NaN: unmeasured), luck, made, missed."""

    day: NDArray[np.int64]
    load_kg: NDArray[np.float64]
    velocity: NDArray[np.float64]
    u: NDArray[np.float64]
    luck: NDArray[np.float64]
    made: NDArray[np.bool_]
    missed: NDArray[np.bool_]


_COLUMNS = [_TABLE.c[name] for name in DayPoint.__dataclass_fields__]
_PAST = [_TABLE.c[name] for name in ("athlete_id", "lift", "day", "load_kg", "velocity", "u", "luck", "made", "missed")]


class PointStore:
    """Reads the points of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def of(
        self, pairs: Iterable[tuple[str, str]], until: date, since: date = date.min
    ) -> dict[tuple[str, str], list[DayPoint]]:
        """(athlete id, lift) -> everything of those days, both included, in order of day and load; one query."""
        wanted = set(pairs)
        if not wanted:
            return {}
        query = select(*_COLUMNS).where(_TABLE.c.day <= until, _TABLE.c.day >= since)
        query = self._in_order(query, wanted)
        out: dict[tuple[str, str], list[DayPoint]] = {one: [] for one in wanted}
        for row in self._session.connection().execute(query):
            if (row[0], row[1]) in wanted:
                out[row[0], row[1]].append(DayPoint(*row))
        return out

    def past(
        self, pairs: Iterable[tuple[str, str]], until: date, since: date = date.min
    ) -> dict[tuple[str, str], PastPoints]:
        """(athlete id, lift) -> the same as columns; years are thousands of rows."""
        wanted = set(pairs)
        if not wanted:
            return {}
        query = self._in_order(select(*_PAST).where(_TABLE.c.day <= until, _TABLE.c.day >= since), wanted)
        rows: dict[tuple[str, str], list[Any]] = {one: [] for one in wanted}
        for row in self._session.connection().execute(query).fetchall():
            place = (row[0], row[1])
            if place in rows:
                rows[place].append(row)
        return {place: _past(found) for place, found in rows.items()}

    def _in_order(self, query: Any, wanted: set[tuple[str, str]]) -> Any:
        query = query.where(_TABLE.c.club_id == self._club_id)
        query = query.where(_TABLE.c.athlete_id.in_({one for one, _ in wanted}))
        query = query.where(_TABLE.c.lift.in_({lift for _, lift in wanted}))
        return query.order_by(_TABLE.c.athlete_id, _TABLE.c.lift, _TABLE.c.day, _TABLE.c.load_kg)

    def last_days(
        self, athlete_ids: Iterable[str], until: date, lifts: Iterable[str] | None = None
    ) -> dict[tuple[str, str], date]:
        """(athlete id, lift) -> the last day it was done, until that day, it included; one query. lifts: only these."""
        ids = set(athlete_ids)
        if not ids:
            return {}
        # From lift to lift of each athlete through the index, however many years there are and lifts there could be.
        point, another = _TABLE.alias("first"), _TABLE.alias("another")
        first = select(func.min(point.c.lift)).where(point.c.athlete_id == _ATHLETES.c.id).scalar_subquery()
        found = select(_ATHLETES.c.id.label("athlete_id"), first.label("lift"))
        found = found.where(_ATHLETES.c.club_id == self._club_id, _ATHLETES.c.id.in_(ids))
        pair = found.cte("pair", recursive=True)
        later = (another.c.athlete_id == pair.c.athlete_id) & (another.c.lift > pair.c.lift)
        following = select(func.min(another.c.lift)).where(later).scalar_subquery()
        pair = pair.union_all(select(pair.c.athlete_id, following).where(pair.c.lift.is_not(None)))
        its = (_TABLE.c.athlete_id == pair.c.athlete_id) & (_TABLE.c.lift == pair.c.lift)
        last = select(func.max(_TABLE.c.day)).where(its, _TABLE.c.day <= until).scalar_subquery()
        query = select(pair.c.athlete_id, pair.c.lift, last).where(pair.c.lift.is_not(None))
        if lifts is not None:
            query = query.where(pair.c.lift.in_(set(lifts)))
        rows = self._session.connection().execute(query).fetchall()
        return {(athlete_id, lift): last_day for athlete_id, lift, last_day in rows if last_day is not None}

    def of_day(self, athlete_ids: Iterable[str], day: date) -> dict[tuple[str, str], list[DayPoint]]:
        """(athlete id, lift) -> what was done on one day, in order of load; one query."""
        query = select(*_COLUMNS).where(_TABLE.c.club_id == self._club_id, _TABLE.c.day == day)
        query = query.where(_TABLE.c.athlete_id.in_(set(athlete_ids))).order_by(_TABLE.c.load_kg)
        out: dict[tuple[str, str], list[DayPoint]] = {}
        for row in self._session.connection().execute(query).fetchall():
            out.setdefault((row[0], row[1]), []).append(DayPoint(*row))
        return out


def refresh_points(session: Session, club_id: str, touched: Iterable[Place]) -> None:
    """Works out anew, from the efforts, the points of each (athlete id, lift, day) that something changed on."""
    by_athlete: dict[str, set[Place]] = {}
    for place in touched:
        by_athlete.setdefault(place[0], set()).add(place)
    connection = session.connection()
    for athlete_id, places in by_athlete.items():
        days = [day for _, _, day in places]
        for lift in {lift for _, lift, _ in places}:
            forget_beliefs(session, athlete_id, lift, min(day for _, one, day in places if one == lift))
        keys = [{"who": one, "what": lift, "then": day} for one, lift, day in places]
        connection.execute(_FORGET, keys)
        query = select(*_EFFORT_COLUMNS).where(_EFFORTS.c.athlete_id == athlete_id, _EFFORTS.c.day >= min(days))
        rows: dict[Place, list[Any]] = {place: [] for place in places}
        for row in connection.execute(query.where(_EFFORTS.c.day <= max(days))):
            if (athlete_id, row.lift, row.day) in rows:
                rows[athlete_id, row.lift, row.day].append(row)
        points = [point for place, efforts in rows.items() for point in _points_of(club_id, place, efforts)]
        if points:
            connection.execute(insert(_TABLE), points)


def _points_of(club_id: str, place: Place, efforts: Iterable[Any]) -> list[dict[str, Any]]:
    """One row for each load of one lift of one day."""
    athlete_id, lift, day = place
    counts: dict[float, list[int]] = {}
    reps: list[Effort] = []
    for row in efforts:
        if not 0 < row.load_kg <= MOST_KG:  # an empty string of a test, a load from before there was a limit
            continue
        count = counts.setdefault(row.load_kg, [0, 0])
        count[0] += row.made
        count[1] += row.missed
        reps += [Effort(row.load_kg, _velocity(value, u), day.toordinal(), outcome) for outcome, value, u in row.reps]
    best = {point.load_kg: point for point in best_points(reps)}
    place_of = {"athlete_id": athlete_id, "lift": lift, "day": day, "club_id": club_id}
    return [
        {**place_of, "load_kg": load_kg, "made": made, "missed": missed, **_measured(best.get(load_kg))}
        for load_kg, (made, missed) in counts.items()
        if made or missed
    ]


def _past(rows: list[Any]) -> PastPoints:
    columns = list(zip(*rows, strict=True)) or [()] * len(_PAST)
    days = {day: day.toordinal() for day in set(columns[2])}
    load, velocity, u, luck = (np.array(column, dtype=np.float64) for column in columns[3:7])  # None becomes NaN
    made, missed = (np.array(column, dtype=np.int64) > 0 for column in columns[7:9])
    day = np.array([days[day] for day in columns[2]], dtype=np.int64)
    return PastPoints(day, load, velocity, u, luck, made, missed)


def _measured(best: LoadVelocityPoint | None) -> dict[str, Any]:
    if best is None:
        return {"velocity": None, "u": None, "among": 0, "luck": 0.0}
    return {"velocity": best.velocity.value, "u": best.velocity.u, "among": best.among, "luck": best.luck}


def _velocity(value: float | None, u: float | None) -> Estimate:
    if value is None or u is None or not 0 < value <= MOST_M_S:
        return unknown("m/s", "none that a lifted bar can have was measured")
    return Estimate(value, u, "m/s")
