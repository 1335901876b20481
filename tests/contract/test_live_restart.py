"""The service killed in mid-set, with no goodbye: the spool and the events lose nothing and double nothing."""

from __future__ import annotations

import socket
import threading
import time
from pathlib import Path

from barsim import simulate
from barwright.ingest.block import Block
from barwright_client import Client, Event, RetryPolicy, Spool
from contract.servers import Server, run
from live.follow import blocks_of

ABOUT = {"lift": "snatch", "load_kg": 60, "athlete": "Imke", "bar_axis": "+x", "device_kind": "imu"}


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def columns(block: Block) -> dict[str, object]:
    return {"t_us": block.t_us, **block.channels}


def test_a_set_survives_a_service_that_is_killed(tmp_path: Path) -> None:
    data, port = tmp_path / "data", free_port()
    key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
    blocks = blocks_of(simulate("snatch", seed=3, device="hobby", reps=2).recording)
    server = Server(data, "--port", str(port))
    patient = Client(server.url, key, timeout_s=20, retry=RetryPolicy(total_s=120, most_tries=40))
    with patient.stream(**ABOUT, device="undisturbed") as undisturbed:
        for block in blocks:
            undisturbed.push(columns(block))
    assert undisturbed.result is not None
    calm, given_up = undisturbed.result, time.monotonic() + 90  # a close waits only so long for a busy machine
    while calm.state == "analysing" and time.monotonic() < given_up:
        time.sleep(0.2)
        calm = patient.set(calm.id)

    events: list[Event] = []
    spool = Spool(tmp_path / "spool")
    sender = patient.live(spool, **ABOUT, device="disturbed")
    watcher: threading.Thread | None = None
    for n, block in enumerate(blocks):
        sender.push(columns(block))
        time.sleep(0.02)
        if n == 8:
            began_by = time.monotonic() + 60
            while sender.stream_id is None and time.monotonic() < began_by:
                time.sleep(0.05)
            assert sender.stream_id is not None, sender.error
            feed = patient.events(sender.stream_id)
            watcher = threading.Thread(target=events.extend, args=(feed,))
            watcher.start()
        if n == len(blocks) // 2:
            server.kill()
            server = Server(data, "--port", str(port))
    set_id = sender.end(wait_s=90)
    assert set_id is not None, sender.error
    assert watcher is not None
    watcher.join(90)
    server.stop()
    assert not watcher.is_alive()

    server = Server(data, "--port", str(port))
    result = patient.set(set_id)
    assert result.state == "analysed"
    assert result.quality == calm.quality
    assert result.reps == calm.reps
    assert (spool.losses, spool.bytes, spool.sets()) == ({}, 0, [])
    server.stop()
    ids = [event.id for event in events if event.id is not None]
    assert ids == sorted(set(ids))
    kinds = [event.kind for event in events]
    assert kinds.count("set_opened") == kinds.count("set_closed") == 1
    told = [event.data["rep"]["index"] for event in events if event.kind == "rep"]
    assert told == sorted(set(told)) == list(range(len(result.reps)))
    last = {event.data["rep"]["index"]: event.rep for event in events if event.kind in ("rep", "rep_corrected")}
    assert [last[index] for index in sorted(last)] == list(result.reps)
