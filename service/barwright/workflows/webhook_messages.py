"""What happened as messages to a club's webhooks."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlmodel import Session

from barwright.storage.live_events import LiveEvent
from barwright.storage.webhooks import WebhookStore

EVENT_KINDS = ("set_closed", "stop_advised")  # of the events of streams, those that webhooks may be told of


def enqueue_events(session: Session, club_id: str, events: list[LiveEvent], now: datetime) -> None:
    """Messages of events that have just been kept in this session: both are kept, or neither is."""
    for event in events:
        if event.kind in EVENT_KINDS:
            enqueue_message(session, club_id, event.kind, event.at, {"event_id": event.id, **event.data}, now)


def enqueue_message(
    session: Session, club_id: str, kind: str, at: datetime, data: dict[str, Any], now: datetime
) -> None:
    """A message about the athlete `data` names, to every webhook that wants this kind; kept with the session."""
    told = {"type": kind, "timestamp": at.isoformat(), "data": data}
    body = json.dumps(told, ensure_ascii=False, allow_nan=False)
    WebhookStore(session, club_id).enqueue(kind, data["athlete_id"], body, now)
