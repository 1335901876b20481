"""Whole recordings from files; CSV as in RFC 4180 and as spreadsheets write it (common practice, no source)."""

from __future__ import annotations

import gzip
import io
import json
from dataclasses import replace
from typing import Any

import cbor2
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import zstandard

from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.ingest.block import IMU_CHANNELS
from barwright.ingest.recording_file import RecordingFile, read_recording_file
from barwright.ingest.recording_of import recording_of
from barwright.ingest.refusals import Refusal
from barwright.ingest.typed_arrays import tag_of_array
from ingest.bodies import LIMITS, as_cbor, as_json, imu_csv, imu_members

POSITION = "t_s,position[mm]\n0,1.5\n0.01,2.5\n0.02,4\n"


def _read(body: bytes | str, name: str = "set.csv", units: Any = None, **changes: Any) -> RecordingFile:
    content = body.encode() if isinstance(body, str) else body
    return read_recording_file(content, name, None, units, replace(LIMITS, **changes))


def _values(recording: RecordingFile) -> list[float]:
    return np.concatenate([b.channels["position"] for b in recording.blocks]).tolist()


def test_csv_of_an_imu() -> None:
    recording = _read(imu_csv())
    (block,) = recording.blocks
    assert (recording.kind, recording.notes, block.boot, block.seq) == ("imu", (), "file", 0)
    assert recording.units == {"accel": "m/s2", "gyro": "deg/s"}
    assert block.t_us.tolist() == [i * 10_000 for i in range(12)]
    assert block.channels["gyro_z"].tolist() == [i * 0.5 + 5 for i in range(12)]
    assert list(block.channels) == list(IMU_CHANNELS)


@pytest.mark.parametrize(
    "text",
    [
        POSITION.replace("\n", "\r\n"),
        "\ufeff" + POSITION,
        POSITION + "\n\r\n\n",
        POSITION.rstrip("\n"),
        POSITION.replace(",", ";"),
        POSITION.replace(",", "\t"),
        POSITION.replace(",", ";").replace(".", ","),
        POSITION.replace(",", "\t").replace(".", ","),
        POSITION.replace("t_s,position[mm]", " T_S , position [mm] "),
        POSITION.replace("t_s,position[mm]", "t_s[s],position[mm]"),
        POSITION.replace("\n", ",\n"),
        '"t_s","position[mm]"\n"0","1.5"\n"0.01","2.5"\n"0.02","4"\n',
        't_s,label,position[mm]\n0,"pull, then ""catch""",1.5\n0.01,"two\nlines",2.5\n0.02,,4\n',
        "t_s,position[mm]\n0, 1.5\n1e-2,+25e-1\n.02,4.\n",
    ],
)
def test_ways_to_write_one_recording(text: str) -> None:
    recording = _read(text)
    assert recording.units == {"position": "mm"}
    assert _values(recording) == [1.5, 2.5, 4.0]
    assert recording.blocks[0].t_us.tolist() == [0, 10_000, 20_000]


@pytest.mark.parametrize(("name", "times"), [("t_s", "0.000001"), ("t_ms", "0.001"), ("t_us", "1")])
def test_time_columns(name: str, times: str) -> None:
    recording = _read(f"{name},position[m]\n0,1\n{times},2\n")
    assert recording.blocks[0].t_us.tolist() == [0, 1]


def test_suffix_of_standard_gravity() -> None:
    header = "t_ms," + ",".join(f"{n}[{'[g]' if 'accel' in n else 'rad/s'}]" for n in IMU_CHANNELS)
    assert _read(imu_csv(header=header)).units == {"accel": "[g]", "gyro": "rad/s"}


def test_units_may_be_declared_and_may_agree_with_the_header() -> None:
    plain = "t_s,position\n0,1.5\n"
    assert _read(plain, units={"position": "cm"}).units == {"position": "cm"}
    assert _read(POSITION, units={"position": "mm", "accel": "[g]"}).units == {"position": "mm"}


READ_AS_SI = {
    "accel": "No unit was given for accel: read as m/s2.",
    "gyro": "No unit was given for gyro: read as rad/s.",
}


def test_columns_without_any_unit_are_si_and_the_notes_say_so() -> None:
    plain = imu_csv(header="t_ms," + ",".join(IMU_CHANNELS))
    recording = _read(plain)
    assert recording.units == {"accel": "m/s2", "gyro": "rad/s"}
    assert recording.notes == tuple(READ_AS_SI.values())
    partly = _read(plain, units={"accel": "[g]"})
    assert (partly.units, partly.notes) == ({"accel": "[g]", "gyro": "rad/s"}, (READ_AS_SI["gyro"],))
    for name, unit in (("position", "m"), ("velocity", "m/s")):
        encoder = _read(f"t_s,{name}\n0,1.5\n")
        assert encoder.units == {name: unit}
        assert encoder.notes == (f"No unit was given for {name}: read as {unit}.",)
    one_suffix = _read(imu_csv().replace("accel_y[m/s2]", "accel_y").replace("accel_z[m/s2]", "accel_z"))
    assert (one_suffix.units["accel"], one_suffix.notes) == ("m/s2", (READ_AS_SI["accel"],))


def test_blocks_in_a_file_may_go_without_numbers() -> None:
    first, second = ({k: v for k, v in imu_members().items() if k not in ("boot", "seq")} for _ in range(2))
    second = {**second, "t0_us": imu_members()["t0_us"] + 1_000_000}
    recording = _read(as_json([first, second]), "set.json")
    assert [(b.boot, b.seq) for b in recording.blocks] == [("file", 0), ("file", 1)]
    assert _read(as_json(first), "set.json").blocks[0].seq == 0


