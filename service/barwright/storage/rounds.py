"""Rounds in which whole archives are analysed again: which sets are still due, and which are done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, or_, select

from barwright.storage.keeping_tables import RoundRow, ThinnedRow
from barwright.storage.tables import ClubRow, SetRow


@dataclass(frozen=True, slots=True)
class Round:
    """name: of the round. method: sets that were analysed by it already are not due; None: all are."""

    name: str
    method: str | None


@dataclass(frozen=True, slots=True)
class DueSet:
    """A set of a round."""

    club_id: str
    set_id: str
    athlete_id: str


def due_sets(session: Session, of_round: Round, club: str | None, after: str, limit: int) -> list[DueSet]:
    """Sets that are due in order of their ids, those after one; of one club (by name) or of all.

    Sets that were never analysed are the queue's; sets without raw samples keep what they have.
    """
    query = select(SetRow.club_id, SetRow.id, SetRow.athlete_id)
    query = query.where(SetRow.id > after, col(SetRow.state).in_(["analysed", "failed"]))
    if of_round.method is not None:
        query = query.where(or_(col(SetRow.method).is_(None), SetRow.method != of_round.method))
    if club is not None:
        query = query.where(col(SetRow.club_id).in_(select(ClubRow.id).where(ClubRow.name == club)))
    done = select(RoundRow.set_id).where(RoundRow.round == of_round.name)
    dropped = select(ThinnedRow.stream_id).where(ThinnedRow.form == "dropped")
    query = query.where(col(SetRow.id).not_in(done), col(SetRow.stream_id).not_in(dropped))
    return [DueSet(*found) for found in session.exec(query.order_by(col(SetRow.id)).limit(limit))]


def is_done(session: Session, of_round: Round, set_id: str) -> bool:
    """Whether the round has been here."""
    return session.get(RoundRow, (of_round.name, set_id)) is not None


def mark_done(session: Session, of_round: Round, club_id: str, set_id: str, now: datetime) -> None:
    """The round has been here; kept in the same transaction as its result."""
    session.merge(RoundRow(round=of_round.name, set_id=set_id, club_id=club_id, at=now))
