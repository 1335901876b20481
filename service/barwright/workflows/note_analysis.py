"""What an analysis came to and how long it took, kept with its result."""

from __future__ import annotations

from sqlmodel import Session

from barwright.analysis.reps.results import SetAnalysis
from barwright.storage.analysis_runs import AnalysisRun, AnalysisRunStore
from barwright.workflows.analysis_job import Broken, Outcome, Unusable
from barwright.workflows.parts import Parts

DAMAGED = "raw-damaged"


def told_of(outcome: Outcome) -> tuple[str, str | None]:
    """(outcome, reason code): analysed, unusable because of the samples, or failed of its own fault."""
    if isinstance(outcome, SetAnalysis):
        return "analysed", None
    if isinstance(outcome, Unusable):
        return ("failed" if outcome.code == DAMAGED else "unusable"), outcome.code
    assert isinstance(outcome, Broken)
    return "failed", "analysis-killed" if outcome.killed else "analysis-broken"


def note_analysis(
    parts: Parts, session: Session, club_id: str, set_id: str, samples: int, outcome: Outcome, seconds: float
) -> None:
    """Kept with the result, in the session that keeps it; the watch is told too."""
    said, reason_code = told_of(outcome)
    run = AnalysisRun(set_id, parts.now(), round(seconds, 6), samples, said, reason_code)
    AnalysisRunStore(session, club_id).add(run)
    parts.watch.analysed(seconds, said, reason_code)
