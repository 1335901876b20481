"""The sender in C: compiled as C99 without a warning, its bytes decoded by the service's own reader."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from barwright.ingest.block import IMU_CHANNELS
from barwright.ingest.decode import decode_block
from barwright.ingest.limits import Limits

PROJECT = Path(__file__).parents[2]
SENDERS = PROJECT / "docs/senders"
WORDS = ("-std=c99", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-pedantic", "-O1", "-fsanitize=undefined,address")


@dataclass
class Ran:
    folder: Path
    lines: list[str]


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """The host program, compiled and run."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    assert compiler, "a C compiler is needed: make compiler has Debian's; elsewhere install one"
    folder = tmp_path_factory.mktemp("c")
    sources = [str(SENDERS / "barwright_block.c"), str(Path(__file__).parent / "host.c")]
    subprocess.run([compiler, *WORDS, f"-I{SENDERS}", *sources, "-o", str(folder / "host")], check=True, timeout=60)
    done = subprocess.run([str(folder / "host"), str(folder)], capture_output=True, text=True, timeout=30)
    assert done.returncode == 0, done.stderr
    return Ran(folder, done.stdout.splitlines())


def test_it_needs_nothing_but_stdio_and_string() -> None:
    text = (SENDERS / "barwright_block.c").read_text() + (SENDERS / "barwright_block.h").read_text()
    told = {line.split()[1] for line in text.splitlines() if line.startswith("#include")}
    assert told == {'"barwright_block.h"', "<stddef.h>", "<stdint.h>", "<stdio.h>", "<string.h>"}


def test_floats_in_cbor(ran: Ran) -> None:
    block = decode_block((ran.folder / "floats").read_bytes(), "application/cbor", None, "imu", Limits())
    assert (block.boot, block.seq) == ("7f3a.12", 70000)
    assert block.t_us.tolist() == [-2500 + 2500 * i for i in range(50)]
    for channel, name in enumerate(IMU_CHANNELS):
        assert block.channels[name].tolist() == [0.5 * i - channel for i in range(50)]


def test_counts_with_a_scale(ran: Ran) -> None:
    body = (ran.folder / "counts").read_bytes()
    units = {"accel": "m/s2", "gyro": "rad/s"}
    block = decode_block(body, "application/vnd.barwright.int16", None, "imu", Limits(), units)
    assert (block.boot, block.seq, int(block.t_us[0])) == ("7f3a.12", 70001, 5_000_000_000)
    for channel, name in enumerate(IMU_CHANNELS):
        scale = 0.0048828125 if channel < 3 else 0.00106526
        expected = (100 * np.arange(50) - 3000 * channel) * scale
        np.testing.assert_allclose(block.channels[name], expected, rtol=1e-9, atol=1e-12)


def test_boots_clock_pauses_and_answers(ran: Ran) -> None:
    boots, clock, pauses, again, too_small = ran.lines
    one, two, torn, after = map(int, boots.split())
    assert (one, two) == (1, 2)
    assert torn == 0  # it could not be written, so nothing may be sent with it
    assert after == 3  # and then nobody has carried that number
    assert clock.split() == ["4294967290", str(4294967290 + 16)]
    waits = list(map(int, pauses.split()))
    assert 250 <= waits[0] < 500
    assert all(before / 1.01 <= after for before, after in pairwise(waits) if before < 10_000)
    assert 15_000 <= waits[-1] < 30_000
    assert again == "1 0 0 1 1 1"
    assert too_small == "0"
