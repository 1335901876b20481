"""Fuzzes every decoder, one after the other, and tells how many cases each saw: `make fuzz`.

A finding is a crash, a case over 1 s of processor time, or more than 500 MB; its input is kept in build/fuzz, and the
end is not zero. atheris (Apache-2.0) makes the cases and follows which branches they reach; where an input has an inner
shape it goes through hypothesis (MPL-2.0).
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import time
from pathlib import Path

FOLDER = Path("build/fuzz")
NAMES = (
    "json", "cbor", "json-in-gzip", "cbor-in-zstd", "gzip", "zstd", "senml-json", "senml-cbor", "int16", "csv",
    "parquet", "ndjson", "file-json", "file-cbor", "any-file", "history", "calibration", "websocket", "stored",
    "members", "columns",
)  # fmt: skip
HANG_S = 60  # of waiting; what takes 1 s of processor time is found by fuzz.one
MOST_MB, LONGEST_INPUT = 500, 4096
AT_ONCE = 250_000  # cases of one process: atheris keeps up to half a kB of each, which is none of the decoder's


def main() -> int:
    """All of them, or those that were named."""
    parser = argparse.ArgumentParser(prog="python -m fuzz")
    parser.add_argument("--cases", type=int, default=1_000_000, help="of each decoder (default: one million)")
    parser.add_argument("--minutes", type=float, default=10.0, help="of each decoder at most")
    parser.add_argument("--only", help="names separated by commas: " + ", ".join(NAMES))
    told = parser.parse_args()
    names = told.only.split(",") if told.only else list(NAMES)
    found = 0
    print(f"{'decoder':<14} {'cases':>9} {'s':>6} {'cases/s':>8} {'MB':>5}  found")
    for name in names:
        line, good = _fuzz(name, told.cases, told.minutes)
        print(line, flush=True)
        found += not good
    return 1 if found else 0


def _fuzz(name: str, cases: int, minutes: float) -> tuple[str, bool]:
    """A line of the table, and whether nothing was found."""
    runs, seconds, megabytes, exit_code = 0, 0.0, 0, 0
    begun = time.monotonic()
    while runs < cases and exit_code == 0 and (left_s := minutes * 60 - (time.monotonic() - begun)) >= 1:
        figures, exit_code = _one_process(name, min(AT_ONCE, cases - runs), left_s)
        its_runs, rate = figures.get("number_of_executed_units", 0), figures.get("average_exec_per_sec", 0)
        runs += its_runs
        seconds += its_runs / rate if rate else 0.0
        megabytes = max(megabytes, figures.get("peak_rss_mb", 0))
        if its_runs == 0:
            break
    good = exit_code == 0 and runs > 0
    what = "nothing" if good else f"see {FOLDER / name}.log (exit {exit_code})"
    return f"{name:<14} {runs:>9} {seconds:>6.0f} {runs / seconds if seconds else 0:>8.0f} {megabytes:>5}  {what}", good


def _one_process(name: str, cases: int, seconds: float) -> tuple[dict[str, int], int]:
    """The fuzzer's figures and exit code. What it learnt stays in the corpus for the next process."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    command = [
        sys.executable, "-m", "fuzz.one", name, str(FOLDER / "corpus"), f"-runs={cases}",
        f"-max_total_time={int(seconds)}", f"-timeout={HANG_S}", f"-rss_limit_mb={MOST_MB}",
        f"-max_len={LONGEST_INPUT}", f"-artifact_prefix={FOLDER / name}-", "-print_final_stats=1", "-verbosity=0",
    ]  # fmt: skip
    environ = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "ARROW_DEFAULT_MEMORY_POOL": "system"}
    done = subprocess.run(command, capture_output=True, text=True, env=environ, check=False)
    said = done.stdout + done.stderr
    (FOLDER / f"{name}.log").write_text(said[-200_000:])
    return {key: int(value) for key, value in re.findall(r"stat::(\w+):\s+(\d+)", said)}, done.returncode


if __name__ == "__main__":
    sys.exit(main())
