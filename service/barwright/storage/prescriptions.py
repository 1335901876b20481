"""Drills of one club: what it added or changed, and what it gave to whom."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select, tuple_
from sqlmodel.sql.expression import SelectOfScalar

from barwright.storage.ids import new_id
from barwright.storage.technique_tables import ClubDrillRow, PrescriptionRow


@dataclass(frozen=True, slots=True)
class NewPrescription:
    """A drill given on a day for a fault of a lift. advised, reason: when another drill was advised, which and why not.

    against_kg: the load the fault was seen at.
    """

    lift: str
    fault: str
    drill: str
    given_on: date
    load_kg: float | None
    sets: int
    reps: int
    advised: str | None = None
    reason: str | None = None
    against_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Prescription:
    """A prescription that is kept. ended_on: None while it goes on."""

    id: str
    athlete_id: str
    told: NewPrescription
    ended_on: date | None
    created_at: datetime


class ClubDrillStore:
    """What one club added to or changed in the catalogue."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def all(self) -> dict[str, dict[str, Any]]:
        """Code -> members that differ, in order of code."""
        query = select(ClubDrillRow).where(ClubDrillRow.club_id == self._club_id).order_by(col(ClubDrillRow.code))
        return {row.code: dict(row.facts) for row in self._session.exec(query)}

    def put(self, code: str, facts: dict[str, Any], now: datetime) -> None:
        """In the place of what was told of this drill before."""
        self._session.merge(ClubDrillRow(club_id=self._club_id, code=code, facts=facts, changed_at=now))

    def delete(self, code: str) -> bool:
        """Takes the club's own words back; False when there were none."""
        row = self._session.get(ClubDrillRow, (self._club_id, code))
        if row is None:
            return False
        self._session.delete(row)
        return True


class PrescriptionStore:
    """Drills one club gave."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, athlete_id: str, told: NewPrescription, now: datetime) -> Prescription:
        """A new one for an athlete of this club; those for the same fault that still went on end with it."""
        open_ones = select(PrescriptionRow).where(PrescriptionRow.club_id == self._club_id)
        open_ones = open_ones.where(PrescriptionRow.athlete_id == athlete_id, PrescriptionRow.lift == told.lift)
        open_ones = open_ones.where(PrescriptionRow.fault == told.fault, col(PrescriptionRow.ended_on).is_(None))
        for before in self._session.exec(open_ones):
            before.ended_on = max(before.given_on, told.given_on)
        row = PrescriptionRow(
            id=new_id("pre"),
            club_id=self._club_id,
            athlete_id=athlete_id,
            lift=told.lift,
            fault=told.fault,
            drill=told.drill,
            given_on=told.given_on,
            load_kg=told.load_kg,
            sets=told.sets,
            reps=told.reps,
            advised=told.advised,
            reason=told.reason,
            against_kg=told.against_kg,
            created_at=now,
        )
        self._session.add(row)
        return _prescription(row)

    def get(self, athlete_id: str, prescription_id: str) -> Prescription | None:
        """One of an athlete."""
        row = self._row(athlete_id, prescription_id)
        return None if row is None else _prescription(row)

    def of_athlete(self, athlete_id: str, lift: str | None = None) -> list[Prescription]:
        """All of an athlete, the oldest first."""
        query = self._all(athlete_id).order_by(col(PrescriptionRow.given_on), col(PrescriptionRow.created_at))
        if lift is not None:
            query = query.where(PrescriptionRow.lift == lift)
        return [_prescription(row) for row in self._session.exec(query)]

    def page(self, athlete_id: str, after: tuple[datetime, str] | None, limit: int) -> list[Prescription]:
        """At most `limit` of an athlete, the latest told first."""
        query = self._all(athlete_id).order_by(col(PrescriptionRow.created_at).desc(), col(PrescriptionRow.id).desc())
        if after is not None:
            query = query.where(tuple_(col(PrescriptionRow.created_at), col(PrescriptionRow.id)) < after)
        return [_prescription(row) for row in self._session.exec(query.limit(limit))]

    def end(self, athlete_id: str, prescription_id: str, on: date) -> Prescription | None:
        """The drill is done no longer."""
        row = self._row(athlete_id, prescription_id)
        if row is None:
            return None
        row.ended_on = on
        return _prescription(row)

    def _row(self, athlete_id: str, prescription_id: str) -> PrescriptionRow | None:
        return self._session.exec(self._all(athlete_id).where(PrescriptionRow.id == prescription_id)).first()

    def _all(self, athlete_id: str) -> SelectOfScalar[PrescriptionRow]:
        query = select(PrescriptionRow).where(PrescriptionRow.club_id == self._club_id)
        return query.where(PrescriptionRow.athlete_id == athlete_id)


def _prescription(row: PrescriptionRow) -> Prescription:
    told = NewPrescription(
        row.lift, row.fault, row.drill, row.given_on, row.load_kg, row.sets, row.reps, row.advised, row.reason,
        row.against_kg,
    )  # fmt: skip
    return Prescription(row.id, row.athlete_id, told, row.ended_on, row.created_at)
