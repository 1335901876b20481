"""What athletes are to do on a day, and what the coach decided against the service's loads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select, tuple_

from barwright.storage.ids import new_id
from barwright.storage.training_tables import DecisionRow, PlanRow


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """`sets` sets of `reps`; exactly one of percent (of the day's maximum), velocity (m/s) and zone (its code) is told.

    velocity_loss: percent at which to stop; None where the plan leaves it to custom.
    """

    lift: str
    percent: float | None = None
    velocity: float | None = None
    zone: str | None = None
    reps: int = 1
    sets: int = 1
    velocity_loss: float | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of one athlete for one day."""

    id: str
    athlete_id: str
    day: date
    sets: tuple[PlannedSet, ...]
    note: str | None
    created_at: datetime


@dataclass(frozen=True, slots=True)
class ToldDecision:
    """What the coach decided for a day, and why. kind: lift_cap (for a lift), or load (of one set of a plan).

    set_number: 1 is the first set of the plan. plan_id: the plan it is about.
    """

    kind: str
    day: date
    lift: str
    reason: str
    plan_id: str | None = None
    set_number: int | None = None
    load_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """A decision that was kept."""

    id: str
    athlete_id: str
    told: ToldDecision
    created_at: datetime


class PlanStore:
    """Reads and writes plans and decisions of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def add(self, athlete_id: str, day: date, sets: tuple[PlannedSet, ...], note: str | None, now: datetime) -> Plan:
        """A new plan; from now on it is the one that counts for this day."""
        row = PlanRow(
            id=new_id("pln"),
            club_id=self._club_id,
            athlete_id=athlete_id,
            day=day,
            sets=[asdict(one) for one in sets],
            note=note,
            created_at=now,
        )
        self._session.add(row)
        return _plan(row)

    def get(self, athlete_id: str, plan_id: str) -> Plan | None:
        """The plan of an athlete with this id."""
        row = self._row(athlete_id, plan_id)
        return None if row is None else _plan(row)

    def delete(self, athlete_id: str, plan_id: str) -> bool:
        """Takes a plan away; False when the athlete has none with this id."""
        row = self._row(athlete_id, plan_id)
        if row is not None:
            self._session.delete(row)
        return row is not None

    def page(self, athlete_id: str, after: tuple[datetime, str] | None, limit: int) -> list[Plan]:
        """At most `limit` plans of an athlete, the newest first, those behind (created_at, id) `after`."""
        key = tuple_(col(PlanRow.created_at), col(PlanRow.id))
        query = select(PlanRow).where(PlanRow.club_id == self._club_id, PlanRow.athlete_id == athlete_id)
        if after is not None:
            query = query.where(key < after)
        query = query.order_by(col(PlanRow.created_at).desc(), col(PlanRow.id).desc())
        return [_plan(row) for row in self._session.exec(query.limit(limit))]

    def of_athlete(self, athlete_id: str) -> list[Plan]:
        """Every plan of an athlete, the oldest first."""
        query = select(PlanRow).where(PlanRow.club_id == self._club_id, PlanRow.athlete_id == athlete_id)
        return [_plan(row) for row in self._session.exec(query.order_by(col(PlanRow.created_at), col(PlanRow.id)))]

    def that_count(self, day: date, athlete_ids: Iterable[str]) -> dict[str, Plan]:
        """Athlete id -> the plan that counts on this day; one query."""
        query = select(PlanRow).where(PlanRow.club_id == self._club_id, PlanRow.day == day)
        query = query.where(col(PlanRow.athlete_id).in_(set(athlete_ids)))
        rows = self._session.exec(query.order_by(col(PlanRow.created_at), col(PlanRow.id)))
        return {row.athlete_id: _plan(row) for row in rows}

    def decide(self, athlete_id: str, told: ToldDecision, now: datetime) -> Decision:
        """Keeps a decision."""
        row = DecisionRow(
            id=new_id("dec"), club_id=self._club_id, athlete_id=athlete_id, created_at=now, **asdict(told)
        )
        self._session.add(row)
        return _decision(row)

    def decisions(self, athlete_id: str, day: date | None = None) -> list[Decision]:
        """Decisions about an athlete, the oldest first; of one day, or of all."""
        query = select(DecisionRow).where(DecisionRow.club_id == self._club_id, DecisionRow.athlete_id == athlete_id)
        if day is not None:
            query = query.where(DecisionRow.day == day)
        rows = self._session.exec(query.order_by(col(DecisionRow.created_at), col(DecisionRow.id)))
        return [_decision(row) for row in rows]

    def _row(self, athlete_id: str, plan_id: str) -> PlanRow | None:
        query = select(PlanRow).where(PlanRow.club_id == self._club_id, PlanRow.athlete_id == athlete_id)
        return self._session.exec(query.where(PlanRow.id == plan_id)).first()


def _plan(row: PlanRow) -> Plan:
    sets = tuple(PlannedSet(**one) for one in row.sets)
    return Plan(row.id, row.athlete_id, row.day, sets, row.note, row.created_at)


def _decision(row: DecisionRow) -> Decision:
    told = ToldDecision(row.kind, row.day, row.lift, row.reason, row.plan_id, row.set_number, row.load_kg)
    return Decision(row.id, row.athlete_id, told, row.created_at)
