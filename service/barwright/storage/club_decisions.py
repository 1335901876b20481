"""What the coach decided for one day, of the whole club."""

from __future__ import annotations

from datetime import date

from sqlmodel import Session, col, select

from barwright.storage.plans import Decision, ToldDecision
from barwright.storage.training_tables import DecisionRow


def decisions_of_club(session: Session, club_id: str, day: date) -> dict[str, list[Decision]]:
    """Athlete id -> decisions for that day, the oldest first; one query."""
    query = select(DecisionRow).where(DecisionRow.club_id == club_id, DecisionRow.day == day)
    out: dict[str, list[Decision]] = {}
    for row in session.exec(query.order_by(col(DecisionRow.created_at), col(DecisionRow.id))):
        told = ToldDecision(row.kind, row.day, row.lift, row.reason, row.plan_id, row.set_number, row.load_kg)
        out.setdefault(row.athlete_id, []).append(Decision(row.id, row.athlete_id, told, row.created_at))
    return out
