"""Which verdicts on athletes' days a club's webhooks were told last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from barwright.storage.live_tables import ToldReadinessRow


@dataclass(frozen=True, slots=True)
class ToldReadiness:
    """The last verdict that was told of one lift on one day, and when."""

    day: date
    lift: str
    verdict: str
    told_at: datetime


class ToldReadinessStore:
    """Reads and writes what the webhooks of one club were told, and of no other.

    Whoever puts has read before, in a session that has the club's turn.
    """

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def verdict(self, athlete_id: str, lift: str, day: date) -> str | None:
        """The last verdict told; None when nothing was told of the day."""
        row = self._row(athlete_id, lift, day)
        return None if row is None else row.verdict

    def put(self, athlete_id: str, lift: str, day: date, verdict: str, now: datetime) -> None:
        """This is told now."""
        row = self._row(athlete_id, lift, day)
        if row is None:
            row = ToldReadinessRow(
                athlete_id=athlete_id, lift=lift, day=day, club_id=self._club_id, verdict=verdict, told_at=now
            )
            self._session.add(row)
        row.verdict, row.told_at = verdict, now

    def of_athlete(self, athlete_id: str) -> list[ToldReadiness]:
        """Everything that was told of an athlete, in order of day and lift."""
        query = select(ToldReadinessRow).where(ToldReadinessRow.club_id == self._club_id)
        query = query.where(ToldReadinessRow.athlete_id == athlete_id)
        rows = self._session.exec(query.order_by(col(ToldReadinessRow.day), col(ToldReadinessRow.lift)))
        return [ToldReadiness(row.day, row.lift, row.verdict, row.told_at) for row in rows]

    def _row(self, athlete_id: str, lift: str, day: date) -> ToldReadinessRow | None:
        query = select(ToldReadinessRow).where(ToldReadinessRow.club_id == self._club_id)
        query = query.where(ToldReadinessRow.athlete_id == athlete_id, ToldReadinessRow.lift == lift)
        return self._session.exec(query.where(ToldReadinessRow.day == day)).first()
