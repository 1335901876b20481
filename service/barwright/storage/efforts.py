"""Efforts: each set of an athlete in the few numbers that profiles and readiness want."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import insert
from sqlmodel import Session, col, select

from barwright.analysis.quantities.lifts import LIFTS
from barwright.storage.club_settings import ClubSettingsStore
from barwright.storage.corrections import rep_corrections_of
from barwright.storage.ids import new_id
from barwright.storage.points import Place, refresh_points
from barwright.storage.tables import METADATA, SetRow
from barwright.storage.training_tables import EffortRow


@dataclass(frozen=True, slots=True)
class SetEffort:
    """One set. day: in the club's time zone. set_id: of a recorded set, None for a set told by a file of history.

    velocity, u: of the fastest made rep (number `rep` of a recorded set) in m/s, the measure that the lift's profiles
    are drawn with; None when there is none. number: which set of the day, where a file told it.
    """

    id: str
    athlete_id: str
    lift: str
    day: date
    at: datetime | None
    set_id: str | None
    number: int | None
    load_kg: float
    made: int
    missed: int
    velocity: float | None
    u: float | None
    rep: int | None
    note: str | None


@dataclass(frozen=True, slots=True)
class ToldSet:
    """One set as a file of history tells it; velocity, u: of its fastest made rep."""

    lift: str
    day: date
    number: int | None
    load_kg: float
    made: int
    missed: int
    velocity: float | None
    u: float | None
    note: str | None

    def reps(self) -> list[list[Any]]:
        """[outcome, velocity, u] of each rep."""
        made: list[list[Any]] = [["made", None, None] for _ in range(self.made)]
        if made:
            made[0] = ["made", self.velocity, self.u]
        return made + [["failed", None, None] for _ in range(self.missed)]


_TABLE = METADATA.tables["effort"]
_COLUMNS = [_TABLE.c[name] for name in SetEffort.__dataclass_fields__]
_REPS = METADATA.tables["rep"]
_REP_COLUMNS = [_REPS.c[name] for name in ("index", "outcome", "start_s", "stop_s", "measures")]


class EffortStore:
    """Reads and writes the efforts of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def of_athlete(self, athlete_id: str, lift: str | None = None, since: date = date.min) -> list[SetEffort]:
        """Every set of an athlete from a day on, in order of day, time and lift."""
        query = select(*_COLUMNS).where(_TABLE.c.club_id == self._club_id, _TABLE.c.athlete_id == athlete_id)
        query = query.where(_TABLE.c.day >= since)
        if lift is not None:
            query = query.where(_TABLE.c.lift == lift)
        return self._read(query.order_by(_TABLE.c.day, _TABLE.c.at, _TABLE.c.lift, _TABLE.c.number, _TABLE.c.id))

    def of_day(self, day: date, athlete_id: str | None = None) -> list[SetEffort]:
        """What the club, or one athlete, did on one day, in order of time."""
        query = select(*_COLUMNS).where(_TABLE.c.club_id == self._club_id, _TABLE.c.day == day)
        if athlete_id is not None:
            query = query.where(_TABLE.c.athlete_id == athlete_id)
        return self._read(query.order_by(_TABLE.c.at, _TABLE.c.id))

    def add_told(self, athlete_id: str, told: Sequence[ToldSet]) -> None:
        """Keeps sets of a file of history."""
        rows = [
            {
                "id": new_id("eff"),
                "club_id": self._club_id,
                "athlete_id": athlete_id,
                "lift": one.lift,
                "day": one.day,
                "number": one.number,
                "load_kg": one.load_kg,
                "made": one.made,
                "missed": one.missed,
                "velocity": one.velocity,
                "u": one.u,
                "reps": one.reps(),
                "note": one.note,
            }
            for one in told
        ]
        if rows:
            self._session.connection().execute(insert(_TABLE), rows)
        self._points_of({(athlete_id, one.lift, one.day) for one in told})

    def refresh(self, set_id: str) -> set[Place]:
        """Works out the effort of a recorded set anew, from its reps and what was corrected of them.

        Answers where something may have changed by it: (athlete id, lift, day), more than one when the set has moved.
        """
        found = self._session.exec(
            select(SetRow).where(SetRow.club_id == self._club_id).where(SetRow.id == set_id)
        ).first()
        if found is None:
            return set()
        touched: set[Place] = set()
        before = self._session.exec(select(EffortRow).where(EffortRow.set_id == set_id)).first()
        if before is not None:
            touched.add((before.athlete_id, before.lift, before.day))
            self._session.delete(before)
            self._session.flush()
        if found.state != "failed":
            effort = self._of_set(found)
            self._session.add(effort)
            touched.add((effort.athlete_id, effort.lift, effort.day))
        self._points_of(touched)
        return touched

    def move_days(self, zone: ZoneInfo) -> None:
        """The club's clock changed: every recorded set is put on the day it has there."""
        rows = select(EffortRow).where(EffortRow.club_id == self._club_id).where(col(EffortRow.at).is_not(None))
        touched = set()
        for row in self._session.exec(rows).all():
            day = row.day if row.at is None else row.at.astimezone(zone).date()
            if day != row.day:
                touched |= {(row.athlete_id, row.lift, row.day), (row.athlete_id, row.lift, day)}
                row.day = day
        self._points_of(touched)

    def _points_of(self, touched: Iterable[tuple[str, str, date]]) -> None:
        self._session.flush()
        refresh_points(self._session, self._club_id, set(touched))

    def _of_set(self, found: SetRow) -> EffortRow:
        zone = ClubSettingsStore(self._session, self._club_id).zone()
        effort = EffortRow(
            id="eff_" + found.id.partition("_")[2],
            club_id=self._club_id,
            athlete_id=found.athlete_id,
            lift=found.lift,
            day=found.started_at.astimezone(zone).date(),
            at=found.started_at,
            set_id=found.id,
            load_kg=found.load_kg,
            made=0,
            missed=0,
        )
        effort.reps = []
        corrections = rep_corrections_of(self._session, [found.id]).get(found.id, ())
        reps = select(*_REP_COLUMNS).where(_REPS.c.set_id == found.id).order_by(_REPS.c.index)
        for index, analysed, start_s, stop_s, measures in self._session.connection().execute(reps):
            told = next((one for one in corrections if one.fits(start_s, stop_s)), None)
            if told is not None and told.excluded:
                continue
            outcome = analysed if told is None or told.outcome is None else told.outcome
            figure = measures.get(LIFTS[found.lift].key_velocity) or {}
            _count(effort, index, outcome, figure.get("value"), figure.get("u"))
        return effort

    def _read(self, query: Any) -> list[SetEffort]:
        return [SetEffort(*row) for row in self._session.connection().execute(query)]


def sets_without_effort(session: Session) -> list[tuple[str, str]]:
    """(club id, set id) of every analysed set of any club whose effort has not been worked out."""
    query = select(SetRow.club_id, SetRow.id).join(EffortRow, col(EffortRow.set_id) == col(SetRow.id), isouter=True)
    query = query.where(SetRow.state == "analysed").where(col(EffortRow.id).is_(None))
    return [(club_id, set_id) for club_id, set_id in session.exec(query)]


def _count(effort: EffortRow, index: int, outcome: str, value: float | None, u: float | None) -> None:
    effort.made += outcome == "made"
    effort.missed += outcome == "failed"
    effort.reps = [*effort.reps, [outcome, value, u]]
    if outcome == "made" and value is not None and (effort.velocity is None or value > effort.velocity):
        effort.velocity, effort.u, effort.rep = value, u, index
