"""Answers kept for requests that may be sent again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, delete, select

from barwright.storage.tables import AnswerRow

KEPT_FOR = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """What was answered, and to which payload."""

    payload_digest: str
    body: bytes


class AnswerStore:
    """Answers of one club by Idempotency-Key."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def find(self, key: str, now: datetime) -> KeptAnswer | None:
        """The answer kept under this key, unless it is older than KEPT_FOR."""
        row = self._session.exec(
            select(AnswerRow)
            .where(AnswerRow.club_id == self._club_id)
            .where(AnswerRow.key == key)
            .where(AnswerRow.created_at > now - KEPT_FOR)
        ).first()
        return None if row is None else KeptAnswer(row.payload_digest, row.body)

    def keep(self, key: str, answer: KeptAnswer, now: datetime) -> None:
        """Keeps an answer and drops those of every club that have grown too old."""
        self._session.exec(delete(AnswerRow).where(col(AnswerRow.created_at) <= now - KEPT_FOR))
        self._session.add(
            AnswerRow(
                club_id=self._club_id,
                key=key,
                payload_digest=answer.payload_digest,
                body=answer.body,
                created_at=now,
            )
        )
