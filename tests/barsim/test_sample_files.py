"""The sample files: the same bytes every time, small, readable by the service, and true to their truth."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from barsim import SimulatedRecording
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples
from barwright.ingest.limits import Limits
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.recording_of import recording_of
from make_samples import SAMPLES, files_of, main, meta_of, simulated, truth_name

FOLDER = Path(__file__).parents[2] / "sample_streams"
RECORDINGS = sorted(
    path.name
    for path in FOLDER.iterdir()
    if path.suffix in (".csv", ".parquet", ".cbor", ".json") and not path.name.endswith(".truth.json")
)


@cache
def simulated_as() -> dict[str, SimulatedRecording]:
    """The simulated set behind each file."""
    return {name: simulated(sample) for sample in SAMPLES for name in files_of(sample)}


def test_the_same_bytes_every_time(tmp_path: Path) -> None:
    first, second = tmp_path / "a", tmp_path / "b"
    first.mkdir()
    second.mkdir()
    assert main(first) == main(second)
    assert {p.name: p.read_bytes() for p in first.iterdir()} == {p.name: p.read_bytes() for p in second.iterdir()}
    assert sum(path.stat().st_size for path in first.iterdir()) < 3_000_000


def test_every_recording_has_its_truth_and_the_folder_holds_nothing_stale(tmp_path: Path) -> None:
    fresh = set(main(tmp_path))
    assert {name for name in fresh if not name.endswith(".truth.json")} == set(RECORDINGS)
    assert {truth_name(name) for name in RECORDINGS} <= fresh
    for name in RECORDINGS:
        kept = json.loads((FOLDER / truth_name(name)).read_text())
        new = json.loads((tmp_path / truth_name(name)).read_text())
        assert kept["meta"] == new["meta"]
        for a, b in zip(kept["reps"], new["reps"], strict=True):
            assert a["measures"] == pytest.approx(b["measures"], abs=1e-4)


@pytest.mark.parametrize("name", RECORDINGS)
def test_the_service_reads_it_back_as_the_simulated_samples(name: str) -> None:
    meta = json.loads((FOLDER / truth_name(name)).read_text())["meta"]
    file = read_recording_file((FOLDER / name).read_bytes(), name, None, meta["units"], Limits())
    one = simulated_as()[name]
    setup = one.recording.setup
    if "one_missing" in name:
        assert [block.seq for block in file.blocks] == [k for k in range(len(file.blocks) + 1) if k != 4]
        return
    read = recording_of(file.blocks, file.kind, file.units, setup).parts
    assert len(read) == 1
    part = read[0]
    if isinstance(part, ImuSamples):
        np.testing.assert_allclose(part.t_s, one.imu_samples.t_s, atol=1e-9)
        np.testing.assert_allclose(part.accel_m_s2, one.imu_samples.accel_m_s2, atol=1e-3)
        np.testing.assert_allclose(part.gyro_rad_s, one.imu_samples.gyro_rad_s, atol=1e-4)
    else:
        assert isinstance(part, EncoderSamples)
        assert part.position_m is not None
        np.testing.assert_allclose(part.position_m, one.string_m, atol=1e-4)


def test_the_doubled_block_comes_twice_and_is_the_same() -> None:
    blocks = json.loads((FOLDER / "imke_snatch_60_blocks_one_twice.json").read_text())["blocks"]
    order = [block["seq"] for block in blocks]
    assert order == [0, 1, 2, 3, 2, *range(4, max(order) + 1)]
    assert blocks[2] == blocks[4]


def test_truth_tells_what_to_send_and_what_happened() -> None:
    miss = json.loads((FOLDER / "oskar_snatch_95_one_miss.truth.json").read_text())
    assert [rep["outcome"] for rep in miss["reps"]] == ["failed", "made"]
    assert miss["meta"]["bar_axis"] == "+z"
    bench = json.loads((FOLDER / "lucja_bench_press_35.truth.json").read_text())
    assert "bar_axis" not in bench["meta"]
    assert bench["meta"]["units"] == {"position": "m"}
    assert len(bench["reps"]) == 5
    both = json.loads((FOLDER / "tomas_deadlift_150_string.truth.json").read_text())
    assert both["reps"] == json.loads((FOLDER / "tomas_deadlift_150_imu.truth.json").read_text())["reps"]
    assert meta_of(SAMPLES[0], simulated(SAMPLES[0]).recording)["device"] == "Imke's bar sensor"
    path = miss["reps"][1]["path"]
    dz = np.gradient(path["z_m"], path["t_s"])
    np.testing.assert_allclose(dz[2:-2], path["vz"][2:-2], atol=0.15)
