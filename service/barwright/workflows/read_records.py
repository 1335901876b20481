"""What was done in a club, and how its analyses went."""

from __future__ import annotations

from barwright.access.caller import Caller
from barwright.storage.analysis_runs import AnalysisRun, AnalysisRunStore
from barwright.storage.audit import AuditEntry, audit_page
from barwright.workflows.parts import Parts

# Everything that is noted: code -> words for it.
DEEDS: dict[str, str] = {
    "athlete.changed": "an athlete's facts were changed; which ones, not what they say",
    "athlete.erased": "an athlete was erased",
    "athlete.exported": "everything of an athlete was handed over",
    "club.changed": "settings of the club were changed: bars, plates, caps, zones, clock",
    "coach.invited": "a coach was invited, new or known",
    "coach.removed": "a coach was taken away",
    "decision.made": "a coach decided on a load, or lifted a cap",
    "drill.changed": "a drill was added, changed or taken back",
    "key.made": "a key was made",
    "key.replaced": "a key was made in the place of another",
    "key.revoked": "a key was revoked",
    "maximum.told": "a tested maximum was told",
    "maximum.taken_back": "a tested maximum was taken back",
    "plan.made": "a plan was made",
    "plan.dropped": "a plan was taken away",
    "rep.corrected": "a person said how a rep ended, or that it does not count",
    "set.corrected": "load, lift or athlete of a set was put right",
    "webhook.made": "an address is told of events",
    "webhook.dropped": "an address is told no more",
}


def list_deeds(
    parts: Parts, caller: Caller, before: int | None, limit: int, what: str | None, subject: str | None
) -> list[AuditEntry]:
    """Who did what, the newest first."""
    with parts.database.reading() as session:
        return audit_page(session, caller.club_id, before, limit, what, subject)


def list_analyses(
    parts: Parts, caller: Caller, before: int | None, limit: int, outcome: str | None, at_least_s: float
) -> list[tuple[int, AnalysisRun]]:
    """How analyses went, the newest first, each with its number."""
    with parts.database.reading() as session:
        return AnalysisRunStore(session, caller.club_id).page(before, limit, outcome, at_least_s)
