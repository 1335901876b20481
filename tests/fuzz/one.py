"""Fuzzes one decoder in this process: `python -m fuzz.one NAME FOLDER [options of libFuzzer]`."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["barwright.ingest"]):
    from fuzz.targets import TARGETS

MOST_S = 1.0  # of processor time


def no_hang(try_one: Callable[[bytes], None]) -> Callable[[bytes], None]:
    """A case that works for longer than a second is a finding; one that only waited for a busy machine is none."""

    def timed(data: bytes) -> None:
        begun = time.process_time()
        try_one(data)
        taken = time.process_time() - begun
        assert taken <= MOST_S, f"{taken:.1f} s of processor time for {len(data)} bytes"

    return timed


def main() -> None:
    """Writes the seeds into the folder and hands over to atheris, which ends the process."""
    name, folder, *options = sys.argv[1:]
    target = TARGETS[name]
    corpus = Path(folder) / name
    corpus.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(target.seeds):
        (corpus / f"seed{number}").write_bytes(seed)
    atheris.Setup([sys.argv[0], *options, str(corpus)], no_hang(target.try_one))
    atheris.Fuzz()


main()
