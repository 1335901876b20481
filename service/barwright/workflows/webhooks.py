"""A club is told of what happened at addresses of its own: signed, tried again for days, then laid aside as dead."""

from __future__ import annotations

import http.client
import logging
import random
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Event, Thread
from urllib.parse import urlsplit

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.access.webhook_signature import new_secret, signature
from barwright.storage.audit import note_deed
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.webhooks import DueMessage, Message, Webhook, WebhookStore, due_messages
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.once import Retry, create_once
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

# Standard Webhooks asks for retries over days with growing pauses; each is lengthened by up to a fifth at random.
PAUSES_S = (5, 300, 1800, 7200, 18000, 36000, 50400, 72000, 86400)
TIMEOUT_S = 15.0
MOST_WEBHOOKS = 20
_AT_ONCE = 20


@dataclass(frozen=True, slots=True)
class NewWebhook:
    """A webhook with its secret, which is shown this once."""

    webhook: Webhook
    secret: str


@dataclass(frozen=True, slots=True)
class Answered:
    """What came back: a status, or why nothing did."""

    status: int | None
    error: str | None = None


def make_webhook(
    parts: Parts,
    caller: Caller,
    url: str,
    kinds: tuple[str, ...],
    retry: Retry | None,
    answer: Callable[[NewWebhook], bytes],
) -> bytes:
    """The answer to a new webhook; the same again to the same request again. Raises Cannot."""
    split = urlsplit(url)
    if split.scheme not in ("http", "https") or not split.hostname or split.username is not None:
        raise Cannot("request-invalid", f"`url` is {url[:100]!r}; it has to begin with https:// or http://.", "/url")

    def make(session: Session) -> NewWebhook:
        store = WebhookStore(session, caller.club_id)
        if len(store.all()) >= MOST_WEBHOOKS:
            raise Cannot("request-invalid", f"A club has at most {MOST_WEBHOOKS} webhooks; delete one first.")
        secret = new_secret()
        made = store.create(url, secret, kinds, parts.now())
        note_deed(session, caller, "webhook.made", made.id, parts.now(), {"host": split.hostname, "kinds": list(kinds)})
        return NewWebhook(made, secret)

    return create_once(parts, caller, retry, make, answer)


def list_webhooks(parts: Parts, caller: Caller) -> list[Webhook]:
    """Every webhook of the club."""
    with parts.database.reading() as session:
        return WebhookStore(session, caller.club_id).all()


def drop_webhook(parts: Parts, caller: Caller, webhook_id: str) -> None:
    """Forgets a webhook and its messages. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        if not WebhookStore(session, caller.club_id).delete(webhook_id):
            raise not_found("webhook", webhook_id)
        note_deed(session, caller, "webhook.dropped", webhook_id, parts.now())


def list_messages(
    parts: Parts,
    caller: Caller,
    webhook_id: str,
    state: str | None,
    after: tuple[datetime, str] | None,
    limit: int,
) -> list[Message]:
    """Messages of a webhook, the newest first; state dead: those that were given up. Raises Cannot."""
    with parts.database.reading() as session:
        store = WebhookStore(session, caller.club_id)
        if not store.has(webhook_id):
            raise not_found("webhook", webhook_id)
        return store.messages(webhook_id, state, after, limit)


def send_again(parts: Parts, caller: Caller, webhook_id: str, message_id: str) -> None:
    """A message is tried anew. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        if not WebhookStore(session, caller.club_id).send_again(webhook_id, message_id, parts.now()):
            raise not_found("message", message_id)


def send(message: DueMessage, now: datetime) -> Answered:
    """One try. Redirects are not followed and the answer's content is not read."""
    body, stamp = message.body.encode(), int(now.timestamp())
    headers = {
        "Content-Type": "application/json",
        "User-Agent": "barwright",
        "webhook-id": message.id,
        "webhook-timestamp": str(stamp),
        "webhook-signature": signature(message.secret, message.id, stamp, body),
    }
    split = urlsplit(message.url)
    assert split.hostname is not None
    try:
        if split.scheme == "https":
            connection: http.client.HTTPConnection = http.client.HTTPSConnection(
                split.hostname, split.port, timeout=TIMEOUT_S, context=ssl.create_default_context()
            )
        else:
            connection = http.client.HTTPConnection(split.hostname, split.port, timeout=TIMEOUT_S)
        try:
            connection.request("POST", split._replace(scheme="", netloc="").geturl() or "/", body, headers)
            return Answered(connection.getresponse().status)
        finally:
            connection.close()
    except (OSError, http.client.HTTPException, ValueError) as error:
        return Answered(None, f"{type(error).__name__}: {error}"[:300])


class WebhookSender:
    """A thread that sends what is due. The rows say what that is, so nothing here must survive."""

    def __init__(
        self,
        database: Database,
        now: Callable[[], datetime],
        sending: Callable[[DueMessage, datetime], Answered] = send,
        every_s: float = 1.0,
    ) -> None:
        self._database = database
        self._now = now
        self._send = sending
        self._every_s = every_s
        self._turn = database.alone("webhooks")  # of several services one sends
        self._stop = Event()
        self._thread = Thread(target=self._work, name="webhooks", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Lets the present try end."""
        self._stop.set()
        self._thread.join(TIMEOUT_S + 1)
        self._turn.give_back()

    def send_due(self) -> int:
        """Sends what is due now; how many were tried."""
        with self._database.reading() as session:
            due = due_messages(session, self._now(), _AT_ONCE)
        for message in due:
            if self._stop.is_set():
                break
            self._note(message, self._send(message, self._now()))
        return len(due)

    def _note(self, message: DueMessage, answered: Answered) -> None:
        now, status = self._now(), answered.status
        pause_s = PAUSES_S[message.attempts] if message.attempts < len(PAUSES_S) else None
        if status is not None and 200 <= status < 300:
            state, next_at = "delivered", now
        elif status == 410 or pause_s is None:
            state, next_at = "dead", now
        else:
            state, next_at = "due", now + timedelta(seconds=pause_s * random.uniform(1.0, 1.2))  # noqa: S311
        error = answered.error or (None if state == "delivered" else f"the receiver answered with status {status}")
        with self._database.writing(message.club_id) as session:
            store = WebhookStore(session, message.club_id)
            store.note(message.id, state, next_at, status, error)
            if status == 410:
                store.end(message.id, now)

    def _work(self) -> None:
        while not self._stop.wait(self._every_s):
            try:
                while self._turn.take() and self.send_due() == _AT_ONCE and not self._stop.is_set():
                    pass
            except StorageUnavailableError as error:
                log.warning("webhooks wait: %s", error)
            except Exception:  # this thread must go on: without it no webhook is sent any more
                log.exception("webhooks")
