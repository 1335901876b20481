"""Fuzzes one decoder in this process: `python -m fuzz.one NAME FOLDER [options of libFuzzer]`."""

from __future__ import annotations

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["barwright.ingest"]):
    from fuzz.targets import TARGETS


def main() -> None:
    """Writes the seeds into the folder and hands over to atheris, which ends the process."""
    name, folder, *options = sys.argv[1:]
    target = TARGETS[name]
    corpus = Path(folder) / name
    corpus.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(target.seeds):
        (corpus / f"seed{number}").write_bytes(seed)
    atheris.Setup([sys.argv[0], *options, str(corpus)], target.try_one)
    atheris.Fuzz()


main()
