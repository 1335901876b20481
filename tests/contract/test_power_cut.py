"""The server dies at any moment; what it acknowledged is there, and sending again is harmless."""

from __future__ import annotations

import random
import threading
import time

import httpx
import pytest

from conftest import STREAM, imu_block
from contract.servers import Server, run

BLOCKS = 200


@pytest.fixture
def key(tmp_path):
    return run("new-key", "--data", tmp_path, "--club", "Quarry Lane Lifting Club").stdout.strip()


def test_no_acknowledged_block_is_ever_lost(tmp_path, key):
    chance = random.Random(11)
    server = Server(tmp_path)
    with server.client(key) as client:
        stream = client.post("/v1/streams", json=STREAM).json()["id"]
    acknowledged: set[int] = set()
    deaths = 0
    while len(acknowledged) < BLOCKS:
        doom = threading.Timer(chance.uniform(0.05, 0.6), server.kill) if deaths < 3 else None
        if doom:
            doom.start()
        with server.client(key) as client:
            try:
                for seq in range(BLOCKS):
                    if seq not in acknowledged:
                        answer = client.post(f"/v1/streams/{stream}/blocks", json=imu_block(seq, 20))
                        assert answer.status_code == 200, answer.text
                        acknowledged.add(seq)
            except httpx.TransportError:
                pass
        if doom:
            doom.join()
            deaths += 1
            server = Server(tmp_path)
            with server.client(key) as client:
                for boot in client.get(f"/v1/streams/{stream}").json()["received"]:
                    known = set(range(boot["next_seq"])) - {
                        seq for first, last in boot["missing"] for seq in range(first, last + 1)
                    }
                    assert acknowledged <= known
                    # At most the one block on its way may be there without our having heard of it.
                    assert len(known - acknowledged) <= 1
    with server.client(key) as client:
        for seq in range(0, BLOCKS, 20):
            again = client.post(f"/v1/streams/{stream}/blocks", json=imu_block(seq, 20)).json()
            assert (again["stored"], again["missing"]) == (False, [])
        received = client.get(f"/v1/streams/{stream}").json()["received"]
        assert [(boot["next_seq"], boot["samples"]) for boot in received] == [(BLOCKS, BLOCKS * 20)]
    assert deaths == 3
    assert server.stop() == 0


def test_a_set_left_unfinished_is_finished_at_the_next_start(tmp_path, key):
    server = Server(tmp_path)
    with server.client(key) as client:
        stream = client.post("/v1/streams", json=STREAM).json()
        for seq in range(4):
            client.post(f"/v1/streams/{stream['id']}/blocks", json=imu_block(seq, 200))
        closed = client.post(f"/v1/streams/{stream['id']}/close").json()
        server.kill()
    assert closed["state"] == "analysing"
    server = Server(tmp_path)
    with server.client(key) as client:
        deadline = time.monotonic() + 60  # that it is finished counts here, not how fast a busy machine starts
        while (lift_set := client.get(f"/v1/sets/{stream['set_id']}").json())["state"] == "analysing":
            assert time.monotonic() < deadline
            time.sleep(0.05)
    assert lift_set["revision"] == 1
    assert lift_set["quality"]["samples"] == 800
    assert server.stop() == 0


def test_worker_processes_end_with_the_service(tmp_path, key):
    server = Server(tmp_path)
    with server.client(key) as client:
        stream = client.post("/v1/streams", json=STREAM).json()["id"]
        client.post(f"/v1/streams/{stream}/blocks", json=imu_block(0))
        client.post(f"/v1/streams/{stream}/close?wait=20")
    children = children_of(server.process.pid)
    assert children
    server.kill()
    deadline = time.monotonic() + 10
    while any(alive(child) for child in children):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_two_services_never_share_a_folder(tmp_path, key):
    server = Server(tmp_path)
    second = run("serve", "--data", tmp_path, "--port", "0")
    assert second.returncode == 1
    assert second.stderr.strip().splitlines()[-1].startswith("barwright: ")
    assert "already uses the folder" in second.stderr
    assert server.stop() == 0


def children_of(pid):
    import pathlib

    text = "".join(path.read_text() for path in pathlib.Path(f"/proc/{pid}/task").glob("*/children"))
    return [int(child) for child in text.split()]


def alive(pid):
    try:
        with open(f"/proc/{pid}/stat") as stat:
            return stat.read().rpartition(")")[2].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        return False
