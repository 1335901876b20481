"""Blocks in, events out: the real service on a port, the real analysis, the client of the SDK."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from sqlmodel import select

from barsim import SimulatedRecording, simulate
from barwright.access.scopes import Scope
from barwright.ingest.block import Block
from barwright.settings import Settings
from barwright.storage.live_tables import DeliveryRow
from barwright_client import Event, NotFound
from documented import webhook_misfits
from live.follow import blocks_of
from served import Served, served

ABOUT = {"athlete": "Imke", "device": "bar 3", "lift": "snatch", "load_kg": 60, "device_kind": "imu", "bar_axis": "+x"}


@pytest.fixture(scope="module")
def two_snatches() -> SimulatedRecording:
    return simulate("snatch", seed=3, device="good", reps=2)


@pytest.fixture
def service(settings: Settings) -> Iterator[Served]:
    with served(settings) as running:
        yield running


def document(block: Block) -> dict[str, Any]:
    channels = {name: column.tolist() for name, column in block.channels.items()}
    return {"boot": block.boot, "seq": block.seq, "t_us": block.t_us.tolist(), "channels": channels}


def begin(service: Served, **more: Any) -> tuple[httpx.Client, dict[str, Any]]:
    http = httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"}, timeout=60)
    answer = http.post("/v1/streams", json={**ABOUT, **more})
    assert answer.status_code == 201, answer.text
    return http, answer.json()


def send(http: httpx.Client, stream: dict[str, Any], blocks: list[Block]) -> None:
    for block in blocks:
        answer = http.post(f"/v1/streams/{stream['id']}/blocks", json=document(block))
        assert answer.status_code == 200, answer.text


def wait_for_looks(service: Served) -> None:
    """Until every stored block is followed and every look that is due has been taken."""
    live = service.parts.live
    live._news.join()  # type: ignore[attr-defined]
    while any(one.busy for one in list(live._open.values())):  # type: ignore[attr-defined]
        threading.Event().wait(0.02)


def send_slowly(service: Served, http: httpx.Client, stream: dict[str, Any], blocks: list[Block]) -> None:
    """As a lifter would, but for waiting: a block comes when the looks before it are taken."""
    for block in blocks:
        send(http, stream, [block])
        wait_for_looks(service)


def test_reps_are_told_while_the_set_goes_on_and_the_set_agrees(service: Served, two_snatches) -> None:
    http, stream = begin(service)
    watching = service.client(Scope.RESULTS_READ)
    events: list[Event] = []
    watcher = threading.Thread(target=lambda: events.extend(watching.events(stream["id"])))
    watcher.start()
    send_slowly(service, http, stream, blocks_of(two_snatches.recording))
    open_set = http.get(f"/v1/sets/{stream['set_id']}").json()
    assert open_set["state"] == "open"
    http.post(f"/v1/streams/{stream['id']}/close?wait=30")
    watcher.join(30)
    kinds = [event.kind for event in events]
    assert kinds[0] == "set_opened"
    assert kinds[-1] == "set_closed"
    told = [event for event in events if event.kind == "rep"]
    assert [event.rep.index for event in told] == [0, 1]
    assert all(event.provisional for event in told)
    ids = [event.id for event in events]
    assert ids == sorted(set(ids))
    final = http.get(f"/v1/sets/{stream['set_id']}").json()
    assert [rep["outcome"] for rep in final["reps"]] == ["made", "made"]
    last_told: dict[int, dict[str, Any]] = {}
    for event in events:
        if event.kind in ("rep", "rep_corrected"):
            last_told[event.data["rep"]["index"]] = event.data["rep"]
    assert [last_told[n] for n in (0, 1)] == final["reps"]
    assert events[-1].data["made"] == 2
    assert events[-1].data["revision"] == final["revision"] == 1


def test_a_listener_that_comes_late_or_again_misses_nothing(settings: Settings, two_snatches) -> None:
    blocks = blocks_of(two_snatches.recording)
    half = len(blocks) // 2
    with served(settings) as service:
        http, stream = begin(service)
        send_slowly(service, http, stream, blocks[:half])
        feed = service.client().events(stream["id"])
        first = [next(feed), next(feed)]
        assert [event.kind for event in first] == ["set_opened", "rep"]
        feed.close()
    with served(settings) as service:  # the service stopped in mid-set and came back
        http = httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"}, timeout=60)
        send_slowly(service, http, stream, blocks[half:])
        http.post(f"/v1/streams/{stream['id']}/close?wait=30")
        rest = list(service.client().events(stream["id"], last_id=first[-1].id))
        everything = list(service.client().events(stream["id"]))
    assert [event.id for event in everything] == [event.id for event in first + rest]
    told = [event.data["rep"]["index"] for event in everything if event.kind == "rep"]
    assert told == [0, 1]


def test_the_club_feed_has_every_stream_and_no_other_club(service: Served) -> None:
    feed = service.client().events()
    first: list[Event] = []
    watcher = threading.Thread(target=lambda: first.append(next(feed)))
    watcher.start()
    while not service.parts.hub.count():
        threading.Event().wait(0.01)
    strangers = httpx.Client(
        base_url=service.url, headers={"Authorization": f"Bearer {service.key(club='Somebody else')}"}
    )
    quiet = blocks_of(simulate("snatch", seed=3, device="hobby").recording)[:1]
    for http in (strangers, httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"})):
        stream = http.post("/v1/streams", json=ABOUT).json()
        send(http, stream, quiet)
    watcher.join(10)
    assert [event.stream_id for event in first] == [stream["id"]]


def test_another_clubs_stream_is_not_there(service: Served) -> None:
    _, stream = begin(service)
    stranger = service.client(club="Somebody else")
    with pytest.raises(NotFound):
        next(iter(stranger.events(stream["id"])))


def test_a_stop_is_advised_at_the_limit_that_was_asked_for(service: Served) -> None:
    """The simulator's lifter slows down by drawn amounts; a limit of 1 % is passed by some later rep."""
    http, stream = begin(service, lift="back_squat", velocity_loss=1)
    http.post("/v1/webhooks", json={"url": "http://127.0.0.1:9/hook", "kinds": ["stop_advised", "set_closed"]})
    squats = simulate("back_squat", seed=304, device="good", reps=4).recording
    send_slowly(service, http, stream, blocks_of(squats))
    http.post(f"/v1/streams/{stream['id']}/close?wait=30")
    events = list(service.client().events(stream["id"]))
    advice = [event for event in events if event.kind == "stop_advised"]
    assert len(advice) == 1
    assert advice[0].data["loss"]["value"] >= 1
    assert advice[0].data["limit_from"] == "asked"
    assert "fastest" in advice[0].data["words"]
    at = [event.kind for event in events].index("stop_advised")
    assert events[at - 1].kind in ("rep", "rep_corrected")
    with service.parts.database.reading() as session:
        told = [json.loads(row.body) for row in session.exec(select(DeliveryRow))]
    assert {one["type"] for one in told} == {"stop_advised", "set_closed"}
    assert [found for one in told for found in webhook_misfits(one["type"], one)] == []


def test_a_set_nobody_follows_any_more_takes_no_memory(service: Served, two_snatches) -> None:
    http, stream = begin(service)
    send(http, stream, blocks_of(two_snatches.recording)[:8])
    wait_for_looks(service)
    assert service.parts.live.count() == 1  # type: ignore[attr-defined]
    http.post(f"/v1/streams/{stream['id']}/close?wait=30")
    assert service.parts.live.count() == 0  # type: ignore[attr-defined]
