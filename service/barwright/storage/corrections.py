"""What people said of sets and reps after the analysis; the analysis itself stays as it was."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from barwright.storage.ids import new_id
from barwright.storage.training_tables import RepCorrectionRow, SetCorrectionRow


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction. rep: index of a rep, None for the whole set. changes: member -> [before, after]."""

    rep: int | None
    changes: dict[str, list[Any]]
    reason: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class RepCorrection:
    """What holds for the rep that takes most of this time, in seconds of the stream. outcome: None leaves it."""

    start_s: float
    stop_s: float
    outcome: str | None
    excluded: bool
    reason: str

    def fits(self, start_s: float, stop_s: float) -> bool:
        """Whether a rep is this one: more than half of the longer of the two is common to both."""
        common = min(self.stop_s, stop_s) - max(self.start_s, start_s)
        return common > 0.5 * max(self.stop_s - self.start_s, stop_s - start_s)


def corrections_of(session: Session, set_ids: Iterable[str]) -> dict[str, tuple[Correction, ...]]:
    """Every correction of these sets, the oldest first. The ids are those of sets the caller may see."""
    query = select(SetCorrectionRow).where(col(SetCorrectionRow.set_id).in_(list(set_ids)))
    query = query.order_by(col(SetCorrectionRow.created_at), col(SetCorrectionRow.id))
    out: dict[str, tuple[Correction, ...]] = {}
    for row in session.exec(query):
        one = Correction(row.rep, row.changes, row.reason, row.created_at)
        out[row.set_id] = (*out.get(row.set_id, ()), one)
    return out


def rep_corrections_of(session: Session, set_ids: Iterable[str]) -> dict[str, tuple[RepCorrection, ...]]:
    """What holds for reps of these sets. The ids are those of sets the caller may see."""
    query = select(RepCorrectionRow).where(col(RepCorrectionRow.set_id).in_(list(set_ids)))
    out: dict[str, tuple[RepCorrection, ...]] = {}
    for row in session.exec(query):
        one = RepCorrection(row.start_s, row.stop_s, row.outcome, row.excluded, row.reason)
        out[row.set_id] = (*out.get(row.set_id, ()), one)
    return out


class CorrectionStore:
    """Writes corrections of the sets of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def add(self, set_id: str, correction: Correction) -> None:
        """Keeps what was corrected."""
        self._session.add(
            SetCorrectionRow(
                id=new_id("cor"),
                club_id=self._club_id,
                set_id=set_id,
                rep=correction.rep,
                changes=correction.changes,
                reason=correction.reason,
                created_at=correction.created_at,
            )
        )

    def put_rep(self, set_id: str, correction: RepCorrection, now: datetime) -> None:
        """What holds for a rep from now on, in the place of what held for it before."""
        rows = self._session.exec(select(RepCorrectionRow).where(RepCorrectionRow.set_id == set_id)).all()
        for row in rows:
            before = RepCorrection(row.start_s, row.stop_s, row.outcome, row.excluded, row.reason)
            if before.fits(correction.start_s, correction.stop_s):
                self._session.delete(row)
        self._session.flush()
        self._session.add(
            RepCorrectionRow(
                set_id=set_id,
                start_s=correction.start_s,
                stop_s=correction.stop_s,
                outcome=correction.outcome,
                excluded=correction.excluded,
                reason=correction.reason,
                created_at=now,
            )
        )

    def forget(self, athlete_id: str) -> None:
        """Takes the athlete's id out of corrections of sets that were first taken for theirs."""
        rows = self._session.exec(select(SetCorrectionRow).where(SetCorrectionRow.club_id == self._club_id))
        for row in rows:
            told = row.changes.get("athlete_id", [])
            if athlete_id in told:
                erased = [None if one == athlete_id else one for one in told]
                row.changes = {**row.changes, "athlete_id": erased}
