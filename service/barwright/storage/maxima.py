"""Maxima that were tested."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from barwright.storage.beliefs import forget_beliefs
from barwright.storage.ids import new_id
from barwright.storage.training_tables import MaximumRow


@dataclass(frozen=True, slots=True)
class ToldMaximum:
    """A maximum as somebody tells it."""

    lift: str
    day: date
    load_kg: float
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Maximum:
    """A tested maximum. source: told, or history (from a file)."""

    id: str
    athlete_id: str
    told: ToldMaximum
    source: str
    created_at: datetime


class MaximumStore:
    """Reads and writes the maxima of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def add(self, athlete_id: str, told: Sequence[ToldMaximum], source: str, now: datetime) -> list[Maximum]:
        """Keeps them."""
        rows = [
            MaximumRow(
                id=new_id("max"),
                club_id=self._club_id,
                athlete_id=athlete_id,
                lift=one.lift,
                day=one.day,
                load_kg=one.load_kg,
                note=one.note,
                source=source,
                created_at=now,
            )
            for one in told
        ]
        self._session.add_all(rows)
        for one in told:
            forget_beliefs(self._session, athlete_id, one.lift, one.day)
        return [_maximum(row) for row in rows]

    def of_athlete(self, athlete_id: str, lift: str | None = None) -> list[Maximum]:
        """Every maximum of an athlete, the oldest first."""
        query = select(MaximumRow).where(MaximumRow.club_id == self._club_id, MaximumRow.athlete_id == athlete_id)
        if lift is not None:
            query = query.where(MaximumRow.lift == lift)
        return [_maximum(row) for row in self._session.exec(query.order_by(col(MaximumRow.day), col(MaximumRow.id)))]

    def of(self, athlete_ids: Iterable[str], until: date) -> dict[tuple[str, str], list[ToldMaximum]]:
        """(athlete id, lift) -> maxima until that day, it included, the oldest first; one query."""
        query = select(MaximumRow).where(MaximumRow.club_id == self._club_id, col(MaximumRow.day) <= until)
        query = query.where(col(MaximumRow.athlete_id).in_(set(athlete_ids)))
        out: dict[tuple[str, str], list[ToldMaximum]] = {}
        for row in self._session.exec(query.order_by(col(MaximumRow.day), col(MaximumRow.id))):
            out.setdefault((row.athlete_id, row.lift), []).append(_maximum(row).told)
        return out

    def delete(self, athlete_id: str, maximum_id: str) -> bool:
        """Takes one away; False when the athlete has none with this id."""
        query = select(MaximumRow).where(MaximumRow.club_id == self._club_id, MaximumRow.athlete_id == athlete_id)
        row = self._session.exec(query.where(MaximumRow.id == maximum_id)).first()
        if row is None:
            return False
        self._session.delete(row)
        forget_beliefs(self._session, athlete_id, row.lift, row.day)
        return True


def _maximum(row: MaximumRow) -> Maximum:
    told = ToldMaximum(row.lift, row.day, row.load_kg, row.note)
    return Maximum(row.id, row.athlete_id, told, row.source, row.created_at)
