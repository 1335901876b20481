"""Many sets at once: how soon a rep is told, what a stream costs, whether memory grows."""

from __future__ import annotations

import asyncio
import json
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cbor2
import httpx
import numpy as np
from websockets.asyncio.client import connect

from barsim import simulate
from barwright.ingest.block import Block
from bench.tables import Table, against
from bench.work import Bench
from contract.servers import Server, run
from live.follow import blocks_of

STREAMS = (1, 10, 25, 50, 75, 100, 150)
PLANS = (("back_squat", 3), ("snatch", 2), ("bench_press", 4), ("clean", 2))
LADDER_S = 30.0  # nobody begins another set after that; the first begin in the course of 12 s
TICKS = os.sysconf("SC_CLK_TCK")
Encoded = list[list[tuple[int, int, bytes]]]


@dataclass(slots=True)
class Seen:
    """What a run saw: latencies in s, blocks sent and stored, CPU seconds of the service, seconds it took.

    untold: reps that were told only with the closed set. closed_s: from closing a set to its figures. sender_s: CPU of
    whoever sends. memory_mb: of all processes of the service, at times in s after the start.
    """

    late_s: list[float] = field(default_factory=list)
    untold: int = 0
    closed_s: list[float] = field(default_factory=list)
    closed_at: dict[str, float] = field(default_factory=dict)
    sent: int = 0
    stored: int = 0
    cpu_s: float = 0.0
    sender_s: float = 0.0
    wall_s: float = 0.0
    memory_mb: list[tuple[float, float]] = field(default_factory=list)


def live_load(bench: Bench) -> list[Table]:
    """Latency and cost by number of streams, up to where p95 passes 1 s; memory over minutes."""
    minutes = 10.0 if bench.lifts >= 200 else 1.0
    encoded = recorded()
    rows, passed = [], None
    for count in STREAMS:
        print(f"live_load: {count} streams", file=sys.stderr, flush=True)
        seen = one_run(count, encoded, seconds=LADDER_S)
        rows.append(_row(count, seen))
        if quantile(seen.late_s, 0.95) > 1.0:
            passed = count
            break
    columns = (
        "streams",
        "told",
        "p50 ms",
        "p95 ms",
        "p99 ms",
        "told too late",
        "set, p95 s",
        "blocks lost",
        "CPU %/stream",
        "CPU %",
        "sender CPU %",
        "memory MB",
    )
    notes = (
        "200 Hz x 6, blocks of 250 ms over WebSockets at the pace of the lifts, the load generator on the same cores.",
        "Set after set for half a minute, so that all streams are open at once for some 20 s of it.",
        "Latency: from sending the block a rep rests on to the event, or its correction, at a listener of a club.",
        "Told too late: reps that were told only with the closed set. Set: from closing it to its figures.",
        "CPU: 100 is one core.",
        f"p95 passes 1 s at {passed} streams." if passed else f"p95 stays below 1 s up to {STREAMS[-1]} streams.",
    )
    return [Table("Live: reps told with many streams at once", columns, tuple(rows), notes), _flat(minutes, encoded)]


def _row(count: int, seen: Seen) -> tuple[str, ...]:
    return (
        str(count), str(len(seen.late_s)), f"{1000 * quantile(seen.late_s, 0.5):.0f}",
        against(quantile(seen.late_s, 0.95), 0.4, 0, 1000), against(quantile(seen.late_s, 0.99), 1.0, 0, 1000),
        str(seen.untold), f"{quantile(seen.closed_s, 0.95):.1f}",
        f"{seen.sent - seen.stored}", f"{100 * seen.cpu_s / seen.wall_s / count:.2f}",
        f"{100 * seen.cpu_s / seen.wall_s:.0f}", f"{100 * seen.sender_s / seen.wall_s:.0f}",
        f"{seen.memory_mb[-1][1]:.0f}",
    )  # fmt: skip


def _flat(minutes: float, encoded: Encoded) -> Table:
    """50 streams, one set after another, closed and analysed while the next is lifted."""
    print(f"live_load: 50 streams for {minutes:g} minutes", file=sys.stderr, flush=True)
    seen = one_run(50, encoded, seconds=60 * minutes)
    times, memory = (np.array(column) for column in zip(*seen.memory_mb, strict=True))
    settled = times > 0.2 * times[-1]
    slope = float(np.polyfit(times[settled] / 60, memory[settled], 1)[0])
    rows = (
        ("reps and corrections told", str(len(seen.late_s))),
        ("p95 ms", against(quantile(seen.late_s, 0.95), 0.4, 0, 1000)),
        ("p99 ms", against(quantile(seen.late_s, 0.99), 1.0, 0, 1000)),
        ("reps told only with the closed set", str(seen.untold)),
        ("from closing a set to its figures, p95 s", f"{quantile(seen.closed_s, 0.95):.1f}"),
        ("blocks sent, lost", f"{seen.sent}, {seen.sent - seen.stored}"),
        ("memory MB after a fifth of the time, at the end", f"{memory[settled][0]:.0f}, {memory[-1]:.0f}"),
        ("trend of the rest, MB a minute", f"{slope:+.2f}"),
        ("CPU % (100 is one core)", f"{100 * seen.cpu_s / seen.wall_s:.0f}"),
        ("CPU % of the sender", f"{100 * seen.sender_s / seen.wall_s:.0f}"),
    )
    title = f"Live: 50 streams, set after set, for {minutes:g} minutes"
    return Table(title, ("figure", "value"), rows, ("Memory: resident, of all processes of the service.",))


def quantile(seconds: list[float], share: float) -> float:
    """NaN of nothing."""
    return float(np.quantile(seconds or [np.nan], share))


