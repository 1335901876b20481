"""Who did what in a club: added to, never changed.

What is never changed outlives an erasure, so athletes stand in it as digests of their ids: those of an athlete who is
there are told as the id again, those of one who was erased say nothing, but to whoever kept the id.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from barwright.access.caller import Caller
from barwright.access.current_request import REQUEST_ID
from barwright.storage.coach_tables import CoachRow
from barwright.storage.record_tables import AuditRow
from barwright.storage.tables import ApiKeyRow, AthleteRow

OPERATOR = "operator"  # the one who runs commands on the machine


@dataclass(frozen=True, slots=True)
class AuditEntry:
    """One thing somebody did. by: id of a key or a coach, or `operator`; by_name: how they are called now, if still.

    subject: id of what it was done to; `ath-` and a digest for an athlete who was erased. details: what exactly.
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
            subject=_masked(subject),
            details=_masked(dict(details or {})),
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
        query = query.where(AuditRow.subject == _masked(subject))
    found = session.exec(query.order_by(col(AuditRow.id).desc()).limit(limit))
    ids = {_masked(one): one for one in session.exec(select(AthleteRow.id).where(AthleteRow.club_id == club_id))}
    return [
        AuditEntry(
            row.id or 0,
            row.at,
            row.by,
            label or name,
            row.what,
            _told(row.subject, ids),
            _told(row.details, ids),
            row.request_id,
        )
        for row, label, name in found
    ]


def _masked(value: Any) -> Any:
    """Ids of athletes as digests, wherever they stand. The ids are random: nobody finds one from its digest."""
    if isinstance(value, str) and value.startswith("ath_"):
        return "ath-" + hashlib.sha256(value.encode()).hexdigest()[:24]
    return _each(value, _masked)


def _told(value: Any, ids: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return ids.get(value, value)
    return _each(value, lambda one: _told(one, ids))


def _each(value: Any, change: Callable[[Any], Any]) -> Any:
    if isinstance(value, dict):
        return {name: change(one) for name, one in value.items()}
    return [change(one) for one in value] if isinstance(value, list | tuple) else value
