"""Athletes of one club."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, delete, select

from barwright.storage.corrections import CorrectionStore
from barwright.storage.ids import new_id
from barwright.storage.names import unique_name
from barwright.storage.tables import AnswerRow, AthleteRow, SetRow, StreamRow


@dataclass(frozen=True, slots=True)
class AthleteFacts:
    """What a coach tells about an athlete; everything but the name may stay unknown.

    consent_on: the day on which the athlete, or a guardian, agreed that samples and results are kept. guardian_note:
    who may decide for a minor, and how they are reached.
    """

    name: str
    birth_year: int | None = None
    sex: str | None = None
    body_mass_kg: float | None = None
    stature_m: float | None = None
    level: str | None = None
    consent_on: date | None = None
    guardian_note: str | None = None


@dataclass(frozen=True, slots=True)
class Athlete:
    """One athlete.

    changed: a mark drawn at random, in the same transaction, with every change of their points, maxima, plans and
    beliefs, by whatever process; None before any. Read in one moment with such rows it is the mark of just these. None
    comes twice, not even after a backup was put back.
    """

    id: str
    facts: AthleteFacts
    created_at: datetime
    changed: str | None


class AthleteStore:
    """Reads and writes the athletes of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, facts: AthleteFacts, now: datetime) -> Athlete:
        """A new athlete. Raises NameTakenError."""
        row = AthleteRow(id=new_id("ath"), club_id=self._club_id, created_at=now, **asdict(facts))
        with unique_name(self._session, "an athlete", facts.name):
            self._session.add(row)
        return _athlete(row)

    def get(self, athlete_id: str) -> Athlete | None:
        """The athlete with this id."""
        row = self._row(athlete_id)
        return None if row is None else _athlete(row)

    def by_name(self, name: str) -> Athlete | None:
        """The athlete with exactly this name."""
        row = self._session.exec(
            select(AthleteRow).where(AthleteRow.club_id == self._club_id).where(AthleteRow.name == name)
        ).first()
        return None if row is None else _athlete(row)

    def page(self, after: str | None, limit: int) -> list[Athlete]:
        """At most `limit` athletes in order of name, those after the name `after`."""
        query = select(AthleteRow).where(AthleteRow.club_id == self._club_id).order_by(col(AthleteRow.name))
        if after is not None:
            query = query.where(AthleteRow.name > after)
        return [_athlete(row) for row in self._session.exec(query.limit(limit))]

    def all(self) -> list[Athlete]:
        """Every athlete in order of name."""
        query = select(AthleteRow).where(AthleteRow.club_id == self._club_id).order_by(col(AthleteRow.name))
        return [_athlete(row) for row in self._session.exec(query)]

    def change(self, athlete_id: str, changes: dict[str, Any]) -> Athlete | None:
        """Sets the named facts. Raises NameTakenError."""
        row = self._row(athlete_id)
        if row is None:
            return None
        with unique_name(self._session, "an athlete", changes.get("name", row.name)):
            row.sqlmodel_update(changes)
        return _athlete(row)

    def erase(self, athlete_id: str) -> int | None:
        """Deletes the athlete, all streams, sets and saved answers; answers how many of the last. None: there is none.

        The raw objects of the streams are for the caller to delete.
        """
        row = self._row(athlete_id)
        if row is None:
            return None
        of_athlete = StreamRow.athlete_id == athlete_id
        ids = [athlete_id, *self._session.exec(select(StreamRow.id).where(of_athlete))]
        ids += self._session.exec(select(SetRow.id).where(SetRow.athlete_id == athlete_id))
        names = [json.dumps(row.name, ensure_ascii=ascii_only) for ascii_only in (True, False)]
        answers = self._forget_answers([one.encode() for one in (*ids, *names)])
        CorrectionStore(self._session, self._club_id).forget(athlete_id)
        self._session.exec(delete(AthleteRow).where(col(AthleteRow.id) == athlete_id))
        return answers

    def _forget_answers(self, traces: list[bytes]) -> int:
        rows = self._session.exec(select(AnswerRow).where(AnswerRow.club_id == self._club_id))
        told = [row for row in rows if any(one in row.body for one in traces)]
        for row in told:
            self._session.delete(row)
        return len(told)

    def _row(self, athlete_id: str) -> AthleteRow | None:
        return self._session.exec(
            select(AthleteRow).where(AthleteRow.club_id == self._club_id).where(AthleteRow.id == athlete_id)
        ).first()


def _athlete(row: AthleteRow) -> Athlete:
    facts = AthleteFacts(
        row.name,
        row.birth_year,
        row.sex,
        row.body_mass_kg,
        row.stature_m,
        row.level,
        row.consent_on,
        row.guardian_note,
    )
    return Athlete(row.id, facts, row.created_at, row.changed)
