"""The service killed at random while sets come in: is all there that was acknowledged, analysed once, and the same?"""

from __future__ import annotations

import json
import random
import sqlite3
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from bench.tables import Table
from bench.work import Bench
from contract.servers import Server, run

SETS, SENDERS, SEED = 500, 3, 20261125
BETWEEN_KILLS_S = (0.5, 8.0)  # after the service is ready again
LIMIT_S = 420.0
_RECORDING = Path(__file__).parents[2] / "sample_streams" / "imke_snatch_60_blocks.json"


@dataclass
class Sent:
    """What the senders were told. acknowledged: (stream, seq) of blocks. sets: id -> the recording it is of."""

    left: list[int]
    lock: threading.Lock = field(default_factory=threading.Lock)
    acknowledged: set[tuple[str, int]] = field(default_factory=set)
    sets: dict[str, int] = field(default_factory=dict)
    tried: int = 0

    def next(self) -> int | None:
        """The number of a set that nobody has sent yet."""
        with self.lock:
            return self.left.pop() if self.left else None


def kills(_bench: Bench) -> list[Table]:
    """SQLite; PostgreSQL has a table of its own."""
    recordings = _recordings()
    with tempfile.TemporaryDirectory() as folder:
        undisturbed = _undisturbed(Path(folder) / "undisturbed", recordings)
        data = Path(folder) / "killed"
        sent, deaths, seconds = _disturbed(data, recordings)
        problems = _problems(data, sent, undisturbed)
        verdict = run("verify", "--data", data)
        said = verdict.stdout.strip().splitlines()[-1]
    rows = (
        ("sets sent and closed", str(len(sent.sets))),
        ("blocks acknowledged", str(len(sent.acknowledged))),
        ("kill -9 of the service", str(deaths)),
        ("requests that met a dead service and were sent again", str(sent.tried)),
        ("acknowledged blocks that are missing", str(problems["block missing"])),
        ("sets that are there twice", str(problems["set twice"])),
        ("sets not analysed, or not exactly once", str(problems["not once"])),
        ("sets whose results are not those of an undisturbed run", str(problems["other results"])),
        ("verify", f"exit code {verdict.returncode}: {said}"),
        ("seconds", f"{seconds:.0f}"),
    )
    notes = (
        f"{SENDERS} senders, each block sent again until it is acknowledged; the service is killed from",
        f"{BETWEEN_KILLS_S[0]:g} to {BETWEEN_KILLS_S[1]:g} s after it is ready, and started again; seed {SEED}.",
    )
    return [Table("The service killed while sets come in (SQLite)", ("", "found"), rows, notes)]


def _recordings() -> list[list[dict[str, Any]]]:
    """Three recordings: whole, one that ends early, one with a block that never came."""
    blocks = json.loads(_RECORDING.read_text())["blocks"]
    return [blocks, blocks[:-2], [one for one in blocks if one["seq"] != 1]]


def _undisturbed(data: Path, recordings: list[list[dict[str, Any]]]) -> list[str]:
    """The results of each recording from a service that nobody kills."""
    key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
    server, sent = Server(data), Sent([])
    with server.client(key) as client:
        for number in range(len(recordings)):
            _send(client, number, recordings, sent)
    wait_until_done(data)
    server.stop()
    found = results_of(data)
    by_recording = {recording: found[set_id] for set_id, recording in sent.sets.items()}
    return [by_recording[number] for number in range(len(recordings))]


def _disturbed(data: Path, recordings: list[list[dict[str, Any]]]) -> tuple[Sent, int, float]:
    chance = random.Random(SEED)
    key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
    sent = Sent(list(range(SETS)))
    place = {"server": Server(data)}
    began, deaths = time.monotonic(), 0
    senders = [threading.Thread(target=_sender, args=(place, key, recordings, sent)) for _ in range(SENDERS)]
    for one in senders:
        one.start()
    while any(one.is_alive() for one in senders):
        time.sleep(chance.uniform(*BETWEEN_KILLS_S))
        if time.monotonic() - began < LIMIT_S:
            place["server"].kill()
            deaths += 1
            place["server"] = Server(data)
            print(f"{deaths} kills, {len(sent.sets)} sets", file=sys.stderr, flush=True)
    for one in senders:
        one.join()
    for _ in range(3):  # and while only analyses are left
        place["server"].kill()
        deaths += 1
        place["server"] = Server(data)
        time.sleep(chance.uniform(0.2, 1.5))
    wait_until_done(data)
    place["server"].stop()
    return sent, deaths, time.monotonic() - began