def recorded() -> Encoded:
    """The blocks of one set of each plan as (seq, last time in us, CBOR)."""
    sets = [simulate(lift, seed=40 + n, device="hobby", reps=reps).recording for n, (lift, reps) in enumerate(PLANS)]
    return [[(block.seq, int(block.t_us[-1]), _body(block)) for block in blocks_of(one)] for one in sets]


def one_run(count: int, encoded: Encoded, seconds: float = 0.0) -> Seen:
    """So many streams at once: one set each, or set after set for so many seconds."""
    with tempfile.TemporaryDirectory() as folder:
        key = run("new-key", "--data", folder, "--club", "Bench").stdout.strip()
        server = Server(Path(folder))
        try:
            return asyncio.run(_drive(server, key, count, encoded, seconds))
        finally:
            server.stop()


async def _drive(server: Server, key: str, count: int, encoded: Encoded, seconds: float) -> Seen:
    seen = Seen()
    sent_at: dict[tuple[str, int], float] = {}
    signed = {"Authorization": f"Bearer {key}"}
    async with httpx.AsyncClient(base_url=server.url, headers=signed, timeout=60) as http:
        await _lift(http, signed, server, "Warm", PLANS[0][0], encoded[0], sent_at, Seen(), hurry=8.0)
        listener = asyncio.create_task(_listen(http, sent_at, seen))
        await asyncio.sleep(1.0)
        cpu, mine, begun = _cpu_s(server.process.pid), time.process_time(), time.monotonic()
        watcher = asyncio.create_task(_weigh(server.process.pid, begun, seen))
        until = begun + seconds
        await asyncio.gather(
            *[_go_on(http, signed, server, n, count, encoded, sent_at, seen, until) for n in range(count)]
        )
        seen.wall_s, seen.sender_s = time.monotonic() - begun, time.process_time() - mine
        seen.cpu_s = _cpu_s(server.process.pid) - cpu
        await _until_told(seen)
        seen.memory_mb.append((seen.wall_s, _memory_mb(server.process.pid)))
        for task in (listener, watcher):
            assert not task.done(), task.exception()
            task.cancel()
        await asyncio.gather(listener, watcher, return_exceptions=True)
    return seen


async def _go_on(http, signed, server, n, count, encoded, sent_at, seen, until) -> None:
    """One athlete: a set, and when there is time another."""
    await asyncio.sleep(0.25 * n / count + 2.0 * (n % 7))
    while True:
        lift, _ = PLANS[n % len(PLANS)]
        await _lift(http, signed, server, str(n), lift, encoded[n % len(encoded)], sent_at, seen)
        if time.monotonic() > until:
            return
        await asyncio.sleep(1.0)


async def _lift(http, signed, server, name, lift, blocks, sent_at, seen, hurry=1.0) -> None:
    about = {"athlete": f"A{name}", "device": f"D{name}", "device_kind": "imu", "lift": lift, "load_kg": 60}
    stream = (await http.post("/v1/streams", json=about)).json()["id"]
    address = f"{server.url.replace('http', 'ws')}/v1/streams/{stream}/live"
    async with connect(address, additional_headers=signed, compression=None) as socket:
        await socket.recv()
        begun = time.monotonic()
        for seq, last_us, body in blocks:
            await asyncio.sleep(max(0.0, begun + last_us * 1e-6 / hurry - time.monotonic()))
            sent_at[stream, seq] = time.monotonic()
            await socket.send(body)
            seen.sent += 1
            answer = json.loads(await socket.recv())
            assert answer["type"] == "ack", answer
    received = (await http.get(f"/v1/streams/{stream}")).json()["received"]
    seen.stored += received[0]["next_seq"] - sum(b - a + 1 for a, b in received[0]["missing"])
    wait = "?wait=60" if hurry > 1 else ""
    seen.closed_at[stream] = time.monotonic()
    (await http.post(f"/v1/streams/{stream}/close{wait}")).raise_for_status()


async def _until_told(seen: Seen) -> None:
    """Every closed set has its figures."""
    give_up_at = time.monotonic() + 120
    while len(seen.closed_s) < len(seen.closed_at):
        assert time.monotonic() < give_up_at, f"{len(seen.closed_at) - len(seen.closed_s)} sets have no figures"
        await asyncio.sleep(0.1)


async def _listen(http: httpx.AsyncClient, sent_at: dict[tuple[str, int], float], seen: Seen) -> None:
    last: dict[str, Any] = {}
    while True:
        headers = {"Last-Event-ID": last["id"]} if "id" in last else {}
        async with http.stream("GET", "/v1/events", headers=headers) as answer:
            async for line in answer.aiter_lines():
                name, _, text = line.partition(":")
                if name in ("id", "event"):
                    last[name] = text.strip()
                elif name == "data":
                    _note(last["event"], json.loads(text), sent_at, seen)


def _note(kind: str, told: dict[str, Any], sent_at: dict[tuple[str, int], float], seen: Seen) -> None:
    now, stream = time.monotonic(), told.get("stream_id", "")
    if kind == "gap":
        raise AssertionError(f"the listener missed events: {told}")
    if kind == "set_closed" and stream in seen.closed_at:
        seen.closed_s.append(now - seen.closed_at[stream])
    elif kind == "rep" and not told["provisional"]:
        seen.untold += stream in seen.closed_at
    elif "rests_on" in told:
        seen.late_s.append(now - sent_at[stream, told["rests_on"]["seq"]])


async def _weigh(pid: int, begun: float, seen: Seen) -> None:
    while True:
        await asyncio.sleep(5.0)
        seen.memory_mb.append((time.monotonic() - begun, _memory_mb(pid)))


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
