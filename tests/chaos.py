"""Sets sent to services while services, workers and the database are killed; and what is left of them afterwards."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from barsim import EncoderKind, simulate
from barwright.access.scopes import ALL_SCOPES
from barwright.ingest.block import Block, unpack_many
from barwright.settings import Settings
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database
from barwright.storage.streams import StreamStore
from barwright.workflows.manage_keys import issue_key, who_calls
from barwright.workflows.parts import utc_now
from live.follow import blocks_of
from postgres import Postgres
from served import CLUB

READY = re.compile(r"serving on (http://\S+?),|working with")
TELLING = ("state", "method", "quality", "notes", "reps", "lift", "load", "reason_code")  # of a set, but for ids, times
ABOUT = {"athlete": "Imke", "device": "string 1", "lift": "back_squat", "load_kg": 100, "device_kind": "encoder"}


class Running:
    """`barwright serve` or `barwright work` in a process of its own."""

    def __init__(self, url: str, folder: Path, *command: str) -> None:
        self._env = {**os.environ, "BARWRIGHT_DATABASE_URL": url, "OPENBLAS_NUM_THREADS": "1"}
        self._command = [sys.executable, "-m", "barwright", *command, "--data", str(folder)]
        self.address = ""
        self.log: list[str] = []
        self.start()

    def start(self) -> None:
        """Begins; wait_until_ready() tells when it is there."""
        self._ready = threading.Event()
        self._process = subprocess.Popen(self._command, stderr=subprocess.PIPE, text=True, env=self._env)
        threading.Thread(target=self._read, args=(self._process,), daemon=True).start()

    def wait_until_ready(self) -> None:
        """One that ended by itself is started again, as whoever looks after services would, but not for ever."""
        for _ in range(5):
            while not self._ready.wait(0.1):
                if self._process.poll() is not None:
                    self.start()
                    break
            else:
                return
        raise AssertionError("".join(self.log[-20:]))

    def wait_until_settled(self) -> None:
        """What it works out after its start is done: minutes where rows of many clubs were copied in."""
        while not any("settled in" in line for line in self.log):
            assert self.is_running(), "".join(self.log[-20:])
            time.sleep(0.2)

    def kill(self) -> None:
        """No goodbye."""
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()

    def stop(self) -> None:
        """In order."""
        self._process.send_signal(signal.SIGTERM)
        try:
            self._process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            self.kill()

    def is_running(self) -> bool:
        """Whether it has not ended by itself."""
        return self._process.poll() is None

    def is_ready(self) -> bool:
        """Whether it has come up and has not ended since."""
        return self._ready.is_set() and self.is_running()

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stderr is not None
        for line in process.stderr:
            self.log.append(line)
            found = READY.search(line)
            if found:
                self.address = found[1] or ""
                self._ready.set()


@dataclass(frozen=True, slots=True)
class Sent:
    """A stream whose every block and closing was acknowledged. recording: which one it was."""

    stream_id: str
    set_id: str
    recording: int


@dataclass(frozen=True, slots=True)
class Aftermath:
    """What came of it. lost: acknowledged blocks that are gone; revisions: how often sets were analysed -> sets;
    different: sets whose results are not those of an undisturbed run; kills: what was killed how often; killed_at: how
    many sets were in at each kill.
    """

    sets: int
    blocks: int
    lost: int
    revisions: dict[int, int]
    different: int
    kills: dict[str, int]
    killed_at: tuple[int, ...]
    seconds: float
    tries_again: int


def recordings(count: int) -> list[list[Block]]:
    """Recordings of a string encoder, in blocks of a second."""
    told = [simulate("back_squat", seed=70 + n, device=None, encoder=EncoderKind(), reps=2) for n in range(count)]
    return [blocks_of(one.recording, 1.0) for one in told]


def as_json(block: Block, boot: str) -> dict[str, Any]:
    """As a sender tells it."""
    channels = {name: column.tolist() for name, column in block.channels.items()}
    return {"boot": boot, "seq": block.seq, "t_us": block.t_us.tolist(), "channels": channels}


@dataclass
class Sender:
    """Sends whole sets, and everything again until it is acknowledged, to whichever service answers."""

    addresses: Callable[[], list[str]]
    key: str
    blocks: Sequence[Sequence[Block]]
    tries_again: int = 0
    sets_in: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def send(self, number: int) -> Sent:
        """One set."""
        recording = number % len(self.blocks)
        with httpx.Client(headers={"Authorization": f"Bearer {self.key}"}, timeout=20) as http:
            stream = self._post(http, number, "/v1/streams", ABOUT, {"Idempotency-Key": f'"set {number}"'})
            for block in self.blocks[recording]:
                self._post(http, number, f"/v1/streams/{stream['id']}/blocks", as_json(block, "b1"), {})
            closed = self._post(http, number, f"/v1/streams/{stream['id']}/close", {}, {})
        with self._lock:
            self.sets_in += 1
        return Sent(stream["id"], closed["set_id"], recording)

    def _post(self, http: httpx.Client, number: int, path: str, body: dict[str, Any], headers: dict[str, str]) -> Any:
        give_up_at, tries = time.monotonic() + 120, number
        while time.monotonic() < give_up_at:
            addresses = [one for one in self.addresses() if one]
            try:
                answer = http.post(addresses[tries % len(addresses)] + path, json=body, headers=headers)
                if answer.status_code in (200, 201):
                    return answer.json()
                assert answer.status_code in (429, 500, 503, 507), answer.text
                why = answer.text
            except (httpx.TransportError, ZeroDivisionError) as error:
                why = repr(error)
            tries += 1
            with self._lock:
                self.tries_again += 1
            time.sleep(0.1)
        raise AssertionError(f"{path} was never acknowledged: {why}")


def undisturbed(service: Any, blocks: Sequence[Sequence[Block]]) -> list[dict[str, Any]]:
    """What a service nobody disturbs makes of the same recordings; service: of conftest, with the real analysis."""
    out = []
    for one in blocks:
        stream = service.client.post("/v1/streams", json=ABOUT).json()
        for block in one:
            answer = service.client.post(f"/v1/streams/{stream['id']}/blocks", json=as_json(block, "b1"))
            assert answer.status_code == 200, answer.text
        closed = service.client.post(f"/v1/streams/{stream['id']}/close?wait=60").json()
        out.append(telling(service.client.get(f"/v1/sets/{closed['set_id']}").json()))
    return out


def telling(lift_set: dict[str, Any]) -> dict[str, Any]:
    """What the analysis says of a set."""
    return {name: lift_set[name] for name in TELLING if name in lift_set}


class Chaos:
    """Two services and two workers on one database, some of which are killed now and then."""

    def __init__(self, database: Postgres, url: str, folder: Path, seed: int, services: int = 2, workers: int = 2):
        self._database, self._url, self._folder = database, url, folder
        self._random = random.Random(seed)
        self.services = [Running(url, folder, "serve", "--port", "0") for _ in range(services)]
        self.workers = [Running(url, folder, "work") for _ in range(workers)]
        for one in (*self.services, *self.workers):
            one.wait_until_ready()
        self.kills: Counter[str] = Counter()
        self._killed_at: list[int] = []
        self._sets_in: Callable[[], int] = lambda: 0

    def run(
        self, sets: int, blocks: Sequence[Sequence[Block]], expected: Sequence[dict[str, Any]], kill: Killing
    ) -> Aftermath:
        """Sends so many sets, four at a time, while kill() is at work; then looks at what is there."""
        database = Database(self._url)
        key = issue_key(database, CLUB, ALL_SCOPES, utc_now())
        sender = Sender(lambda: [one.address for one in self.services], key, blocks)
        self._sets_in = lambda: sender.sets_in
        begun, over = time.monotonic(), threading.Event()
        with ThreadPoolExecutor(4) as pool, ThreadPoolExecutor(1) as alone:
            killer = alone.submit(kill, self, over)
            try:
                sent = list(pool.map(sender.send, range(sets)))
            finally:
                over.set()
            killer.result()  # it did not stop killing for a trouble of its own
        club_id = self._club(database, key)
        found = self._wait_until_analysed(key, sent)
        seconds = time.monotonic() - begun
        lost = sum(self._lost(database, club_id, one, blocks[one.recording]) for one in sent)
        database.close()
        return Aftermath(
            sets=len({one.set_id for one in sent}),
            blocks=sum(len(blocks[one.recording]) for one in sent),
            lost=lost,
            revisions=dict(Counter(one["revision"] for one in found)),
            different=sum(telling(one) != expected[s.recording] for one, s in zip(found, sent, strict=True)),
            kills=dict(self.kills),
            killed_at=tuple(self._killed_at),
            seconds=seconds,
            tries_again=sender.tries_again,
        )

    def kill_one(self, kind: str, pause_s: float = 0.3) -> None:
        """Kills a service, a worker or the database, and starts it again."""
        self.kills[kind] += 1
        self._killed_at.append(self._sets_in())
        if kind == "database":
            self._database.kill()
            time.sleep(pause_s)
            self._database.start_again()
            return
        one = self._random.choice(self.services if kind == "service" else self.workers)
        one.kill()
        time.sleep(pause_s)
        one.start()

    def start_what_ended(self) -> None:
        """As whoever looks after services would: one that waits for the database ends after a while."""
        for one in (*self.services, *self.workers):
            if not one.is_running():
                print(f"chaos: ended by itself: {''.join(one.log[-1:]).strip()}", file=sys.stderr, flush=True)
                one.start()

    def at_random(self, every_sets: int) -> Killing:
        """One of the three, a while after so many more sets have come in: on a slow machine as on a quick one.

        Not before a service has come up, or on a machine that is slow to start one none ever would.
        """

        def killing(chaos: Chaos, over: threading.Event) -> None:
            due = 0
            while not over.wait(self._random.uniform(0.1, 3.0)):
                chaos.start_what_ended()
                if self._sets_in() >= due and any(one.is_ready() for one in chaos.services):
                    chaos.kill_one(self._random.choice(("service", "worker", "database")))
                    due = self._sets_in() + self._random.randint(1, 2 * every_sets - 1)

        return killing

    def close(self) -> None:
        """Stops everything that still runs."""
        for one in (*self.workers, *self.services):
            if one.is_running():
                one.stop()

    def _club(self, database: Database, key: str) -> str:
        caller = who_calls(database, key, utc_now())
        assert caller is not None
        return caller.club_id

    def _wait_until_analysed(self, key: str, sent: Sequence[Sent], patience_s: float = 180.0) -> list[dict[str, Any]]:
        for one in (*self.services, *self.workers):
            one.wait_until_ready()
        give_up_at = time.monotonic() + patience_s
        with httpx.Client(base_url=self.services[0].address, headers={"Authorization": f"Bearer {key}"}) as http:
            found: dict[str, dict[str, Any]] = {}
            while len(found) < len(sent) and time.monotonic() < give_up_at:
                for one in sent:
                    if one.set_id not in found:
                        lift_set = http.get(f"/v1/sets/{one.set_id}").json()
                        if lift_set["state"] != "analysing":
                            found[one.set_id] = lift_set
                time.sleep(0.2)
        assert len(found) == len(sent), f"{len(sent) - len(found)} sets were never analysed"
        return [found[one.set_id] for one in sent]

    def _lost(self, database: Database, club_id: str, sent: Sent, blocks: Sequence[Block]) -> int:
        raw = open_raw(Settings.from_env({}, str(self._folder)).raw)
        with database.reading() as session:
            stream = StreamStore(session, club_id).get(sent.stream_id)
        assert stream is not None
        stored = {} if stream.raw is None else {one.seq: one.digest() for one in unpack_many(raw.get(stream.raw))}
        return sum(stored.get(one.seq) != one.digest() for one in blocks)


Killing = Callable[[Chaos, threading.Event], None]
