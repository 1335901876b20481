"""Writes the sample recordings of Quarry Lane Lifting Club, each with its truth: `python -m make_samples [FOLDER]`.

Everything is generated from the seeds below; the same seeds give the same bytes.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from barsim import EncoderKind, Mounting, Options, SimulatedRecording, Unmodelled, simulate
from barwright.analysis.motion.samples import Recording
from sample_formats import (
    Columns,
    as_blocks,
    as_cbor,
    as_csv,
    as_json,
    as_parquet,
    blocks_json,
    columns_of,
    truth_json,
)

G_AND_DEGREES = {"accel": "[g]", "gyro": "deg/s"}
SI = {"accel": "m/s2", "gyro": "rad/s"}
METRES = {"position": "m"}
_WRITERS = {".csv": as_csv, ".parquet": as_parquet, ".cbor": as_cbor, ".json": as_json}


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample file: who lifts what, seen by which sensor, written how. started_at: when, invented."""

    file: str
    lifter: str
    lift: str
    load_kg: float
    started_at: str
    seed: int
    units: dict[str, str]
    device: str = "good"
    bar_axis: str = "+x"
    reps: int = 1
    options: Options = field(default_factory=Options)
    unmodelled: Unmodelled = field(default_factory=Unmodelled)


_SHORT = Options(first_rest_s=1.5, hold_s=1.2, last_rest_s=1.2, rest_between_s=(1.2, 1.6))
_LOWERED = Options(first_rest_s=1.5, hold_s=1.2, last_rest_s=1.2, finish="lowered")
_ONE_MISS = Options(
    first_rest_s=1.5, hold_s=1.2, last_rest_s=1.2, rest_between_s=(1.5, 2.0), outcomes=("forward_miss", "made")
)
SAMPLES = (
    Sample(
        "imke_snatch_55.csv", "Imke", "snatch", 55, "2026-11-02T17:10:00Z", 101, G_AND_DEGREES, reps=2, options=_SHORT,
    ),
    Sample(
        "imke_snatch_63.csv", "Imke", "snatch", 63, "2026-11-02T17:16:00Z", 102, G_AND_DEGREES, reps=2, options=_SHORT,
    ),
    Sample("imke_snatch_70.csv", "Imke", "snatch", 70, "2026-11-02T17:23:00Z", 103, G_AND_DEGREES, options=_SHORT),
    Sample(
        "tomas_clean_and_jerk_120.cbor", "Tomas", "clean_and_jerk", 120, "2026-11-03T18:05:00Z", 104, SI,
        bar_axis="-y", options=_SHORT,
    ),
    Sample(
        "rana_back_squat_80.parquet", "Rana", "back_squat", 80, "2026-11-03T18:40:00Z", 105, SI, device="fast", reps=5,
        bar_axis="+y", options=Options(first_rest_s=2.0, rest_between_s=(1.0, 2.0), last_rest_s=2.0),
    ),
    Sample(
        "oskar_snatch_95_one_miss.json", "Oskar", "snatch", 95, "2026-11-04T06:50:00Z", 106, G_AND_DEGREES,
        device="hobby", bar_axis="+z", reps=2, options=_ONE_MISS,
    ),
    Sample(
        "oskar_snatch_85_gaps.csv", "Oskar", "snatch", 85, "2026-11-04T06:40:00Z", 107, SI, device="hobby",
        bar_axis="+z", options=_LOWERED, unmodelled=Unmodelled(lost=0.01, bursts=2, burst_s=0.08),
    ),
    Sample("lucja_bench_press_35.csv", "Lucja", "bench_press", 35, "2026-11-05T16:20:00Z", 108, METRES, reps=5),
    Sample(
        "tomas_deadlift_150_imu.cbor", "Tomas", "deadlift", 150, "2026-11-06T18:15:00Z", 109, G_AND_DEGREES,
        bar_axis="-y", reps=3, options=Options(first_rest_s=1.5, last_rest_s=1.5),
    ),
    Sample(
        "imke_snatch_60_blocks.json", "Imke", "snatch", 60, "2026-11-09T17:12:00Z", 110, G_AND_DEGREES, device="hobby",
        options=_LOWERED,
    ),
)  # fmt: skip
_BOTH = {"tomas_deadlift_150_imu.cbor": "tomas_deadlift_150_string.csv"}
_STRING = EncoderKind(rate_hz=200.0, resolution_m=0.0005, noise_m=0.0002)
_MISSING_SEQ, _DOUBLE_SEQ = 4, 2


