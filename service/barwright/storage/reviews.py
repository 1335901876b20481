"""What the coach of one club has still to look at."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlmodel import Session, col, select

from barwright.storage.tables import AthleteRow, SetRow
from barwright.storage.technique_tables import LookedAtRow, RemoteAthleteRow


class ReviewStore:
    """Remote athletes of one club and the sets of theirs nobody has looked at."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def remote(self) -> set[str]:
        """Ids of the athletes whose sets are put up for review."""
        query = select(RemoteAthleteRow.athlete_id).where(RemoteAthleteRow.club_id == self._club_id)
        return set(self._session.exec(query))

    def set_remote(self, athlete_id: str, remote: bool) -> bool:
        """Whether an athlete's sets are put up; False when the club has no such athlete."""
        athlete = select(AthleteRow.id).where(AthleteRow.club_id == self._club_id, AthleteRow.id == athlete_id)
        if self._session.exec(athlete).first() is None:
            return False
        row = self._session.get(RemoteAthleteRow, athlete_id)
        if remote and row is None:
            self._session.add(RemoteAthleteRow(athlete_id=athlete_id, club_id=self._club_id))
        elif not remote and row is not None:
            self._session.delete(row)
        return True

    def waiting(self, everybody: bool, most: int) -> list[str]:
        """Ids of sets that are done and nobody has looked at, the latest first; everybody: not of remote ones only."""
        query = select(SetRow.id).where(SetRow.club_id == self._club_id)
        query = query.where(col(SetRow.state).in_(["analysed", "failed"]))
        query = query.where(col(SetRow.id).not_in(select(LookedAtRow.set_id)))
        if not everybody:
            remote = self.remote()
            if not remote:  # the database would go through every set of the club to find none
                return []
            query = query.where(col(SetRow.athlete_id).in_(remote))
        query = query.order_by(col(SetRow.started_at).desc(), col(SetRow.id).desc()).limit(most)
        return list(self._session.exec(query))

    def look_at(self, set_ids: Iterable[str], now: datetime) -> set[str]:
        """Marks sets of this club as looked at; answers those the club does not have."""
        wanted = set(set_ids)
        query = select(SetRow.id).where(SetRow.club_id == self._club_id).where(col(SetRow.id).in_(wanted))
        known = set(self._session.exec(query))
        for set_id in known:
            self._session.merge(LookedAtRow(set_id=set_id, club_id=self._club_id, looked_at=now))
        return wanted - known
