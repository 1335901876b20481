"""Raw samples that a club's policy makes smaller or drops: which are due, and what is kept of the change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, exists, select

from barwright.storage.erasures import doom
from barwright.storage.keeping_tables import ThinnedRow
from barwright.storage.raw_objects import StoredObject
from barwright.storage.tables import BlockBodyRow, ClubRow, SetRow, StreamRow
from barwright.storage.training_tables import ClubSettingsRow

PACKED, AROUND_REPS, DROPPED = "packed", "around_reps", "dropped"
_DONE = ("analysed", "failed")


@dataclass(frozen=True, slots=True)
class Thinned:
    """What became of the raw samples of a stream. note: a sentence for whoever reads the set; empty for none."""

    form: str
    facts: dict[str, Any]
    note: str


@dataclass(frozen=True, slots=True)
class DueStream:
    """A closed stream with its finished set, whose raw samples the policy is about."""

    stream_id: str
    set_id: str
    raw: StoredObject


def clubs_with_settings(session: Session) -> list[str]:
    """Clubs that told anything at all of themselves."""
    return list(session.exec(select(ClubSettingsRow.club_id).join(ClubRow, col(ClubRow.id) == ClubSettingsRow.club_id)))


class ThinStore:
    """Raw samples of the streams of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def due(self, before: datetime, drop: bool, after: str, limit: int) -> list[DueStream]:
        """Streams that began before then, in order of their ids, those after one: to be dropped, or not yet thinned."""
        query = select(StreamRow.id, SetRow.id, StreamRow.raw_object, StreamRow.raw_digest)
        query = query.join(SetRow, col(SetRow.stream_id) == col(StreamRow.id))
        query = query.where(StreamRow.club_id == self._club_id, col(SetRow.state).in_(_DONE))
        query = query.where(StreamRow.started_at < before, StreamRow.id > after)
        query = query.where(col(StreamRow.raw_object).is_not(None))
        query = query.where(~exists().where(col(BlockBodyRow.stream_id) == col(StreamRow.id)))
        if not drop:
            query = query.where(col(StreamRow.id).not_in(select(ThinnedRow.stream_id)))
        rows = self._session.exec(query.order_by(col(StreamRow.id)).limit(limit))
        return [
            DueStream(stream, lift_set, StoredObject(name or "", digest or ""))
            for stream, lift_set, name, digest in rows
        ]

    def of(self, stream_id: str) -> Thinned | None:
        """What became of a stream's raw samples; None when they are as they came."""
        query = select(ThinnedRow).where(ThinnedRow.club_id == self._club_id, ThinnedRow.stream_id == stream_id)
        row = self._session.exec(query).first()
        return None if row is None else Thinned(row.form, row.facts, row.facts.get("note", ""))

    def replace(self, due: DueStream, now_kept: StoredObject | None, thinned: Thinned, now: datetime) -> bool:
        """Puts another object, or none, in the place of a stream's; False when it is not as it was found any more."""
        query = select(StreamRow).where(StreamRow.club_id == self._club_id, StreamRow.id == due.stream_id)
        row = self._session.exec(query.with_for_update().execution_options(populate_existing=True)).first()
        found = self._session.exec(select(SetRow).where(SetRow.id == due.set_id)).first()
        if row is None or found is None or found.state not in _DONE or row.raw_object != due.raw.name:
            return False
        if now_kept != due.raw:
            doom(self._session, [due.raw.name], now)
        row.raw_object, row.raw_digest = (None, None) if now_kept is None else (now_kept.name, now_kept.digest)
        facts = {**thinned.facts, "note": thinned.note}
        self._session.merge(
            ThinnedRow(stream_id=due.stream_id, club_id=self._club_id, form=thinned.form, facts=facts, at=now)
        )
        if thinned.note:
            before = self._session.get(ThinnedRow, due.stream_id)
            said = set() if before is None else {before.facts.get("note")}
            found.notes = [*(one for one in found.notes if one not in said), thinned.note]
        return True
