"""Which version of an athlete's training the database holds."""

from __future__ import annotations

from sqlmodel import Session, select

from barwright.storage.training_tables import TrainingVersionRow


def raise_version(session: Session, club_id: str, athlete_id: str) -> None:
    """Something changed that the athlete's profiles rest on."""
    row = session.get(TrainingVersionRow, athlete_id)
    if row is None:
        session.add(TrainingVersionRow(athlete_id=athlete_id, club_id=club_id, version=1))
        session.flush()
    else:
        row.version += 1


def versions_of(session: Session, club_id: str) -> dict[str, int]:
    """Athlete id -> version; an athlete who is not in it has not trained yet."""
    query = select(TrainingVersionRow.athlete_id, TrainingVersionRow.version)
    return dict(session.exec(query.where(TrainingVersionRow.club_id == club_id)).all())
