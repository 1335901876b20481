"""What happened, from any point on: how a listener that was away catches up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from barwright.access.caller import Caller
from barwright.storage.live_events import EventStore, LiveEvent, drop_events_before
from barwright.storage.sessions import Database
from barwright.workflows.parts import Parts
from barwright.workflows.receive_block import find_stream

AT_ONCE = 200
KEPT_FOR = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class CatchUp:
    """events: the next ones, AT_ONCE at most. expired: some before them are no longer kept."""

    events: tuple[LiveEvent, ...]
    expired: bool


def check_stream(parts: Parts, caller: Caller, stream_id: str) -> None:
    """Raises Cannot when the club has no such stream."""
    with parts.database.reading() as session:
        find_stream(session, caller, stream_id)


def newest_event(parts: Parts, caller: Caller) -> int:
    """The id after which a listener that just came hears everything new."""
    with parts.database.reading() as session:
        return EventStore(session, caller.club_id).newest_id()


def catch_up(parts: Parts, caller: Caller, stream_id: str | None, last_id: int) -> CatchUp:
    """Events after an id, of one stream or of the whole club."""
    with parts.database.reading() as session:
        store = EventStore(session, caller.club_id)
        events = tuple(store.after(last_id, AT_ONCE, stream_id))
        oldest = store.oldest_id() if last_id > 0 and stream_id is None else 0
    return CatchUp(events, 0 < last_id < oldest)


def event_readers(database: Database) -> tuple[Callable[[str, int], list[LiveEvent]], Callable[[str], int]]:
    """(events of a club after an id, the newest id of a club), for a hub that reads what it is told of."""

    def after(club_id: str, last_id: int) -> list[LiveEvent]:
        with database.reading() as session:
            return EventStore(session, club_id).after(last_id, AT_ONCE)

    def newest(club_id: str) -> int:
        with database.reading() as session:
            return EventStore(session, club_id).newest_id()

    return after, newest


def drop_old_events(parts: Parts) -> None:
    """Forgets events nobody is going to ask for again."""
    with parts.database.writing() as session:
        drop_events_before(session, parts.now() - KEPT_FOR)
