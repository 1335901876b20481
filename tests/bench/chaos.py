"""Live sets while the service is killed, the network gone and senders killed: is anything lost, twice, or other?"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from barsim import simulate
from barwright.ingest.block import Block
from bench.chaos_findings import problems_of, streams_of
from bench.chaos_sender import BLOCK, Orders, taken
from bench.cut_line import CutLine
from bench.kills import results_of, wait_until_done
from bench.tables import Table
from bench.work import Bench
from contract.servers import Server, run

PLANS = (("back_squat", 12), ("snatch", 5), ("bench_press", 12), ("clean", 5), ("deadlift", 8))
SETS, KILLS, KILLED_SENDERS, CUT_S, SEED = 20, 20, 6, 60.0, 20261128
EVERY_S = 8.0  # a set begins
BETWEEN_KILLS_S = (0.5, 12.0)  # after the service is ready again
CUT_AFTER_S = 70.0
CLUB = "Quarry Lane Lifting Club"


@dataclass(frozen=True, slots=True)
class Lift:
    """One recording. columns: t_us and six channels."""

    number: int
    about: dict[str, Any]
    columns: dict[str, np.ndarray]

    @property
    def seconds(self) -> float:
        """From the first sample to the last."""
        return float(np.ptp(self.columns["t_us"])) * 1e-6

    def blocks(self, boot: str) -> list[Block]:
        """As the sender cuts it."""
        t_us = self.columns["t_us"]
        channels = {name: column for name, column in self.columns.items() if name != "t_us"}
        starts = range(0, len(t_us), BLOCK)
        return [
            Block(boot, seq, t_us[a : a + BLOCK], {name: one[a : a + BLOCK] for name, one in channels.items()})
            for seq, a in enumerate(starts)
        ]


@dataclass
class Found:
    """What was done. samples: that the spool of each set took in all; killed: sets whose senders were."""

    kills: int = 0
    killed: set[int] = field(default_factory=set)
    seconds: float = 0.0
    samples: dict[int, int] = field(default_factory=dict)


def chaos(bench: Bench) -> list[Table]:
    """All of it with 200 recordings a row, a tenth as many sets and kills with 20."""
    share = min(1.0, bench.lifts / 200)
    sets, kills = max(2, round(SETS * share)), max(2, round(KILLS * share))
    cut_s, victims = CUT_S * share, max(1, round(KILLED_SENDERS * share))
    lifts = [_lift(number) for number in range(sets)]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        whole = _undisturbed(folder / "undisturbed", lifts)
        found = _disturbed(folder / "disturbed", lifts, kills, victims, cut_s, CUT_AFTER_S * share)
        cut_short = [_first(lifts[number], found.samples[number]) for number in sorted(found.killed)]
        short = _undisturbed(folder / "cut_short", cut_short)
        problems = problems_of(folder / "disturbed", [one.blocks for one in lifts], {**whole, **short}, found.samples)
        verdict = run("verify", "--data", folder / "disturbed")
    rows = (
        ("live sets", str(sets)),
        ("samples pushed", str(sum(found.samples.values()))),
        ("kill -9 of the service, and a start each", str(found.kills)),
        ("seconds without a network", f"{cut_s:.0f}"),
        ("senders killed in mid-set, and begun again", str(len(found.killed))),
        *((name, str(count)) for name, count in problems.items()),
        ("verify", f"exit code {verdict.returncode}: {verdict.stdout.strip().splitlines()[-1]}"),
        ("seconds", f"{found.seconds:.0f}"),
    )
    notes = (
        f"A set of {min(one.seconds for one in lifts):.0f} to {max(one.seconds for one in lifts):.0f} s begins every "
        f"{EVERY_S:g} s, each sent by `Client.live` from a process of its own; seed {SEED}.",
        f"The service is killed {BETWEEN_KILLS_S[0]:g} to {BETWEEN_KILLS_S[1]:g} s after it is ready, network or not.",
        "Every block is held against the simulated samples by its digest; results bit for bit against a service nobody "
        "disturbs, for a killed sender with the samples it had pushed until then.",
    )
    return [Table("Live sets under chaos (SQLite)", ("", "found"), rows, notes)]


def _lift(number: int) -> Lift:
    lift, reps = PLANS[number % len(PLANS)]
    part = simulate(lift, seed=700 + number, device="hobby", reps=reps).recording.parts[0]
    names = [f"{kind}_{axis}" for kind in ("accel", "gyro") for axis in "xyz"]
    columns = dict(zip(names, np.hstack((part.accel_m_s2, part.gyro_rad_s)).T, strict=True))
    t_us = np.rint(np.asarray(part.t_s) * 1e6).astype(np.int64)
    about = {
        "lift": lift,
        "load_kg": 60 + number,
        "athlete": f"Lifter {number}",
        "device": f"bar {number}",
        "device_kind": "imu",
        "started_at": f"2026-03-{1 + number:02}T17:00:00+00:00",
    }
    return Lift(number, about, {"t_us": t_us, **{name: np.ascontiguousarray(one) for name, one in columns.items()}})


def _first(lift: Lift, samples: int) -> Lift:
    return replace(lift, columns={name: one[:samples] for name, one in lift.columns.items()})


def _orders(lift: Lift, url: str, key: str, folder: Path, pace: float) -> Orders:
    place = folder / f"sender{lift.number}"
    place.mkdir()
    np.savez(place / "recording.npz", **lift.columns)
    return Orders(url, key, str(place), str(place / "recording.npz"), lift.about, pace)


def _undisturbed(data: Path, lifts: Sequence[Lift]) -> dict[int, str]:
    """Results by number of a service nobody disturbs, the same way but in a hurry."""
    key = run("new-key", "--data", data, "--club", CLUB).stdout.strip()
    server = Server(data)
    try:
        for lift in lifts:
            subprocess.run(_orders(lift, server.url, key, data, 1000.0).words(), check=True, env=_env())
        wait_until_done(data)
    finally:
        server.stop()
    print(f"chaos: {len(lifts)} sets undisturbed", file=sys.stderr, flush=True)
    found = results_of(data)
    return {number: found[set_id] for number, _, set_id in streams_of(data)}


def _disturbed(data: Path, lifts: Sequence[Lift], kills: int, victims: int, cut_s: float, cut_after_s: float) -> Found:
    chance, found = random.Random(SEED), Found()
    key = run("new-key", "--data", data, "--club", CLUB).stdout.strip()
    place = {"server": Server(data)}
    line = CutLine(lambda: int(place["server"].url.rpartition(":")[2]))
    orders = [_orders(lift, line.url, key, data, 1.0) for lift in lifts]
    killed_after = {
        number: chance.uniform(0.25, 0.9) * lifts[number].seconds
        for number in chance.sample(range(len(lifts)), victims)
    }
    begun = time.monotonic()
    devices = [
        threading.Thread(target=_device, args=(one, number * EVERY_S, killed_after.get(number), number, found))
        for number, one in enumerate(orders)
    ]
    cut = threading.Timer(cut_after_s, line.pull_out, [cut_s])
    for thread in (*devices, cut):
        thread.start()
    while any(one.is_alive() for one in devices):
        time.sleep(chance.uniform(*BETWEEN_KILLS_S))
        if found.kills < kills:
            place["server"].kill()
            place["server"] = Server(data)
            found.kills += 1
            print(f"chaos: {found.kills} kills, {time.monotonic() - begun:.0f} s", file=sys.stderr, flush=True)
    wait_until_done(data)
    found.seconds = time.monotonic() - begun
    place["server"].stop()
    line.close()
    return found


def _device(orders: Orders, after_s: float, killed_after_s: float | None, number: int, found: Found) -> None:
    """Begins, is killed if it is its turn, and begins again with what the spool holds."""
    time.sleep(after_s)
    process = subprocess.Popen(orders.words(), env=_env())
    found.samples[number] = len(np.load(orders.recording)["t_us"])
    if killed_after_s is not None:
        time.sleep(killed_after_s)
        process.kill()
        if process.wait() < 0:
            found.killed.add(number)
            found.samples[number] = taken(Path(orders.folder))
            process = subprocess.Popen(replace(orders, resume=True).words(), env=_env())
    assert process.wait() == 0


def _env() -> dict[str, str]:
    return {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
