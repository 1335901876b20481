"""Who did what in a club: added to, never changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from barwright.access.caller import Caller
from barwright.access.current_request import REQUEST_ID
from barwright.storage.coach_tables import CoachRow
from barwright.storage.record_tables import AuditRow
from barwright.storage.tables import ApiKeyRow

OPERATOR = "operator"  # the one who runs commands on the machine


@dataclass(frozen=True, slots=True)
class AuditEntry:
    """One thing somebody did. by: id of a key or a coach, or `operator`; by_name: how they are called now, if still.

    subject: id of what it was done to. details: what exactly; ids and figures, no athlete's name.
    """

    id: int
    at: datetime
    by: str
    by_name: str | None
    what: str
    subject: str | None
    details: dict[str, Any]
    request_id: str | None


def note_deed(
    session: Session,
    caller: Caller,
    what: str,
    subject: str | None,
    now: datetime,
    details: Mapping[str, Any] | None = None,
) -> None:
    """Notes in the transaction of the deed itself that it was done: both are kept, or neither."""
    session.add(
        AuditRow(
            club_id=caller.club_id,
            at=now,
            by=caller.key_id,
            what=what,
            subject=subject,
            details=dict(details or {}),
            request_id=REQUEST_ID.get(),
        )
    )


def audit_page(
    session: Session,
    club_id: str,
    before: int | None,
    limit: int,
    what: str | None = None,
    subject: str | None = None,
) -> list[AuditEntry]:
    """At most `limit` entries of a club, the newest first, those before number `before`; of one kind or one subject."""
    query = (
        select(AuditRow, ApiKeyRow.label, CoachRow.name)
        .join(ApiKeyRow, col(ApiKeyRow.id) == col(AuditRow.by), isouter=True)
        .join(CoachRow, col(CoachRow.id) == col(AuditRow.by), isouter=True)
        .where(AuditRow.club_id == club_id)
    )
    if before is not None:
        query = query.where(col(AuditRow.id) < before)
    if what is not None:
        query = query.where(AuditRow.what == what)
    if subject is not None:
        query = query.where(AuditRow.subject == subject)
    found = session.exec(query.order_by(col(AuditRow.id).desc()).limit(limit))
    return [
        AuditEntry(row.id or 0, row.at, row.by, label or name, row.what, row.subject, row.details, row.request_id)
        for row, label, name in found
    ]
