"""What the days so far say of each athlete and lift, kept so that today's answer need not look at years."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col, delete, func, select

from barwright.storage.tables import METADATA
from barwright.storage.training_tables import BeliefRow

_KEPT = 3  # the days before today, those up to today, and one for a look back
_TABLE = METADATA.tables["belief"]


@dataclass(frozen=True, slots=True)
class StoredBelief:
    """The belief after the day `until`. method: what made it. document: JSON, as the analysis told it."""

    until: date
    method: str
    document: dict[str, Any]


class BeliefStore:
    """Reads and writes the beliefs of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def before(self, athlete_ids: Iterable[str], day: date) -> dict[tuple[str, str], StoredBelief]:
        """(athlete id, lift) -> the newest belief from before a day; one query."""
        newest = select(_TABLE.c.athlete_id, _TABLE.c.lift, func.max(_TABLE.c.until).label("until"))
        newest = newest.where(_TABLE.c.club_id == self._club_id, _TABLE.c.until < day)
        newest = newest.where(_TABLE.c.athlete_id.in_(set(athlete_ids)))
        which = newest.group_by(_TABLE.c.athlete_id, _TABLE.c.lift).subquery()
        query = select(*(_TABLE.c[name] for name in ("athlete_id", "lift", "until", "method", "document")))
        query = query.join(
            which,
            (which.c.athlete_id == _TABLE.c.athlete_id)
            & (which.c.lift == _TABLE.c.lift)
            & (which.c.until == _TABLE.c.until),
        )
        rows = self._session.connection().execute(query)
        return {(row[0], row[1]): StoredBelief(row[2], row[3], row[4]) for row in rows}

    def put(self, athlete_id: str, lift: str, belief: StoredBelief) -> None:
        """Keeps a belief, and only the newest few of its athlete and lift."""
        row = BeliefRow(
            athlete_id=athlete_id,
            lift=lift,
            until=belief.until,
            club_id=self._club_id,
            method=belief.method,
            document=belief.document,
        )
        self._session.merge(row)
        self._session.flush()
        query = select(BeliefRow).where(BeliefRow.club_id == self._club_id, BeliefRow.athlete_id == athlete_id)
        query = query.where(BeliefRow.lift == lift).order_by(col(BeliefRow.until).desc())
        for old in self._session.exec(query.offset(_KEPT)).all():
            self._session.delete(old)


def forget_beliefs(session: Session, athlete_id: str, lift: str, since: date) -> None:
    """Something changed on that day: beliefs that have seen it are no longer true. The athlete is the caller's."""
    gone = delete(BeliefRow).where(col(BeliefRow.athlete_id) == athlete_id).where(col(BeliefRow.lift) == lift)
    session.exec(gone.where(col(BeliefRow.until) >= since))
