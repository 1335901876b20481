"""Durable ingest: blocks of 1000 x 6 through the service, beside a process that only commits the same blobs."""

from __future__ import annotations

import json
import selectors
import socket
import sqlite3
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import cbor2
import numpy as np
from websockets.sync.client import connect

from barwright.ingest.block import IMU_CHANNELS
from bench.tables import Table
from bench.work import Bench
from contract.servers import Server, run

SENDERS, BLOCKS, ROUNDS = 16, 24, 7
ABOUT = {"device_kind": "imu", "lift": "snatch", "load_kg": 60}


@dataclass(frozen=True, slots=True)
class Round:
    """Blocks a second: through the service by many senders, by one, and committed alone one by one."""

    many: float
    one: float
    socket: float
    alone: float


def ingest(_: Bench) -> list[Table]:
    """The rate of blocks stored and acknowledged, and its share of what the disk and SQLite alone give."""
    with tempfile.TemporaryDirectory() as folder:
        key = run("new-key", "--data", folder, "--club", "Bench").stdout.strip()
        server = Server(Path(folder))
        try:
            rounds = [_round(server, key, Path(folder), n) for n in range(ROUNDS)]
        finally:
            server.stop()
    many, one, held, alone = (np.array([getattr(r, name) for r in rounds]) for name in Round.__slots__)
    share = float(np.median(many / alone))
    rows = (
        (f"{SENDERS} senders over HTTP", *_cells(many, alone)),
        ("one sender, one WebSocket, 16 blocks on their way", *_cells(held, alone)),
        ("one sender over HTTP, one block at a time", *_cells(one, alone)),
        ("the same blobs committed alone, one by one", *_cells(alone, alone)),
    )
    notes = (
        f"{ROUNDS} rounds, each in turn through the service and alone, on the same file with the same settings "
        "(WAL, synchronous FULL); medians, and the range of rounds.",
        f"Share of {SENDERS} senders: {share:.2f} (>= 0.5 is aimed at: {'met' if share >= 0.5 else 'NOT met'}).",
    )
    return [Table("Durable ingest: CBOR blocks of 1000 x 6", ("way", "blocks/s", "share of alone"), rows, notes)]


def _cells(rates: np.ndarray, alone: np.ndarray) -> tuple[str, str]:
    shares = rates / alone
    return f"{np.median(rates):.0f}", f"{np.median(shares):.2f} ({shares.min():.2f}-{shares.max():.2f})"


def _round(server: Server, key: str, folder: Path, number: int) -> Round:
    print(f"ingest: round {number + 1} of {ROUNDS}", file=sys.stderr, flush=True)
    with server.client(key) as http:
        streams = [
            http.post("/v1/streams", json={**ABOUT, "athlete": f"A{n}", "device": f"D{n}"}).json()["id"]
            for n in range(SENDERS + 2)
        ]
    bodies = [_body(seq, number) for seq in range(BLOCKS)]
    many = _over_http(server, key, streams[:SENDERS], bodies)
    one = _over_http(server, key, streams[-1:], bodies)
    held = _over_one_socket(server, key, streams[-2], bodies)
    return Round(many, one, held, _alone(folder / "barwright.db", many_of=SENDERS * BLOCKS))


def _body(seq: int, seed: int) -> bytes:
    """Noise on a grid, as a sensor tells it, in float32; even steps."""
    rng = np.random.default_rng((seed, seq))
    channels = {name: cbor2.CBORTag(85, np.round(rng.normal(0, 1, 1000), 3).astype("<f4").tobytes())
                for name in IMU_CHANNELS}  # fmt: skip
    return cbor2.dumps({"boot": "b1", "seq": seq, "t0_us": seq * 1_000_000, "dt_us": 1000, "channels": channels})


def _over_http(server: Server, key: str, streams: list[str], bodies: list[bytes]) -> float:
    """Every stream's blocks over a connection of its own, each block after the answer to the one before."""
    port = int(server.url.rpartition(":")[2])
    wait = selectors.DefaultSelector()
    for stream in streams:
        line = socket.create_connection(("127.0.0.1", port))
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        head = f"POST /v1/streams/{stream}/blocks HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer {key}\r\n"
        head += "Content-Type: application/cbor\r\nContent-Length: "
        left = [f"{head}{len(body)}\r\n\r\n".encode() + body for body in bodies[::-1]]
        wait.register(line, selectors.EVENT_READ, left)
    begun, stored = time.perf_counter(), 0
    for ready in list(wait.get_map().values()):
        ready.fileobj.sendall(ready.data.pop())
    while wait.get_map():
        for ready, _ in wait.select(60):
            answer = _answer(ready.fileobj)
            assert answer.startswith(b"HTTP/1.1 200"), answer
            assert b'"stored":true' in answer, answer
            stored += 1
            if ready.data:
                ready.fileobj.sendall(ready.data.pop())
            else:
                wait.unregister(ready.fileobj)
                ready.fileobj.close()
    return stored / (time.perf_counter() - begun)


def _answer(line: socket.socket) -> bytes:
    answer = line.recv(65536)
    while not answer.endswith(b"}"):  # head and body come one after the other
        answer += line.recv(65536)
    return answer


def _over_one_socket(server: Server, key: str, stream: str, bodies: list[bytes]) -> float:
    address = f"{server.url.replace('http', 'ws')}/v1/streams/{stream}/live"
    with connect(address, additional_headers={"Authorization": f"Bearer {key}"}, compression=None) as line:
        credit = json.loads(line.recv())["credit"]
        begun = time.perf_counter()
        for sent, body in enumerate(bodies):
            if sent >= credit:
                assert json.loads(line.recv())["type"] == "ack"
            line.send(body)
        for _ in range(min(credit, len(bodies))):
            assert json.loads(line.recv())["stored"]
        return len(bodies) / (time.perf_counter() - begun)


def _alone(file: Path, many_of: int) -> float:
    """Blobs as the service stored them, each committed by itself to the same file."""
    database = sqlite3.connect(file, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "secure_delete=ON"):
        database.execute("PRAGMA " + pragma)
    blobs = [
        row[0] for row in database.execute("SELECT body FROM block_body ORDER BY block_id DESC LIMIT ?", [many_of])
    ]
    database.execute("CREATE TABLE IF NOT EXISTS alone (id INTEGER PRIMARY KEY, body BLOB)")
    begun = time.perf_counter()
    for blob in blobs:
        database.execute("BEGIN IMMEDIATE")
        database.execute("INSERT INTO alone (body) VALUES (?)", (blob,))
        database.execute("COMMIT")
    rate = len(blobs) / (time.perf_counter() - begun)
    database.close()
    return rate