def _sender(place: dict[str, Server], key: str, recordings: list[list[dict[str, Any]]], sent: Sent) -> None:
    while (number := sent.next()) is not None:
        while True:
            try:
                with place["server"].client(key) as client:
                    _send(client, number, recordings, sent)
                break
            except (httpx.TransportError, json.JSONDecodeError):
                with sent.lock:
                    sent.tried += 1
                time.sleep(0.05)


def _send(client: httpx.Client, number: int, recordings: list[list[dict[str, Any]]], sent: Sent) -> None:
    """One set, all of it once more after every death: what is known already is only acknowledged again."""
    told = {
        "athlete": f"Lifter {number % 20}",
        "device": f"bar {number % 5}",
        "lift": "snatch",
        "load_kg": 60,
        "started_at": f"2026-03-{1 + number % 28:02}T17:{number // 28 % 60:02}:00Z",
        "units": {"accel": "[g]", "gyro": "deg/s"},
        "bar_axis": "+x",
    }
    made = _good(client.post("/v1/streams", json=told, headers={"Idempotency-Key": f"set-{number}"}))
    for block in recordings[number % len(recordings)]:
        _good(client.post(f"/v1/streams/{made['id']}/blocks", json=block))
        with sent.lock:
            sent.acknowledged.add((made["id"], block["seq"]))
    closed = _good(client.post(f"/v1/streams/{made['id']}/close"))
    with sent.lock:
        sent.sets[closed["set_id"]] = number % len(recordings)


def _good(answer: httpx.Response) -> Any:
    if answer.status_code == 429 or answer.status_code >= 500:
        raise httpx.ReadError(f"{answer.status_code}: {answer.text[:200]}")
    assert answer.is_success, answer.text
    return answer.json()


def wait_until_done(data: Path) -> None:
    unfinished, deadline = 1, time.monotonic() + LIMIT_S
    while unfinished:
        assert time.monotonic() < deadline, f"{unfinished} sets are never finished"
        time.sleep(0.2)
        with closing(sqlite3.connect(data / "barwright.db")) as database:
            (unfinished,) = database.execute("SELECT count(*) FROM lift_set WHERE state='analysing'").fetchone()


def results_of(data: Path) -> dict[str, str]:
    """All that was found, by set, without what differs between two sets of one recording by right."""
    with closing(sqlite3.connect(data / "barwright.db")) as database:
        found = {}
        for set_id, *facts in database.execute("SELECT id, state, revision, method, quality, notes FROM lift_set"):
            reps = database.execute(
                "SELECT `index`, outcome, start_s, stop_s, measures, phases, path_measures, notes, hex(path) FROM rep "
                "WHERE set_id=? ORDER BY `index`",
                (set_id,),
            ).fetchall()
            found[set_id] = json.dumps([facts, reps])
        return found


def _problems(data: Path, sent: Sent, undisturbed: list[str]) -> Counter[str]:
    problems: Counter[str] = Counter()
    found = results_of(data)
    with closing(sqlite3.connect(data / "barwright.db")) as database:
        there = set(database.execute("SELECT stream_id, seq FROM block"))
        problems["block missing"] = len(sent.acknowledged - there)
        problems["set twice"] = len(found) - SETS
        states = database.execute("SELECT state, revision FROM lift_set").fetchall()
        problems["not once"] = sum(state != "analysed" or revision != 1 for state, revision in states)
    problems["other results"] = sum(found.get(set_id) != undisturbed[number] for set_id, number in sent.sets.items())
    return problems
