"""A service on a small disk that fills up and has room again. Needs root: it mounts a tmpfs."""

from __future__ import annotations

import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from bench.kills import _good, _recordings
from bench.tables import Table
from bench.work import Bench
from contract.servers import Server, run

SIZE_MB = 90  # the service refuses blocks below 64 MiB of room for files that take none
FIRST, WHILE_FULL = 2, 4


def full_disk(_bench: Bench) -> list[Table]:
    """What a sender is told, and what is left."""
    with tempfile.TemporaryDirectory() as folder, _small_disk(Path(folder)):
        data = Path(folder) / "data"
        key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
        server = Server(data)
        with server.client(key) as client:
            told = _through_it_all(client, Path(folder))
        stopped = server.stop()
        verdict = run("verify", "--data", data)
    rows = (
        *((what, ", ".join(f"{number} x {answer}" for answer, number in counts.items())) for what, counts in told),
        ("the service ends in order", str(stopped == 0)),
        ("verify", f"exit code {verdict.returncode}: {verdict.stdout.strip().splitlines()[-1]}"),
    )
    notes = (f"A tmpfs of {SIZE_MB} MB; a file fills it to the last byte, and is deleted again.",)
    return [
        Table(
            "A disk that is full",
            ("while", "answers to blocks, or states of sets"),
            rows,
            notes,
        )
    ]


def _through_it_all(client: httpx.Client, disk: Path) -> list[tuple[str, Counter[str]]]:
    told: list[tuple[str, Counter[str]]] = []
    sets: list[str] = []
    open_streams = [_begin(client, number) for number in range(FIRST + WHILE_FULL)]
    told.append(("there is room", _send(client, open_streams[:FIRST], sets)))
    # Streams that are closed while the disk is full: their sets cannot be kept.
    waiting = open_streams[FIRST : FIRST + 2]
    _send(client, waiting, sets, close=False)
    _fill(disk)
    for stream in waiting:
        answer = client.post(f"/v1/streams/{stream['id']}/close")
        told.append(("full: closing", Counter([_said(answer)])))
    told.append(("full", _send(client, open_streams[FIRST + 2 : FIRST + WHILE_FULL], sets)))
    told.append(("full: ready?", Counter([_said(client.get("/healthz/ready"))])))
    told.append(("full: reading", Counter([_said(client.get("/v1/sets"))])))
    (disk / "filler").unlink()
    told.append(("room again", _send(client, open_streams[FIRST : FIRST + WHILE_FULL], sets)))
    deadline = time.monotonic() + 120
    states: Counter[str] = Counter()
    while time.monotonic() < deadline:
        states = Counter(client.get(f"/v1/sets/{one}").json()["state"] for one in sorted(set(sets)))
        if states["analysing"] == 0:
            break
        time.sleep(1)
    told.append(("in the end, sets", states))
    return told


def _begin(client: httpx.Client, number: int) -> dict[str, Any]:
    told = {"athlete": "Imke", "device": "bar 1", "lift": "snatch", "load_kg": 60 + number, "bar_axis": "+x"}
    units = {"accel": "[g]", "gyro": "deg/s"}
    made: dict[str, Any] = _good(
        client.post("/v1/streams", json={**told, "units": units, "started_at": "2026-03-01T17:00:00Z"})
    )
    return made


def _send(client: httpx.Client, streams: list[dict[str, Any]], sets: list[str], close: bool = True) -> Counter[str]:
    answers: Counter[str] = Counter()
    for stream in streams:
        for block in _recordings()[0]:
            answers[_said(client.post(f"/v1/streams/{stream['id']}/blocks", json=block))] += 1
        if close:
            closed = client.post(f"/v1/streams/{stream['id']}/close")
            if closed.is_success:
                sets.append(closed.json()["set_id"])
    return answers


def _said(answer: httpx.Response) -> str:
    if answer.is_success:
        return str(answer.status_code)
    again = answer.headers.get("retry-after")
    return f"{answer.status_code} {answer.json()['code']}" + (f" (Retry-After {again})" if again else "")


def _fill(disk: Path) -> None:
    with (disk / "filler").open("wb", buffering=0) as file:
        size = 1 << 20
        while size:
            try:
                file.write(bytes(size))
            except OSError:
                size //= 2


@contextmanager
def _small_disk(folder: Path) -> Iterator[None]:
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE_MB}m", "tmpfs", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)
