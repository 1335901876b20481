"""The bridge from MQTT over minutes, with its broker killed under it: what is acknowledged is stored, once."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import httpx
import numpy as np

from bench.tables import Table
from bench.work import Bench
from contract.servers import Server, run
from mqtt.broker import BrokerProcess
from mqtt.devices import SAMPLES, Device, block

DEVICES = int(os.environ.get("BENCH_MQTT_DEVICES", "20"))
SECONDS = float(os.environ.get("BENCH_MQTT_SECONDS", "600"))
KILLS = int(os.environ.get("BENCH_MQTT_KILLS", "5"))
EVERY_S = 0.25
DOWN_S = 2.0
LOOKED_AT = 50  # every so manieth block is sent once more over HTTP, to see that the stored one has its very content


def mqtt(_: Bench) -> list[Table]:
    """One table: ten minutes of 20 devices, the broker killed five times."""
    with tempfile.TemporaryDirectory() as folder:
        key = run("new-key", "--data", folder, "--club", "Quarry Lane Lifting Club").stdout.strip()
        server, broker = Server(Path(folder)), BrokerProcess()
        broker.start()
        bridge = _bridge(server.url, broker.port, key)
        try:
            with server.client(key) as http:
                devices = [Device(_stream(http, i), f"boot{i}") for i in range(DEVICES)]
                began = time.monotonic()
                asyncio.run(_hall(devices, broker))
                return [_table(http, devices, time.monotonic() - began)]
        finally:
            bridge.terminate()
            bridge.wait()
            broker.kill()
            server.stop()


def _bridge(url: str, port: int, key: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "barwright", "bridge", "--broker", f"mqtt://127.0.0.1:{port}", "--service", url]
    return subprocess.Popen(
        [*command, "--mqtt", "3.1.1"], env={**os.environ, "BARWRIGHT_KEY": key}, stderr=subprocess.DEVNULL
    )


def _stream(http: httpx.Client, number: int) -> str:
    told = {
        "athlete": f"Lifter {number}",
        "device": f"string {number}",
        "device_kind": "encoder",
        "lift": "bench_press",
    }
    return str(http.post("/v1/streams", json={**told, "load_kg": 35, "units": {"position": "m"}}).json()["id"])


async def _hall(devices: list[Device], broker: BrokerProcess) -> None:
    until = time.monotonic() + SECONDS + 60
    tasks = [asyncio.create_task(one.run(broker.port, round(SECONDS / EVERY_S), EVERY_S, until)) for one in devices]
    for _ in range(KILLS):
        await asyncio.sleep(SECONDS / (KILLS + 1) - DOWN_S)
        broker.kill()
        await asyncio.sleep(DOWN_S)
        await asyncio.to_thread(broker.start)
    await asyncio.gather(*tasks)


def _table(http: httpx.Client, devices: list[Device], took_s: float) -> Table:
    lost = doubled = other = stored = 0
    for one in devices:
        (received,) = http.get(f"/v1/streams/{one.stream_id}").json()["received"]
        there = set(range(received["next_seq"]))
        for first, last in received["missing"]:
            there -= set(range(first, last + 1))
        stored += len(there)
        lost += len(set(one.acknowledged) - there)
        doubled += abs(received["samples"] - SAMPLES * len(there))
        for seq in set(range(0, one.produced, LOOKED_AT)) & there:
            again = http.post(
                f"/v1/streams/{one.stream_id}/blocks",
                content=block(one.boot, seq),
                headers={"Content-Type": "application/json"},
            )
            other += again.status_code != 200 or again.json()["stored"]
    late = np.concatenate([one.took_s for one in devices])
    produced, sent = sum(one.produced for one in devices), sum(one.sent for one in devices)
    acknowledged = sum(len(one.acknowledged) for one in devices)
    row = (
        f"{DEVICES}", f"{took_s / 60:.1f}", f"{KILLS}", f"{produced}", f"{acknowledged}", f"{stored}",
        f"{produced - acknowledged}", f"{sent - produced}",
        f"{lost} {'met' if lost == 0 else 'NOT met'}",
        f"{doubled + other} {'met' if doubled + other == 0 else 'NOT met'}",
        f"{1000 * np.quantile(late, 0.5):.0f}", f"{1000 * np.quantile(late, 0.99):.0f}", f"{late.max():.1f}",
    )  # fmt: skip
    return Table(
        "Blocks over MQTT, the broker killed",
        ("devices", "minutes", "kills", "blocks", "acknowledged", "stored", "still waiting", "sent again",
         "acknowledged and lost", "doubled or changed", "p50 ms", "p99 ms", "longest s"),
        (row,),
        (
            f"Four blocks a second and device; the broker (amqtt, MQTT 3.1.1) is killed and is away for {DOWN_S:g} s "
            "each time; service, bridge and broker are processes of their own. ms: from a block made to its "
            "acknowledgement.",
        ),
    )  # fmt: skip
