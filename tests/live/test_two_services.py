"""Two services and a worker on one PostgreSQL: one club served by both at once."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

import stand_in
from barsim import SimulatedRecording, simulate
from barwright.settings import Settings
from barwright.storage.worker import Pace
from barwright.worker import JoinedWorker
from barwright.workflows.live_job import run_live_job
from conftest import STREAM, imu_block
from live.follow import blocks_of
from served import Served, served

QUICK = Pace(heartbeat_s=0.5, stalled_s=2.0, upkeep_s=0.3, poll_s=0.5, pause_s=0.2)
ABOUT = {"athlete": "Imke", "device": "bar 3", "lift": "snatch", "load_kg": 60, "device_kind": "imu", "bar_axis": "+x"}


@contextmanager
def working(settings: Settings) -> Iterator[JoinedWorker]:
    """A worker in a thread of this process."""
    joined, ready = JoinedWorker(settings, stand_in.outcome_of, QUICK), threading.Event()
    thread = threading.Thread(target=joined.worker.run, args=(ready.set,), daemon=True)
    thread.start()
    assert ready.wait(10)
    try:
        yield joined
    finally:
        joined.worker.stop()
        thread.join(10)
        joined.close()


@pytest.fixture
def settings(postgres_url: str, tmp_path: Path) -> Settings:
    return Settings.from_env({"BARWRIGHT_DATABASE_URL": postgres_url}, str(tmp_path))


def serving(settings: Settings) -> Any:
    """A service whose sets are analysed by workers."""
    return served(settings, analyse=None, look=run_live_job)  # type: ignore[arg-type]


@pytest.fixture
def pair(settings: Settings) -> Iterator[tuple[Served, Served]]:
    """Two services, and a worker."""
    with serving(settings) as here, serving(settings) as there, working(settings):
        yield here, there


@pytest.fixture
def two(pair: tuple[Served, Served]) -> Iterator[tuple[httpx.Client, httpx.Client]]:
    """A client of each, with one key."""
    key = pair[0].key()
    with client(pair[0], key) as here, client(pair[1], key) as there:
        yield here, there


def client(service: Served, key: str) -> httpx.Client:
    return httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {key}"}, timeout=60)


class Hearing:
    """Events of the club at one service, in a thread, until so many of one kind have come."""

    def __init__(self, http: httpx.Client, until: str, last_id: int | None = None, many: int = 1) -> None:
        self.events: list[tuple[int, str, dict[str, Any]]] = []
        self._http, self._until, self._many = http, until, many
        self._headers = {} if last_id is None else {"Last-Event-ID": str(last_id)}
        self._open = threading.Event()
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()
        assert self._open.wait(10)

    def _listen(self) -> None:
        with self._http.stream("GET", "/v1/events", headers=self._headers) as answer:
            told: dict[str, str] = {}
            for line in answer.iter_lines():
                self._open.set()
                if line:
                    name, _, value = line.partition(": ")
                    told[name] = value
                elif "id" in told:
                    self.events.append((int(told["id"]), told["event"], json.loads(told["data"])))
                    if sum(kind == self._until for _, kind, _ in self.events) == self._many:
                        return
                    told = {}

    def all(self) -> list[tuple[int, str, dict[str, Any]]]:
        self._thread.join(30)
        assert not self._thread.is_alive(), self.events
        return self.events


@pytest.fixture(scope="module")
def two_snatches() -> SimulatedRecording:
    return simulate("snatch", seed=3, device="good", reps=2)


def documents(recording: SimulatedRecording) -> list[dict[str, Any]]:
    return [
        {"boot": one.boot, "seq": one.seq, "t_us": one.t_us.tolist()}
        | {"channels": {name: column.tolist() for name, column in one.channels.items()}}
        for one in blocks_of(recording.recording, 1.0)
    ]


def send(http: httpx.Client, stream_id: str, block: dict[str, Any]) -> None:
    answer = http.post(f"/v1/streams/{stream_id}/blocks", json=block)
    assert answer.status_code == 200, answer.text


def wait_for_looks(services: Iterable[Served], stream_id: str, block: dict[str, Any]) -> None:
    """Until the one service that follows the stream has this block, and every look that is due has been taken."""
    for _ in range(1000):
        followed = [one.parts.live._open.get(stream_id) for one in services]  # type: ignore[attr-defined]
        (run,) = [one for one in followed if one is not None] or [None]
        if run is not None and (run.run._still.newest_us or 0) >= block["t_us"][-1] and not run.busy:
            return
        time.sleep(0.01)
    raise AssertionError(f"block {block['seq']} reached nobody who follows the stream")


def test_events_cross_whichever_service_the_blocks_come_to(pair, two, two_snatches):
    here, there = two
    hearing = [Hearing(one, "set_closed") for one in two]
    stream = here.post("/v1/streams", json=ABOUT).json()
    for number, block in enumerate(documents(two_snatches)):
        send(two[number % 2], stream["id"], block)
        wait_for_looks(pair, stream["id"], block)
    closed = there.post(f"/v1/streams/{stream['id']}/close?wait=30").json()
    assert (closed["state"], closed["revision"]) == ("analysed", 1)
    heard_here, heard_there = (one.all() for one in hearing)
    assert heard_here == heard_there
    kinds = [kind for _, kind, _ in heard_here]
    assert kinds[0] == "set_opened"
    assert kinds[-1] == "set_closed"
    told = [data["rep"]["index"] for _, kind, data in heard_here if kind == "rep" and data["provisional"]]
    assert told == [0, 1]  # both reps were told while the set went on, and each once
    assert [number for number, _, _ in heard_here] == sorted({number for number, _, _ in heard_here})


def test_a_listener_goes_on_at_the_other_service_where_it_was(two):
    here, there = two
    for _ in range(3):
        stream = here.post("/v1/streams", json=STREAM).json()
        send(there, stream["id"], imu_block(0))
        here.post(f"/v1/streams/{stream['id']}/close?wait=20")
    heard: list[Any] = []
    while sum(kind == "set_closed" for _, kind, _ in heard) < 3:
        last_id = heard[-1][0] if heard else 0  # of an event that was heard at the other service
        heard += Hearing(two[len(heard) % 2], "set_closed", last_id).all()
    assert heard == Hearing(here, "set_closed", 0, many=3).all()
    assert [number for number, _, _ in heard] == sorted({number for number, _, _ in heard})


def test_one_retry_key_at_both_services_creates_one_thing(two):
    headers = {"Idempotency-Key": '"at both"'}
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda n: two[n % 2].post("/v1/streams", json=STREAM, headers=headers), range(8)))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert len(two[0].get("/v1/streams").json()["items"]) == 1


def test_the_same_block_at_both_services_is_stored_once(two):
    stream = two[0].post("/v1/streams", json=STREAM).json()["id"]
    with ThreadPoolExecutor(8) as pool:
        path = f"/v1/streams/{stream}/blocks"
        answers = list(pool.map(lambda n: two[n % 2].post(path, json=imu_block(n // 4)), range(16)))
    assert {answer.status_code for answer in answers} == {200}
    assert sum(answer.json()["stored"] for answer in answers) == 4


def test_a_set_goes_on_live_when_the_service_that_followed_it_stops(settings, two_snatches):
    blocks = documents(two_snatches)
    with ExitStack() as left, serving(settings) as there, working(settings):
        here = left.enter_context(serving(settings))
        key = here.key()
        with client(there, key) as other:
            hearing = Hearing(other, "set_closed")
            with client(here, key) as one:
                stream = one.post("/v1/streams", json=ABOUT).json()["id"]
                for block in blocks[: len(blocks) // 2]:
                    send(one, stream, block)
                    wait_for_looks([here, there], stream, block)
            assert here.parts.live.count() == 1
            left.close()
            for block in blocks[len(blocks) // 2 :]:
                send(other, stream, block)
                wait_for_looks([there], stream, block)
            assert there.parts.live.count() == 1
            other.post(f"/v1/streams/{stream}/close?wait=30")
            told = [data["rep"]["index"] for _, kind, data in hearing.all() if kind == "rep" and data["provisional"]]
    assert told == [0, 1]
