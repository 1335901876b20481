"""The hub: bounded for every listener, and honest about what it could not hold."""

from __future__ import annotations

import asyncio
import threading
from dataclasses import dataclass

import pytest

from barwright.live.hub import Closed, Hub, Lost


@dataclass(frozen=True)
class Told:
    id: int
    club_id: str = "club"
    stream_id: str = "str"


def test_a_listener_hears_its_own_club_and_stream_only() -> None:
    async def scene() -> list[int]:
        hub = Hub()
        one, every = hub.listen("club", "str"), hub.listen("club")
        hub.publish([Told(1), Told(2, stream_id="other"), Told(3, club_id="strangers")])
        first = [(await one.next(0.01)), (await one.next(0.01))]
        assert first[1] is None
        return [first[0].id, (await every.next(0.01)).id, (await every.next(0.01)).id]

    assert asyncio.run(scene()) == [1, 1, 2]


def test_a_slow_listener_sees_a_gap_in_its_place_and_nothing_grows() -> None:
    async def scene() -> None:
        hub = Hub()
        slow, quick = hub.listen("club", most=3), hub.listen("club", most=100)
        hub.publish(Told(n) for n in range(1, 51))
        assert len(slow._waiting) == 3
        heard = [await slow.next(0.01) for _ in range(4)]
        assert [one.id for one in heard[:3]] == [1, 2, 3]
        assert heard[3] == Lost(47, 4, 50)
        hub.publish([Told(51)])
        assert (await slow.next(0.01)).id == 51
        assert [(await quick.next(0.01)).id for _ in range(51)] == list(range(1, 52))

    asyncio.run(scene())


def test_events_come_from_other_threads_in_order() -> None:
    async def scene() -> list[int]:
        hub = Hub()
        listener = hub.listen("club", most=2000)
        thread = threading.Thread(target=lambda: [hub.publish([Told(n)]) for n in range(1000)])
        thread.start()
        heard = [(await listener.next(5.0)).id for _ in range(1000)]
        thread.join()
        return heard

    assert asyncio.run(scene()) == list(range(1000))


def test_a_hub_that_closes_lets_everybody_go() -> None:
    async def scene() -> None:
        hub = Hub()
        early = hub.listen("club")
        hub.publish([Told(1)])
        hub.close()
        late = hub.listen("club")
        assert (await early.next(1.0)).id == 1
        for listener in (early, late):
            with pytest.raises(Closed):
                await listener.next(1.0)
        hub.leave(early)
        hub.leave(late)
        assert hub.count() == 0

    asyncio.run(scene())


def test_a_listener_whose_loop_has_ended_harms_nobody() -> None:
    hub = Hub()

    async def scene() -> None:
        hub.listen("club")

    asyncio.run(scene())
    hub.publish([Told(1)])
