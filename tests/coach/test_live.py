"""What an open page is told, and what not."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime

from barwright.coach.pages.live import _changes
from barwright.live.hub import Hub
from barwright.storage.live_events import LiveEvent

NOW = datetime(2026, 3, 2, tzinfo=UTC)


def event(number: int, club: str = "clb", kind: str = "rep", **data: str) -> LiveEvent:
    return LiveEvent(number, club, "str", kind, NOW, data)


def heard(wanted: dict[str, str], kind: str, *events: LiveEvent) -> int:
    """How many of these events one page is told of."""

    async def listen() -> int:
        hub = Hub()
        changes = _changes(hub, "clb", wanted, kind)
        assert b"retry" in await anext(changes)
        hub.publish(events)
        hub.close()
        told = [one async for one in changes]
        assert hub.count() == 0  # it has left
        return sum(one.startswith(b"event: changed") for one in told)

    return asyncio.run(listen())


def test_a_page_hears_of_its_own_club_only():
    assert heard({}, "", event(1), event(2, club="other")) == 1


def test_a_page_of_one_athlete_hears_of_that_athlete_only():
    events = (event(1, athlete_id="a"), event(2, athlete_id="b"), event(3, athlete_id="a"))
    assert heard({"athlete_id": "a"}, "", *events) == 2


def test_today_hears_of_finished_sets_only():
    assert heard({}, "set_closed", event(1), event(2, kind="set_closed")) == 1


def test_no_event_carries_anything_of_anybody():
    """The page fetches itself anew with its own cookie; what goes through the stream is that something happened."""

    async def first() -> bytes:
        hub = Hub()
        changes = _changes(hub, "clb", {}, "")
        await anext(changes)
        hub.publish([event(1, athlete="Imke")])
        return await anext(changes)

    assert asyncio.run(first()) == b"event: changed\ndata: 1\n\n"
