"""How each analysis of a club went: how long it took, and what came of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from barwright.storage.record_tables import AnalysisRunRow


@dataclass(frozen=True, slots=True)
class AnalysisRun:
    """One analysis. outcome: analysed, unusable (the samples do not allow one) or failed (of its own fault)."""

    set_id: str
    ended_at: datetime
    seconds: float
    samples: int
    outcome: str
    reason_code: str | None


class AnalysisRunStore:
    """Reads and adds the runs of one club."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def add(self, run: AnalysisRun) -> None:
        """One more."""
        self._session.add(AnalysisRunRow(club_id=self._club_id, **asdict(run)))

    def page(
        self, before: int | None, limit: int, outcome: str | None, at_least_s: float
    ) -> list[tuple[int, AnalysisRun]]:
        """At most `limit` runs with their numbers, the newest first; with one outcome, or any."""
        query = select(AnalysisRunRow).where(AnalysisRunRow.club_id == self._club_id)
        if at_least_s > 0:
            query = query.where(col(AnalysisRunRow.seconds) >= at_least_s)
        if before is not None:
            query = query.where(col(AnalysisRunRow.id) < before)
        if outcome is not None:
            query = query.where(AnalysisRunRow.outcome == outcome)
        rows = self._session.exec(query.order_by(col(AnalysisRunRow.id).desc()).limit(limit))
        return [(row.id or 0, _run(row)) for row in rows]


def _run(row: AnalysisRunRow) -> AnalysisRun:
    return AnalysisRun(row.set_id, row.ended_at, row.seconds, row.samples, row.outcome, row.reason_code)
