"""Sending the sample recordings: files as files, live sets piece by piece as a device would."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from barwright_client import Client, CutBy, SetResult

Columns = dict[str, list[float]]
Told = Callable[[int, int], None]

# Sent while they are lifted, so to say; everything else is sent as a file afterwards.
LIVE = ("imke_snatch_60_blocks.json", "lucja_bench_press_35.csv")
# The same set as imke_snatch_60_blocks.json, damaged on purpose for the tests of gaps and repeats.
LEFT_OUT = ("imke_snatch_60_blocks_one_missing.json", "imke_snatch_60_blocks_one_twice.json")


@dataclass(frozen=True, slots=True)
class Sample:
    """A recording, what to send along (meta), and the truth of its reps."""

    file: Path
    meta: dict[str, Any]
    reps: list[dict[str, Any]]

    @property
    def live(self) -> bool:
        """Sent in blocks rather than as a file."""
        return self.file.name in LIVE


def samples_in(folder: Path) -> list[Sample]:
    """The recordings that have their truth beside them, in the order they were made."""
    found = []
    for truth_file in folder.glob("*.truth.json"):
        truth = json.loads(truth_file.read_text())
        name = truth_file.name.removesuffix(".truth.json")
        (file,) = (each for each in folder.glob(f"{name}.*") if each != truth_file)
        if file.name not in LEFT_OUT:
            found.append(Sample(file, truth["meta"], truth["reps"]))
    return sorted(found, key=lambda sample: (sample.meta["started_at"], sample.file.name))


def moved_by(samples: list[Sample], today: date) -> timedelta:
    """By how many days the recordings are moved, so that the latest of them is of yesterday."""
    latest = max(datetime.fromisoformat(sample.meta["started_at"]) for sample in samples)
    return timedelta(days=(today - timedelta(days=1) - latest.date()).days)


def send(client: Client, sample: Sample, told: Told, moved: timedelta = timedelta(0)) -> SetResult:
    """One set to the service; told(done, in all) as it goes, in bytes for a file and in samples for a live set."""
    meta = dict(sample.meta)
    meta["started_at"] = datetime.fromisoformat(meta["started_at"]) + moved
    if not sample.live:
        return client.record(sample.file, **meta, progress=told)
    parts = list(pieces(sample))
    total = sum(len(piece["t_us"]) for piece in parts)
    sent = 0
    with client.stream(**meta, cut_by=CutBy(samples=int(meta["rate_hz"]))) as stream:
        for piece in parts:
            stream.push(piece)
            sent += len(piece["t_us"])
            told(sent, total)
        return stream.close(wait_s=60)


def pieces(sample: Sample) -> Iterator[Columns]:
    """A set as a device hands it out: a fraction of a second at a time."""
    if sample.file.suffix == ".json":
        for block in json.loads(sample.file.read_text())["blocks"]:
            yield {"t_us": block["t_us"], **block["channels"]}
        return
    with sample.file.open(newline="") as text:
        head, *rows = csv.reader(text)
    names = [column.partition("[")[0] for column in head]
    at_once = max(1, int(sample.meta["rate_hz"]) // 4)
    for start in range(0, len(rows), at_once):
        columns = zip(*rows[start : start + at_once], strict=True)
        piece = {name: [float(cell) for cell in column] for name, column in zip(names, columns, strict=True)}
        piece["t_us"] = [round(1e6 * t) for t in piece.pop("t_s")]
        yield piece
