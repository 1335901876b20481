"""The sender in docs/senders under MicroPython (its unix port) against the real service."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import numpy as np
import pytest

import stand_in
from served import Served, served

PROJECT = Path(__file__).parents[2]
WHERE = PROJECT / "docs/senders"
PER_BLOCK = 50


def micropython() -> str:
    """The interpreter of the environment, else one on the path."""
    found = shutil.which("micropython", path=str(Path(sys.executable).parent)) or shutil.which("micropython")
    assert found, "MicroPython's unix port is needed: make setup has it on Linux x86-64; elsewhere install it"
    return found


def run(service: Served | None, stream: str, folder: Path, blocks: int, mode: str, port: int = 9) -> list[str]:
    """What the sender says at its end: boot, seq, blocks waiting, lost, refused, two readings of a clock that wraps."""
    at = port if service is None else int(service.url.rpartition(":")[2])
    key = "bw_none" if service is None else service.key()
    program = [micropython(), str(Path(__file__).parent / "on_micropython.py")]
    told = [str(at), key, f"/v1/streams/{stream}/blocks", str(folder), str(blocks), mode, str(WHERE)]
    done = subprocess.run([*program, *told], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.split(" ")


@pytest.fixture
def service(settings) -> Iterator[Served]:
    with served(settings, analyse=stand_in.outcome_of, look=None) as one:
        yield one


def opened(service: Served) -> str:
    with service.client() as client:
        about = {"athlete": "Imke", "device": "bar 3", "lift": "snatch", "load_kg": 60}
        return str(client.stream(units={"accel": "m/s2", "gyro": "rad/s"}, **about).id)


def received(service: Served, stream: str) -> dict[str, tuple[int, list[int], int]]:
    with httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"}) as http:
        boots = http.get(f"/v1/streams/{stream}").json()["received"]
    return {one["boot"]: (one["next_seq"], one["missing"], one["samples"]) for one in boots}


def test_blocks_arrive_whole_and_once_over_power_cuts_and_a_service_that_is_away(service, tmp_path) -> None:
    folder = tmp_path / "flash"
    folder.mkdir()
    stream = opened(service)
    through = run(service, stream, folder, 6, "through")
    assert through[:4] == ["bar3.1", "6", "0", "0"]
    assert through[-2:] == ["25", f"{20 + (1 << 29)}\n"]  # the clock went on where ticks begin again
    dark = run(None, stream, folder, 12, "dark")  # nobody answers: to flash
    assert dark[:4] == ["bar3.2", "12", "12", "0"]
    cut = run(None, stream, folder, 3, "cut")
    assert cut[:3] == ["bar3.3", "3", "15"]
    last = run(service, stream, folder, 2, "through")  # the power is back: what was kept goes first
    assert last[0] not in ("bar3.1", "bar3.2", "bar3.3"), "a boot's name was given twice"
    assert last[1:4] == ["2", "0", "0"]
    assert last[4] == "[]"
    assert received(service, stream) == {
        "bar3.1": (6, [], 300), "bar3.2": (12, [], 600), "bar3.3": (3, [], 150), last[0]: (2, [], 100)
    }  # fmt: skip


def test_the_values_are_those_that_were_measured(service, tmp_path) -> None:
    stream = opened(service)
    run(service, stream, tmp_path, 2, "through")
    values = np.arange(100)
    with httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"}) as http:
        for seq in (0, 1):
            part = values[seq * PER_BLOCK : (seq + 1) * PER_BLOCK]
            ones = np.ones(PER_BLOCK)
            columns = (part * 0.5, part * -0.25, ones * 9.75, part % 7, ones * 0.125, -ones)
            names = [f"{group}_{axis}" for group in ("accel", "gyro") for axis in "xyz"]
            block = {"boot": "bar3.1", "seq": seq, "t0_us": seq * 250_000, "dt_us": 5000,
                     "channels": {n: c.tolist() for n, c in zip(names, columns, strict=True)}}  # fmt: skip
            answer = http.post(f"/v1/streams/{stream}/blocks", json=block)
            assert (answer.status_code, answer.json()["stored"]) == (200, False), answer.text  # the very same block


def test_a_wrong_address_keeps_the_blocks_until_it_is_put_right(service, tmp_path) -> None:
    done = run(service, "str_none", tmp_path, 2, "through")
    assert (done[2], done[5]) == ("2", "404")


def test_a_block_that_will_never_be_taken_is_given_up_and_told(service, tmp_path) -> None:
    with service.client() as client:
        about = {"athlete": "Lucja", "device": "string", "lift": "press", "load_kg": 30, "device_kind": "encoder"}
        string = str(client.stream(units={"position": "m"}, **about).id)
    done = run(service, string, tmp_path, 2, "through")
    assert done[2] == "0"
    assert "('bar3.1-0000000', 422)" in " ".join(done)