def test_blocks_in_a_file_without_units_are_si_too() -> None:
    recording = _read(as_json([imu_members()]), "set.json", {"gyro": "deg/s"})
    assert recording.units == {"accel": "m/s2", "gyro": "deg/s"}
    assert recording.notes == (READ_AS_SI["accel"],)


def test_columns_left_out_are_told() -> None:
    text = imu_csv()
    header, *rows = text.splitlines()
    both = "\n".join([header + ",velocity[m/s],battery", *(row + ",0.1,3.7" for row in rows)])
    recording = _read(both)
    assert recording.kind == "imu"
    assert any("velocity" in note for note in recording.notes)
    assert any("battery" in note for note in recording.notes)
    two = _read("t_s,position[m],velocity[m/s]\n0,1.5,0\n")
    assert (list(two.units), len(two.notes)) == (["position"], 1)


def test_a_string_on_the_same_bar_comes_with_the_imu() -> None:
    header, *rows = imu_csv().splitlines()
    recording = _read("\n".join([header + ",position[mm]", *(f"{row},{100 + i}" for i, row in enumerate(rows))]))
    assert (recording.kind, recording.units["position"]) == ("imu", "mm")
    part = recording_of(recording.blocks, recording.kind, recording.units, SensorSetup()).parts[0]
    assert isinstance(part, ImuSamples)
    assert part.position_m is not None
    assert part.position_m.tolist() == pytest.approx([0.1 + 0.001 * i for i in range(len(rows))])


def _columns(count: int = 12) -> dict[str, list[float]]:
    return {"t_s": [i / 100 for i in range(count)], "position[m]": [i / 7 for i in range(count)]}


def _parquet(columns: dict[str, Any]) -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table(columns), sink)
    return sink.getvalue()


@pytest.mark.parametrize(
    ("body", "name"),
    [
        (json.dumps(_columns()).encode(), "set.json"),
        (json.dumps(_columns()).encode(), ""),
        (cbor2.dumps(_columns()), "set.cbor"),
        (cbor2.dumps({k: tag_of_array(np.array(v, ">f8")) for k, v in _columns().items()}), ""),
        (_parquet(_columns()), "anything"),
        (gzip.compress(json.dumps(_columns()).encode()), "set.json.gz"),
        (zstandard.compress(_parquet(_columns())), "set.parquet.zst"),
        (
            json.dumps(
                {"units": {"position": "m"}, "t_s": _columns()["t_s"], "position": _columns()["position[m]"]}
            ).encode(),
            "",
        ),
    ],
)
def test_formats_give_the_same_recording(body: bytes, name: str) -> None:
    text = "t_s,position[m]\n" + "".join(f"{t!r},{p!r}\n" for t, p in zip(*_columns().values(), strict=True))
    expected, recording = _read(text), _read(body, name)
    assert recording.units == {"position": "m"}
    assert [b.digest() for b in recording.blocks] == [b.digest() for b in expected.blocks]


def test_parquet_of_float32_and_whole_numbers() -> None:
    body = _parquet({"t_us": pa.array([0, 10_000], pa.uint32()), "position[m]": pa.array([0.5, 0.25], pa.float32())})
    assert _values(_read(body)) == [0.5, 0.25]


def test_the_content_type_tells_the_format() -> None:
    body = json.dumps(_columns()).encode()
    assert read_recording_file(body, "set.dat", "application/json", None, LIMITS).kind == "encoder"


@pytest.mark.parametrize("wrap", [lambda b: b, lambda b: [b], lambda b: {"blocks": [b]}, lambda b: {"blocks": [b, b]}])
def test_blocks_in_a_file(wrap: Any) -> None:
    units = {"accel": "[g]", "gyro": "deg/s"}
    recording = _read(as_json(wrap(imu_members(seq=4))), "set.json", units)
    assert (recording.kind, recording.units) == ("imu", units)
    assert {(b.boot, b.seq) for b in recording.blocks} == {("b1", 4)}


def test_a_cbor_block_with_units_in_the_file() -> None:
    members = imu_members(units={"accel": "[g]", "gyro": "deg/s"})
    assert _read(as_cbor(members), "set.cbor").units == {"accel": "[g]", "gyro": "deg/s"}


def test_a_long_file_is_cut_within_the_limits_and_at_gaps() -> None:
    times = [*range(100), *range(100_000, 100_100)]  # 10 ms steps, and a hole of 999 s
    text = "t_ms,position[m]\n" + "".join(f"{t * 10},{t}\n" for t in times)
    blocks = _read(text, block_samples=30).blocks
    assert [len(b.t_us) for b in blocks] == [30, 30, 30, 10, 30, 30, 30, 10]
    assert [b.seq for b in blocks] == list(range(8))
    assert np.concatenate([b.t_us for b in blocks]).tolist() == [t * 10_000 for t in times]
    assert all(b.t_us[-1] - b.t_us[0] <= 120e6 for b in blocks)


def test_blocks_of_a_file_keep_to_the_bytes_of_a_block() -> None:
    text = "t_ms,position[m]\n" + "".join(f"{i * 10},{i}\n" for i in range(100))
    assert [len(b.t_us) for b in _read(text, block_bytes=16 * 40).blocks] == [40, 40, 20]


def test_parquet_with_a_clock_of_dates() -> None:
    times = pa.array([1_700_000_000_000_000 + 5000 * i for i in range(30)], pa.timestamp("us"))
    values = pa.array([0.5 + 0.01 * i for i in range(30)])
    for name in ("timestamp", "__index_level_0__"):
        recording = _read(_parquet({"position[m]": values, name: times}))
        assert recording.blocks[0].t_us[:2].tolist() == [1_700_000_000_000_000, 1_700_000_000_005_000]
    with pytest.raises(Refusal, match="says two units"):
        _read(_parquet({"position[m]": values, "t_s": times}))
