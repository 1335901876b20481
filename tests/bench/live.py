"""Live use: how soon a rep is told with many streams at once, what it costs, how right it is, and durable ingest."""

from __future__ import annotations

import asyncio
import json
import os
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import cbor2
import httpx
import numpy as np
from websockets.asyncio.client import connect

from barsim import Unmodelled, simulate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.ingest.block import Block
from barwright.live.run import overlap
from bench.tables import Table, against
from bench.work import Bench
from contract.servers import Server, run
from live.follow import blocks_of, follow

STREAMS = (1, 10, 25, 50)
PLANS = (("back_squat", 3), ("snatch", 2), ("bench_press", 4), ("clean", 2))
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(slots=True)
class Seen:
    """What a run saw: latencies in s, blocks sent and stored, CPU seconds of the service, seconds it took."""

    late_s: list[float] = field(default_factory=list)
    sent: int = 0
    stored: int = 0
    cpu_s: float = 0.0
    wall_s: float = 0.0
    memory_mb: float = 0.0


def live(bench: Bench) -> list[Table]:
    """Latency and cost by number of streams; provisional against final; durable ingest."""
    return [_latencies(), _provisional(max(2, bench.lifts // 20)), _ingest()]


def _latencies() -> Table:
    recordings = [
        simulate(lift, seed=40 + n, device="hobby", reps=reps).recording for n, (lift, reps) in enumerate(PLANS)
    ]
    encoded = [[(block.seq, int(block.t_us[-1]), _body(block)) for block in blocks_of(one)] for one in recordings]
    rows = []
    for count in STREAMS:
        print(f"live: {count} streams", file=sys.stderr, flush=True)
        seen = _one_run(count, encoded)
        late = np.array(seen.late_s or [np.nan])
        p50, p95, p99 = (float(np.quantile(late, q)) for q in (0.5, 0.95, 0.99))
        rows.append(
            (
                str(count), str(len(seen.late_s)), f"{1000 * p50:.0f}", against(p95, 0.4, 0, 1000),
                against(p99, 1.0, 0, 1000), f"{seen.sent - seen.stored}",
                f"{100 * seen.cpu_s / seen.wall_s / count:.2f}", f"{100 * seen.cpu_s / seen.wall_s:.0f}",
                f"{seen.memory_mb:.0f}",
            )
        )  # fmt: skip
    columns = (
        "streams",
        "reps told",
        "p50 ms",
        "p95 ms",
        "p99 ms",
        "blocks lost",
        "CPU %/stream",
        "CPU %",
        "memory MB",
    )
    notes = (
        "200 Hz x 6, blocks of 250 ms over WebSockets at the pace of the lifts, the load generator on the same cores.",
        "Latency: from sending the block a rep rests on to the event at a listener of the whole club.",
    )
    return Table("Live: reps told with many streams at once", columns, tuple(rows), notes)


def _one_run(count: int, encoded: list[list[tuple[int, int, bytes]]]) -> Seen:
    with tempfile.TemporaryDirectory() as folder:
        key = run("new-key", "--data", folder, "--club", "Bench").stdout.strip()
        server = Server(Path(folder))
        try:
            return asyncio.run(_drive(server, key, count, encoded))
        finally:
            server.stop()


async def _drive(server: Server, key: str, count: int, encoded: list[list[tuple[int, int, bytes]]]) -> Seen:
    seen, sent_at = Seen(), {}
    signed = {"Authorization": f"Bearer {key}"}
    async with httpx.AsyncClient(base_url=server.url, headers=signed, timeout=60) as http:
        await _warm_up(http, signed, server, encoded[0])
        streams = []
        for n in range(count):
            lift, _ = PLANS[n % len(PLANS)]
            about = {"athlete": f"A{n}", "device": f"D{n}", "device_kind": "imu", "lift": lift, "load_kg": 60}
            streams.append((await http.post("/v1/streams", json=about)).json()["id"])
        listener = asyncio.create_task(_listen(http, set(streams), sent_at, seen))
        await asyncio.sleep(0.5)
        cpu, begun = _cpu_s(server.process.pid), time.monotonic()
        jobs = [
            _lift(server, signed, one, encoded[n % len(encoded)], 0.25 * n / count + 2.0 * (n % 7), sent_at, seen)
            for n, one in enumerate(streams)
        ]
        await asyncio.gather(*jobs)
        await asyncio.sleep(2.0)
        seen.cpu_s, seen.wall_s = _cpu_s(server.process.pid) - cpu, time.monotonic() - begun
        seen.memory_mb = _memory_mb(server.process.pid)
        for one in streams:
            received = (await http.get(f"/v1/streams/{one}")).json()["received"]
            seen.stored += received[0]["next_seq"] - sum(b - a + 1 for a, b in received[0]["missing"])
        listener.cancel()
        await asyncio.gather(listener, return_exceptions=True)
    return seen


async def _warm_up(http, signed, server, blocks) -> None:
    """One whole set first, so that worker processes have loaded what they need."""
    about = {"athlete": "Warm", "device": "Warm", "device_kind": "imu", "lift": "back_squat", "load_kg": 60}
    stream = (await http.post("/v1/streams", json=about)).json()["id"]
    await _lift(server, signed, stream, blocks, 0.0, {}, Seen(), hurry=8.0)
    await http.post(f"/v1/streams/{stream}/close?wait=60")


async def _lift(server, signed, stream, blocks, wait_s, sent_at, seen, hurry=1.0) -> None:
    await asyncio.sleep(wait_s)
    address = f"{server.url.replace('http', 'ws')}/v1/streams/{stream}/live"
    async with connect(address, additional_headers=signed) as socket:
        await socket.recv()
        begun = time.monotonic()
        for seq, last_us, body in blocks:
            await asyncio.sleep(max(0.0, begun + last_us * 1e-6 / hurry - time.monotonic()))
            sent_at[stream, seq] = time.monotonic()
            await socket.send(body)
            seen.sent += 1
            answer = json.loads(await socket.recv())
            assert answer["type"] == "ack", answer


async def _listen(http, streams, sent_at, seen) -> None:
    async with http.stream("GET", "/v1/events") as answer:
        async for line in answer.aiter_lines():
            if not line.startswith("data:"):
                continue
            data = json.loads(line[5:])
            on = data.get("rests_on")
            if data.get("stream_id") in streams and on:
                seen.late_s.append(time.monotonic() - sent_at[data["stream_id"], on["seq"]])


def _body(block: Block) -> bytes:
    channels = {name: cbor2.CBORTag(85, column.astype("<f4").tobytes()) for name, column in block.channels.items()}
    return cbor2.dumps({"boot": "b1", "seq": block.seq, "t_us": block.t_us.tolist(), "channels": channels})


def _family(pid: int) -> Iterator[list[str]]:
    """/proc stat fields of a process and its children, from the third on."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            try:
                fields = (entry / "stat").read_text().rpartition(") ")[2].split()
            except OSError:
                continue
            if int(entry.name) == pid or int(fields[1]) == pid:
                yield fields


def _cpu_s(pid: int) -> float:
    return sum(int(fields[11]) + int(fields[12]) for fields in _family(pid)) / TICKS


def _memory_mb(pid: int) -> float:
    return sum(int(fields[21]) for fields in _family(pid)) * os.sysconf("SC_PAGE_SIZE") / 2**20


def _provisional(sets: int) -> Table:
    """First sightings against the analysis of the whole set."""
    rows = []
    lifts = (("snatch", 2), ("clean", 2), ("jerk", 2), ("back_squat", 4), ("bench_press", 4), ("deadlift", 3))
    every: list[float] = []
    for title, device, typical in (
        ("good", "good", False),
        ("hobby", "hobby", False),
        ("good, mismatch", "good", True),
    ):
        for lift, reps in lifts:
            print(f"live: provisional {title} {lift}", file=sys.stderr, flush=True)
            apart, lag, finals_seen, cpu_s, looks = [], [], 0, 0.0, 0
            for seed in range(sets):
                odd = Unmodelled.typical(np.random.default_rng(seed)) if typical else None
                recording = simulate(lift, seed=600 + seed, reps=reps, device=device, unmodelled=odd).recording
                told, finals = follow(recording, lift), analyse_set(recording, LIFTS[lift]).reps
                finals_seen, cpu_s, looks = finals_seen + len(finals), cpu_s + told.cpu_s, looks + told.looks
                for one in told.told:
                    rep = one.change.rep
                    final = [f for f in finals if overlap(f.start_s, f.stop_s, rep.start_s, rep.stop_s)]
                    if one.change.corrected or not final:
                        continue
                    now, then = rep.measures["peak_velocity"], final[0].measures["peak_velocity"]
                    if now.value is not None and then.value is not None and now.u:
                        apart.append(abs(now.value - then.value) / (2 * now.u))
                        lag.append(one.at_s - rep.stop_s)
            every += apart
            rows.append(
                (
                    title, lift, f"{len(apart)} of {finals_seen}", f"{100 * np.mean(np.array(apart) < 1):.0f}",
                    f"{np.median(lag):.1f}", f"{1000 * cpu_s / max(1, looks):.0f}",
                    f"{looks / max(1, finals_seen):.1f}",
                )
            )  # fmt: skip
    share = float(np.mean(np.array(every) < 1))
    columns = ("device", "lift", "told before closing", "% within 2u", "lag s", "ms a look", "looks a rep")
    note = f"All: {100 * share:.1f} % of provisional peak velocities within 2u of the final ones (>= 95 % is aimed at)."
    return Table(
        "Live: provisional against final", columns, tuple(rows), (note, "Lag: from the rep's end, in its time.")
    )


def _ingest() -> Table:
    """Blocks of 1000 x 6 over HTTP, and the same stored forms committed to the same kind of file by this process."""
    print("live: durable ingest", file=sys.stderr, flush=True)
    rng = np.random.default_rng(1)
    names = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
    blocks = []
    for seq in range(300):
        t_us = (np.arange(1000) + 1000 * seq) * 1000
        columns = {name: np.round(rng.normal(0, 1, 1000), 3).astype("<f4").astype(float) for name in names}
        blocks.append(Block("b1", seq, t_us, columns))
    with tempfile.TemporaryDirectory() as folder:
        key = run("new-key", "--data", folder, "--club", "Bench").stdout.strip()
        server = Server(Path(folder))
        bodies = [_body(block) for block in blocks]
        with server.client(key) as http:
            about = {"athlete": "A", "device": "D", "device_kind": "imu", "lift": "snatch", "load_kg": 60}
            stream = http.post("/v1/streams", json=about).json()["id"]
            begun = time.monotonic()
            for body in bodies:
                answer = http.post(
                    f"/v1/streams/{stream}/blocks", content=body, headers={"Content-Type": "application/cbor"}
                )
                assert answer.status_code == 200, answer.text
            served = len(bodies) / (time.monotonic() - begun)
        server.stop()
        alone = _committed([block.pack() for block in blocks], Path(folder) / "alone.db")
    rows = (
        ("through the service, blocks/s", f"{served:.0f}"),
        ("committed by a process alone, blobs/s", f"{alone:.0f}"),
        ("share (>= 0.5 is aimed at)", f"{served / alone:.2f} {'met' if served >= 0.5 * alone else 'NOT met'}"),
    )
    return Table("Durable ingest: CBOR blocks of 1000 x 6, one sender", ("figure", "value"), rows)


def _committed(blobs: list[bytes], path: Path) -> float:
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("PRAGMA journal_mode=WAL")
    database.execute("PRAGMA synchronous=FULL")
    database.execute("CREATE TABLE blob (id INTEGER PRIMARY KEY, body BLOB)")
    begun = time.monotonic()
    for blob in blobs:
        database.execute("BEGIN IMMEDIATE")
        database.execute("INSERT INTO blob (body) VALUES (?)", (blob,))
        database.execute("COMMIT")
    rate = len(blobs) / (time.monotonic() - begun)
    database.close()
    return rate
