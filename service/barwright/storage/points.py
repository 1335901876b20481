"""Points: what an athlete did at each load of each day, ready for profiles; worked out whenever a set changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, delete, func, select

from barwright.analysis.profiles.bounds import MOST_KG, MOST_M_S
from barwright.analysis.profiles.points import Effort, LoadVelocityPoint, best_points
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.storage.beliefs import forget_beliefs
from barwright.storage.tables import METADATA
from barwright.storage.training_tables import EffortRow, PointRow

_TABLE = METADATA.tables["point"]


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


_COLUMNS = [_TABLE.c[name] for name in DayPoint.__dataclass_fields__]


class PointStore:
    """Reads the points of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def of(self, pairs: Iterable[tuple[str, str]], until: date) -> dict[tuple[str, str], list[DayPoint]]:
        """(athlete id, lift) -> everything until that day, it included, in order of day and load; one query."""
        wanted = set(pairs)
        if not wanted:
            return {}
        query = select(*_COLUMNS).where(_TABLE.c.club_id == self._club_id, _TABLE.c.day <= until)
        query = query.where(_TABLE.c.athlete_id.in_({one for one, _ in wanted}))
        query = query.where(_TABLE.c.lift.in_({lift for _, lift in wanted}))
        query = query.order_by(_TABLE.c.athlete_id, _TABLE.c.lift, _TABLE.c.day, _TABLE.c.load_kg)
        out: dict[tuple[str, str], list[DayPoint]] = {one: [] for one in wanted}
        for row in self._session.connection().execute(query):
            if (row[0], row[1]) in wanted:
                out[row[0], row[1]].append(DayPoint(*row))
        return out

    def last_days(self, athlete_ids: Iterable[str], until: date) -> dict[tuple[str, str], date]:
        """(athlete id, lift) -> the last day it was done, until that day, it included; one query."""
        query = select(_TABLE.c.athlete_id, _TABLE.c.lift, func.max(_TABLE.c.day))
        query = query.where(_TABLE.c.club_id == self._club_id, _TABLE.c.day <= until)
        query = query.where(_TABLE.c.athlete_id.in_(set(athlete_ids)))
        query = query.group_by(_TABLE.c.athlete_id, _TABLE.c.lift)
        return {(athlete_id, lift): last for athlete_id, lift, last in self._session.connection().execute(query)}

    def of_day(self, athlete_ids: Iterable[str], day: date) -> dict[tuple[str, str], list[DayPoint]]:
        """(athlete id, lift) -> what was done on one day, in order of load; one query."""
        query = select(*_COLUMNS).where(_TABLE.c.club_id == self._club_id, _TABLE.c.day == day)
        query = query.where(_TABLE.c.athlete_id.in_(set(athlete_ids))).order_by(_TABLE.c.load_kg)
        out: dict[tuple[str, str], list[DayPoint]] = {}
        for row in self._session.connection().execute(query):
            out.setdefault((row[0], row[1]), []).append(DayPoint(*row))
        return out


def refresh_points(session: Session, club_id: str, athlete_id: str, lift: str, day: date) -> None:
    """Works out the points of one lift of one day anew from its efforts."""
    forget_beliefs(session, athlete_id, lift, day)
    of_day = delete(PointRow).where(col(PointRow.athlete_id) == athlete_id)
    session.exec(of_day.where(col(PointRow.lift) == lift).where(col(PointRow.day) == day))
    query = select(EffortRow.load_kg, EffortRow.made, EffortRow.missed, EffortRow.reps)
    query = query.where(EffortRow.athlete_id == athlete_id, EffortRow.lift == lift, EffortRow.day == day)
    counts: dict[float, list[int]] = {}
    reps: list[Effort] = []
    for load_kg, made, missed, told in session.exec(query):
        if not 0 < load_kg <= MOST_KG:  # an empty string of a test, a load from before there was a limit
            continue
        count = counts.setdefault(load_kg, [0, 0])
        count[0] += made
        count[1] += missed
        reps += [Effort(load_kg, _velocity(value, u), day.toordinal(), outcome) for outcome, value, u in told]
    best = {point.load_kg: point for point in best_points(reps)}
    for load_kg, (made, missed) in counts.items():
        if not made and not missed:
            continue
        session.add(_row(club_id, athlete_id, lift, day, load_kg, made, missed, best.get(load_kg)))


def _row(
    club_id: str,
    athlete_id: str,
    lift: str,
    day: date,
    load_kg: float,
    made: int,
    missed: int,
    best: LoadVelocityPoint | None,
) -> PointRow:
    return PointRow(
        athlete_id=athlete_id,
        lift=lift,
        day=day,
        load_kg=load_kg,
        club_id=club_id,
        made=made,
        missed=missed,
        velocity=None if best is None else best.velocity.value,
        u=None if best is None else best.velocity.u,
        among=0 if best is None else best.among,
        luck=0.0 if best is None else best.luck,
    )


def _velocity(value: float | None, u: float | None) -> Estimate:
    if value is None or u is None or not 0 < value <= MOST_M_S:
        return unknown("m/s", "none that a lifted bar can have was measured")
    return Estimate(value, u, "m/s")
