"""The tables, printed as they are done: `python -m bench [--lifts 200] [--only accuracy,speed] [--write FILE]`."""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scipy

from bench.accuracy import accuracy, mismatch, single_errors
from bench.chaos import chaos
from bench.day_maximum import day_maximum
from bench.device_check import calibration, device_check
from bench.encoders import encoders
from bench.extrapolation import extrapolation
from bench.full_disk import full_disk
from bench.ingest import ingest
from bench.kills import kills
from bench.live import live
from bench.live_load import live_load
from bench.many_processes import kills_postgresql, workers
from bench.many_sets import many_reps, many_sets
from bench.mqtt import mqtt
from bench.outcomes import outcomes
from bench.readiness_speed import readiness_speed
from bench.recordings_with_truth import recordings_with_truth
from bench.speed import speed
from bench.strength_speed import strength_speed
from bench.tables import Table
from bench.technique import technique
from bench.verdicts import readiness_verdicts
from bench.work import Bench

TABLES: dict[str, Callable[[Bench], list[Table]]] = {
    "accuracy": accuracy,
    "mismatch": mismatch,
    "single_errors": single_errors,
    "outcomes": outcomes,
    "encoders": encoders,
    "recordings": recordings_with_truth,
    "speed": speed,
    "live": live,
    "live_load": live_load,
    "ingest": ingest,
    "mqtt": mqtt,
    "day_maximum": day_maximum,
    "readiness": readiness_verdicts,
    "extrapolation": extrapolation,
    "strength_speed": strength_speed,
    "readiness_speed": readiness_speed,
    "technique": technique,
    "device_check": device_check,
    "calibration": calibration,
    "many_sets": many_sets,
    "many_reps": many_reps,
    "workers": workers,
    "kills_postgresql": kills_postgresql,
    "kills": kills,
    "chaos": chaos,
    "full_disk": full_disk,
}
READING = """\
Every set is simulated from a seed that draws lifter, load, motion and sensor errors afresh, and analysed as a recording
that came in. Figures come from made reps. `in 2u` is the share of truths inside value +/- 2u: 92-98 % is honest
(`met`), less is too sure (`low`), more too shy (`wide`). RMSE/u is the error over the rms of the stated u: 1 is honest.
Targets stand after `<`. Path errors are the greatest of each rep. Licence-clean recordings of a bar-mounted inertial
sensor beside an optical reference were looked for and not found: bar motion is checked on simulated truth."""


def machine() -> str:
    """One line: processor, cores, Python, numpy, scipy."""
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if "model name" in line]
        cpu = names[0] if names else cpu
    return (
        f"{cpu}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, scipy {scipy.__version__}"
    )


def main() -> int:
    """Run the chosen tables."""
    ask = argparse.ArgumentParser(prog="bench", description=__doc__)
    ask.add_argument("--lifts", type=int, default=200, help="recordings a row (default 200)")
    ask.add_argument("--only", default=",".join(TABLES), help=f"tables, with commas: {', '.join(TABLES)}")
    ask.add_argument("--write", type=Path, help="write the tables as Markdown to this file too")
    asked = ask.parse_args()
    chosen = asked.only.split(",")
    unknown = [name for name in chosen if name not in TABLES]
    if unknown or asked.lifts < 1:
        ask.error(f"no table called {', '.join(unknown)}" if unknown else "--lifts must be at least 1")
    head = f"Machine: {machine()}. Recordings a row: {asked.lifts}."
    print(f"{head}\n\n{READING}\n", flush=True)
    done: list[Table] = []
    with Bench(asked.lifts) as bench:
        for name in chosen:
            for table in TABLES[name](bench):
                print(table.text(), flush=True)
                done.append(table)
    if asked.write:
        command = f"Made by `make bench`, tables {', '.join(chosen)}."
        pages = "\n".join(table.markdown() for table in done)
        asked.write.write_text(f"# Validation\n\n{command} {head}\n\n{READING}\n\n{pages}")
        print(f"written: {asked.write}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