def main(folder: Path) -> dict[str, bytes]:
    """Write every sample file into `folder`; answers name -> content."""
    written: dict[str, bytes] = {}
    for sample in SAMPLES:
        written.update(files_of(sample))
    for name, content in written.items():
        (folder / name).write_bytes(content)
    return written


def files_of(sample: Sample) -> dict[str, bytes]:
    """One sample's files: the recording in its format (or as block sequences) and the truth."""
    one = simulated(sample)
    files: dict[str, bytes] = {}
    columns = columns_of(one.recording, sample.units)
    if sample.file.endswith("_blocks.json"):
        for name, content in _block_files(sample, columns).items():
            files[name] = content
            files[truth_name(name)] = truth_json(one, meta_of(sample, one.recording))
    else:
        writer = _WRITERS[Path(sample.file).suffix]
        files[sample.file] = writer(columns, sample.units)
        files[truth_name(sample.file)] = truth_json(one, meta_of(sample, one.recording))
    if sample.file in _BOTH and one.encoder_recording:
        name = _BOTH[sample.file]
        files[name] = as_csv(columns_of(one.encoder_recording, METRES), METRES)
        files[truth_name(name)] = truth_json(one, meta_of(sample, one.encoder_recording))
    return files


def simulated(sample: Sample) -> SimulatedRecording:
    """The simulated set behind a sample."""
    string_only = "position" in sample.units
    return simulate(
        sample.lift, seed=sample.seed, lifter=sample.lifter, load_kg=sample.load_kg, reps=sample.reps,
        device=None if string_only else sample.device,
        encoder=_STRING if string_only or sample.file in _BOTH else None,
        options=sample.options, unmodelled=sample.unmodelled, mounting=Mounting(bar_axis=sample.bar_axis),
    )  # fmt: skip


def truth_name(file: str) -> str:
    """The truth beside a recording: imke_snatch_70.csv -> imke_snatch_70.truth.json."""
    return f"{Path(file).stem}.truth.json"


def meta_of(sample: Sample, recording: Recording) -> dict[str, Any]:
    """What is told about the recording when it is sent, in the words of the wire contract."""
    encoder = recording.setup.bar_axis is None
    meta: dict[str, Any] = {
        "athlete": sample.lifter,
        "device": f"{sample.lifter}'s {'string' if encoder else 'bar sensor'}",
        "lift": sample.lift,
        "load_kg": sample.load_kg,
        "started_at": sample.started_at,
        "units": METRES if encoder else sample.units,
        "rate_hz": recording.setup.nominal_rate_hz,
    }
    return meta if encoder else {**meta, "bar_axis": sample.bar_axis}


def _block_files(sample: Sample, columns: Columns) -> dict[str, bytes]:
    blocks = as_blocks(columns, sample.units, 1.0, "first")
    stem = sample.file.removesuffix(".json")
    missing = [block for block in blocks if block["seq"] != _MISSING_SEQ]
    doubled = [*blocks[: _DOUBLE_SEQ + 2], blocks[_DOUBLE_SEQ], *blocks[_DOUBLE_SEQ + 2 :]]
    return {
        sample.file: blocks_json(blocks, sample.units),
        f"{stem}_one_missing.json": blocks_json(missing, sample.units),
        f"{stem}_one_twice.json": blocks_json(doubled, sample.units),
    }


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for file, content in main(target).items():
        print(f"{len(content):>9,}  {file}")
