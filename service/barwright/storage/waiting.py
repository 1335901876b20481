"""How many sets of each remote athlete nobody has looked at."""

from __future__ import annotations

from sqlmodel import Session, col, func, select

from barwright.storage.tables import SetRow
from barwright.storage.technique_tables import LookedAtRow, RemoteAthleteRow


def waiting_by_athlete(session: Session, club_id: str) -> dict[str, int]:
    """Athlete id -> sets that are done and wait to be looked at; one query."""
    query = select(SetRow.athlete_id, func.count()).where(SetRow.club_id == club_id)
    query = query.where(col(SetRow.athlete_id).in_(select(RemoteAthleteRow.athlete_id)))
    query = query.where(col(SetRow.state).in_(["analysed", "failed"]))
    query = query.where(col(SetRow.id).not_in(select(LookedAtRow.set_id)))
    return dict(session.exec(query.group_by(col(SetRow.athlete_id))).all())
