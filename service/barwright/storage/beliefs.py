"""What the days so far say of each athlete and lift, kept so that an answer need not look at years."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, Text, cast, col, delete, func, insert, select

from barwright.storage.tables import METADATA
from barwright.storage.training_tables import BeliefRow

_KEPT = 3  # of those that pass: the days before today, those up to today, and one for a look back
_TABLE = METADATA.tables["belief"]


@dataclass(frozen=True, slots=True)
class StoredBelief:
    """The belief after the day `until`. method: what made it. document: JSON text, as the analysis told it."""

    until: date
    method: str
    document: str


class BeliefStore:
    """Reads and writes the beliefs of one club, and of no other. methods: whose beliefs count; others are forgotten."""

    def __init__(self, session: Session, club_id: str, methods: Sequence[str]) -> None:
        self._session = session
        self._club_id = club_id
        self._methods = tuple(methods)

    def before(self, pairs: Iterable[tuple[str, str]], day: date) -> dict[tuple[str, str], StoredBelief]:
        """(athlete id, lift) -> the newest belief from before a day; one query."""
        wanted = set(pairs)
        if not wanted:
            return {}
        # The newest of each through the index alone: `put` leaves no row of other methods beside those that count.
        newest = select(_TABLE.c.athlete_id, _TABLE.c.lift, func.max(_TABLE.c.until).label("until"))
        newest = newest.where(_TABLE.c.athlete_id.in_({who for who, _ in wanted}), _TABLE.c.until < day)
        newest = newest.where(_TABLE.c.lift.in_({lift for _, lift in wanted}))
        which = newest.group_by(_TABLE.c.athlete_id, _TABLE.c.lift).subquery()
        columns: list[Any] = [_TABLE.c[name] for name in ("athlete_id", "lift", "until", "method")]
        columns.append(cast(_TABLE.c.document, Text))
        query = select(*columns)
        query = query.join(
            which,
            (which.c.athlete_id == _TABLE.c.athlete_id)
            & (which.c.lift == _TABLE.c.lift)
            & (which.c.until == _TABLE.c.until),
        )
        query = query.where(_TABLE.c.club_id == self._club_id, _TABLE.c.method.in_(self._methods))
        rows = self._session.connection().execute(query)
        found = {(row[0], row[1]): StoredBelief(row[2], row[3], row[4]) for row in rows.fetchall()}
        return {pair: found[pair] for pair in found.keys() & wanted}

    def put(self, beliefs: Mapping[tuple[str, str], Sequence[StoredBelief]], passing: str) -> None:
        """Keeps beliefs of (athlete id, lift); of those made by the method `passing` only the newest few."""
        connection = self._session.connection()
        for (athlete_id, lift), told in beliefs.items():
            own = (_TABLE.c.club_id == self._club_id) & (_TABLE.c.athlete_id == athlete_id) & (_TABLE.c.lift == lift)
            again = _TABLE.c.until.in_([one.until for one in told])
            connection.execute(delete(BeliefRow).where(own & (again | _TABLE.c.method.not_in(self._methods))))
            place = {"club_id": self._club_id, "athlete_id": athlete_id, "lift": lift}
            rows = [{**place, "until": x.until, "method": x.method, "document": json.loads(x.document)} for x in told]
            connection.execute(insert(BeliefRow), rows)
            past = select(_TABLE.c.until).where(own, _TABLE.c.method == passing).order_by(_TABLE.c.until.desc())
            old = [row[0] for row in connection.execute(past.offset(_KEPT))]
            if old:
                connection.execute(delete(BeliefRow).where(own & _TABLE.c.until.in_(old)))


def forget_beliefs(session: Session, athlete_id: str, lift: str, since: date) -> None:
    """Something changed on that day: beliefs that have seen it are no longer true. The athlete is the caller's."""
    gone = delete(BeliefRow).where(col(BeliefRow.athlete_id) == athlete_id).where(col(BeliefRow.lift) == lift)
    session.exec(gone.where(col(BeliefRow.until) >= since))
