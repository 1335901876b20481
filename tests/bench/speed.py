"""Time and memory from samples to reps, each measured in a fresh process with one numerical thread."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from barsim import Options, simulate
from bench.tables import Table, against
from bench.work import Bench

MINUTES = (1, 2, 5, 10, 30)
COLUMNS = ("length", "samples", "CPU s", "CPU us a sample", "against 1 min", "peak memory MB", "reps found")


@dataclass(frozen=True, slots=True)
class Timed:
    """What `bench.timed_run` measured on one recording."""

    samples: int
    true_reps: int
    told: dict[str, float]

    @property
    def reps(self) -> str:
        """Found reps of true ones."""
        return f"{self.told['reps']:.0f} of {self.true_reps}"


def speed(bench: Bench) -> list[Table]:
    """One 30 s set at 1000 Hz, and how cost grows to 30 minutes at 200 Hz."""
    with tempfile.TemporaryDirectory() as folder:
        one = _timed(Path(folder), 30.0, "fast", 7, "with-filter")
        found = [_timed(Path(folder), 60.0 * m, "hobby", 3 if m < 10 else 1) for m in MINUTES]
    return [_set_of_thirty_seconds(one), Table("Cost against length: snatches at 200 Hz", COLUMNS, _rows(found))]


def _set_of_thirty_seconds(one: Timed) -> Table:
    told = one.told
    rows = (
        ("samples to reps, CPU, median of 7", f"{against(told['cpu_s'], 0.1, 1, 1000)} ms"),
        ("samples to reps, wall, median of 7", f"{1000 * told['wall_s']:.1f} ms"),
        ("first run in a new process, CPU", f"{1000 * told['first_s']:.1f} ms"),
        ("peak memory of the process", f"{against(told['peak_mb'], 300, 0)} MB"),
        ("of that, added by the analysis", f"{told['added_mb']:.0f} MB"),
        ("reps found", one.reps),
        ("plain-Python orientation filter on the same samples, CPU", f"{1000 * told['filter_s']:.0f} ms"),
        ("orientation filter over the whole analysis", f"{told['filter_s'] / told['cpu_s']:.1f} x"),
    )
    return Table(f"Speed: {one.samples / 1000:.0f} s snatch set, 1000 Hz, 6 axes", ("figure", "value"), rows)


def _rows(found: list[Timed]) -> tuple[tuple[str, ...], ...]:
    a_sample = [one.told["cpu_s"] / one.samples for one in found]
    return tuple(
        (
            f"{minutes} min", str(one.samples), f"{one.told['cpu_s']:.2f}", f"{1e6 * each:.1f}",
            f"{each / a_sample[0]:.2f}", f"{one.told['peak_mb']:.0f}", one.reps,
        )
        for minutes, one, each in zip(MINUTES, found, a_sample, strict=True)
    )  # fmt: skip


def _timed(folder: Path, length_s: float, device: str, runs: int, *more: str) -> Timed:
    """Simulate snatches, cut them at length_s, and time the analysis in a process that has seen nothing else."""
    print(f"speed: {length_s:.0f} s", file=sys.stderr, flush=True)
    pause = (1.5, 2.5) if length_s <= 30 else (8.0, 16.0)
    count, simulated = max(2, round(length_s / (9.0 if length_s <= 30 else 22.0))), None
    while simulated is None or simulated.duration_s < length_s:
        count += max(1, count // 10)
        simulated = simulate("snatch", seed=3, device=device, reps=count, options=Options(rest_between_s=pause))
    samples = simulated.imu_samples
    keep = samples.t_s <= length_s
    file = folder / "samples.npz"
    np.savez(file, t_s=samples.t_s[keep], accel=samples.accel_m_s2[keep], gyro=samples.gyro_rad_s[keep])
    env = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    ask = [sys.executable, "-m", "bench.timed_run", str(file), device, str(runs), *more]
    told = json.loads(subprocess.run(ask, env=env, check=True, stdout=subprocess.PIPE).stdout)
    pulled = sum(rep.concentric[1] < length_s for rep in simulated.truth.reps)  # the last is cut while it is caught
    return Timed(int(keep.sum()), pulled, told)
