"""Events as messages to a club's webhooks."""

from __future__ import annotations

import json
from datetime import datetime

from sqlmodel import Session

from barwright.storage.live_events import LiveEvent
from barwright.storage.webhooks import WebhookStore

KINDS = ("set_closed", "stop_advised")


def enqueue_events(session: Session, club_id: str, events: list[LiveEvent], now: datetime) -> None:
    """Messages of events that have just been kept in this session: both are kept, or neither is."""
    for event in events:
        if event.kind in KINDS:
            told = {"type": event.kind, "timestamp": event.at.isoformat(), "data": {"event_id": event.id, **event.data}}
            body = json.dumps(told, ensure_ascii=False, allow_nan=False)
            WebhookStore(session, club_id).enqueue(event.kind, event.data["athlete_id"], body, now)
