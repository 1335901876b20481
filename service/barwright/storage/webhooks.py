"""Webhooks of one club, and the messages that are due to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select, tuple_, update

from barwright.storage.ids import new_id
from barwright.storage.live_tables import DeliveryRow, WebhookRow


@dataclass(frozen=True, slots=True)
class Webhook:
    """Where to tell of which kinds of events. ended_at: the receiver said it is gone (410)."""

    id: str
    url: str
    kinds: tuple[str, ...]
    created_at: datetime
    ended_at: datetime | None


@dataclass(frozen=True, slots=True)
class Message:
    """One message. state: due, delivered or dead. status: of the last answer; error: why the last try failed."""

    id: str
    kind: str
    state: str
    attempts: int
    created_at: datetime
    next_at: datetime
    status: int | None
    error: str | None


@dataclass(frozen=True, slots=True)
class DueMessage:
    """A message that is to be sent now, to whom, and signed with what."""

    id: str
    club_id: str
    url: str
    secret: str
    body: str
    attempts: int


class WebhookStore:
    """Reads and writes the webhooks of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, url: str, secret: str, kinds: Sequence[str], now: datetime) -> Webhook:
        """A new webhook."""
        row = WebhookRow(
            id=new_id("whk"), club_id=self._club_id, url=url, secret=secret, kinds=list(kinds), created_at=now
        )
        self._session.add(row)
        return _webhook(row)

    def all(self) -> list[Webhook]:
        """Every webhook of the club, the oldest first."""
        query = select(WebhookRow).where(WebhookRow.club_id == self._club_id)
        rows = self._session.exec(query.order_by(col(WebhookRow.created_at), col(WebhookRow.id)))
        return [_webhook(row) for row in rows]

    def delete(self, webhook_id: str) -> bool:
        """Forgets a webhook and its messages; False when there is none."""
        row = self._row(webhook_id)
        if row is not None:
            self._session.delete(row)
        return row is not None

    def has(self, webhook_id: str) -> bool:
        """Whether the club has it."""
        return self._row(webhook_id) is not None

    def wanting(self, kind: str) -> list[Webhook]:
        """The webhooks of the club that are told of this kind."""
        return [one for one in self.all() if one.ended_at is None and kind in one.kinds]

    def enqueue(self, kind: str, athlete_id: str, body: str, now: datetime) -> int:
        """One message to every webhook of the club that wants this kind; how many."""
        wanted = self.wanting(kind)
        for one in wanted:
            self._session.add(
                DeliveryRow(
                    id=new_id("msg"), club_id=self._club_id, webhook_id=one.id, athlete_id=athlete_id, kind=kind,
                    body=body, state="due", created_at=now, next_at=now,
                )
            )  # fmt: skip
        return len(wanted)

    def messages(
        self, webhook_id: str, state: str | None, after: tuple[datetime, str] | None, limit: int
    ) -> list[Message]:
        """At most `limit` messages of a webhook, the newest first, those behind (created_at, id) `after`."""
        query = select(DeliveryRow).where(DeliveryRow.club_id == self._club_id)
        query = query.where(DeliveryRow.webhook_id == webhook_id)
        if state is not None:
            query = query.where(DeliveryRow.state == state)
        if after is not None:
            query = query.where(tuple_(col(DeliveryRow.created_at), col(DeliveryRow.id)) < after)
        query = query.order_by(col(DeliveryRow.created_at).desc(), col(DeliveryRow.id).desc()).limit(limit)
        return [_message(row) for row in self._session.exec(query)]

    def send_again(self, webhook_id: str, message_id: str, now: datetime) -> bool:
        """A message is due anew, from the first try on; False when there is none."""
        query = select(DeliveryRow).where(DeliveryRow.club_id == self._club_id, DeliveryRow.id == message_id)
        row = self._session.exec(query.where(DeliveryRow.webhook_id == webhook_id)).first()
        if row is None:
            return False
        row.state, row.attempts, row.next_at = "due", 0, now
        return True

    def note(self, message_id: str, state: str, next_at: datetime, status: int | None, error: str | None) -> None:
        """What came of a try; of a message that was erased meanwhile nothing is left to note."""
        this = update(DeliveryRow).where(col(DeliveryRow.club_id) == self._club_id, col(DeliveryRow.id) == message_id)
        tried = col(DeliveryRow.attempts) + 1
        self._session.exec(this.values(state=state, next_at=next_at, status=status, error=error, attempts=tried))

    def end(self, message_id: str, now: datetime) -> None:
        """The receiver of this message is gone for good."""
        query = select(WebhookRow).join(DeliveryRow, col(DeliveryRow.webhook_id) == col(WebhookRow.id))
        query = query.where(WebhookRow.club_id == self._club_id, DeliveryRow.id == message_id)
        row = self._session.exec(query).first()
        if row is not None:
            row.ended_at = now

    def _row(self, webhook_id: str) -> WebhookRow | None:
        query = select(WebhookRow).where(WebhookRow.club_id == self._club_id, WebhookRow.id == webhook_id)
        return self._session.exec(query).first()


def due_messages(session: Session, now: datetime, limit: int) -> list[DueMessage]:
    """Messages of any club that are to be sent now, the longest overdue first."""
    query = select(DeliveryRow, WebhookRow).join(WebhookRow, col(WebhookRow.id) == col(DeliveryRow.webhook_id))
    query = query.where(DeliveryRow.state == "due", col(DeliveryRow.next_at) <= now, col(WebhookRow.ended_at).is_(None))
    rows = session.exec(query.order_by(col(DeliveryRow.next_at)).limit(limit))
    return [DueMessage(one.id, one.club_id, hook.url, hook.secret, one.body, one.attempts) for one, hook in rows]


def _webhook(row: WebhookRow) -> Webhook:
    return Webhook(row.id, row.url, tuple(row.kinds), row.created_at, row.ended_at)


def _message(row: DeliveryRow) -> Message:
    return Message(
        row.id, row.kind, row.state, row.attempts, row.created_at, row.next_at, row.status, row.error
    )  # fmt: skip
