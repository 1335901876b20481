"""Every refusal of a recording file names the line or the column, and what would be right."""

from __future__ import annotations

import gzip
import io
from dataclasses import replace
from typing import Any

import cbor2
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from barwright.ingest.block import IMU_CHANNELS
from barwright.ingest.recording_file import read_recording_file
from ingest.bodies import LIMITS, as_json, imu_csv, imu_members, refusal_of

HEAD = "t_s,position[m]\n"
ROWS = "0,1\n0.01,2\n0.02,3\n"

# text, declared units, limits changed, code, words
CSV: list[tuple[str, Any, dict[str, Any], str, tuple[str, ...]]] = [
    (HEAD + "0,1\n0.01\n", None, {}, "bad-row", ("Line 3", "1 cells", "2")),
    (HEAD + "0,1\n0.01,2,3\n", None, {}, "bad-row", ("Line 3", "3 cells")),
    (HEAD + '0,1\n0.01,"2"3\n', None, {}, "bad-row", ("Line 3", "RFC 4180")),
    (HEAD + '0,1\n0.01,"2\n', None, {}, "bad-row", ("Line 3",)),
    (HEAD + "0,1\n\n0.01,two\n", None, {}, "not-a-number", ("`position[m]`", "'two'", "line 4")),
    (HEAD + "0,1\n0.01,\n", None, {}, "not-a-number", ("`position[m]`", "empty", "line 3")),
    (HEAD + "0,1_000\n", None, {}, "not-a-number", ("'1_000'", "line 2")),
    (HEAD.replace(",", ";") + "0;1.234,5\n", None, {}, "not-a-number", ("'1.234,5'", "line 2")),
    (HEAD + "0,1\n\n0.01,nan\n", None, {}, "not-finite", ("`position[m]`", "nan", "line 4")),
    (HEAD + "0,1\n\n0.01,1e300\n", None, {}, "value-too-large", ("`position[m]`", "1e+300", "line 4")),
    (HEAD + "0,1\ninf,2\n", None, {}, "not-finite", ("`t_s`", "inf", "line 3")),
    (HEAD + "0,1\n0.02,2\n\n0.01,3\n", None, {}, "time-runs-backwards", ("`t_s`", "0.02", "0.01", "line 5")),
    (HEAD + "0,1\n1e10,2\n", None, {}, "bad-member", ("`t_s`", "line 3")),
    ("a," * 5_000_000, None, {}, "too-many-arrays", ("5000001 columns", "1000")),
    (HEAD, None, {}, "no-samples", ("no samples",)),
    ("", None, {}, "no-samples", ("The file is empty", "header")),
    ("a,b\n1,2\n", None, {}, "missing-column", ("a, b", "position")),
    ("0,1\n0.01,2\n", None, {}, "missing-column", ("0, 1",)),
    ("position[m]\n1\n", None, {}, "missing-column", ("t_s, t_ms or t_us",)),
    ("t_s,t_ms,position[m]\n0,0,1\n", None, {}, "time-unclear", ("t_s and t_ms",)),
    ("t_s,position[m],Position[mm]\n0,1,1\n", None, {}, "repeated-column", ("`position`", "twice")),
    ("t_s,accel_x[m/s2],gyro_z[deg/s]\n0,1,1\n", None, {}, "missing-axis", ("accel_x, gyro_z", "accel_y")),
    (imu_csv().replace("accel_y[m/s2]", "accel_y").replace("[m/s2]", "[[g]]"), None, {}, "unit-conflict",
     ("`accel_y` names no unit, so it is read in `m/s2`", "`accel_x[[g]]` says `[g]`")),
    (imu_csv().replace("accel_x[m/s2]", "accel_x").replace("[m/s2]", "[[g]]"), None, {}, "unit-conflict",
     ("`accel_x` names no unit, so it is read in `m/s2`", "`accel_y[[g]]` says `[g]`")),
    ("t_s,position[inch]\n0,1\n", None, {}, "unknown-unit", ("`inch`", "`cm`")),
    (imu_csv().replace("accel_y[m/s2]", "accel_y[g]"), None, {}, "unit-conflict", ("`accel_y[g]`", "`m/s2`")),
    (imu_csv().replace("accel_y[m/s2]", "accel_y[[g]]"), None, {}, "unit-conflict", ("`accel_y[[g]]`", "`m/s2`")),
    (HEAD + ROWS, {"position": "mm"}, {}, "unit-conflict", ("`position[m]`", "declared units say `mm`")),
    ("t_s[ms],position[m]\n0,1\n", None, {}, "unit-conflict", ("`t_s[ms]`", "`s`")),
    (HEAD + ROWS, {"position": "g"}, {}, "unknown-unit", ("`position`", "`g`")),
    (HEAD + ROWS, {"place": "m"}, {}, "unknown-member", ("`place`", "position")),
    (HEAD + ROWS, None, {"recording_samples": 2}, "too-many-samples", ("more than 2", "line 4")),
    (HEAD + ROWS, None, {"recording_body_bytes": 20}, "body-too-large", ("20",)),
    (HEAD + ROWS, None, {"recording_bytes": 20}, "decompressed-too-large", ("20",)),
    (HEAD + "0,1\n1801,2\n", None, {}, "too-long", ("1801.0 s", "1800 s")),
    (HEAD + "".join(f"{i / 10},1\n" for i in range(20)), None, {}, "rate-out-of-limits", ("10 Hz", "`t_s`", "4000")),
]  # fmt: skip


@pytest.mark.parametrize(("text", "units", "changed", "code", "words"), CSV)
def test_csv(text: str, units: Any, changed: dict[str, Any], code: str, words: tuple[str, ...]) -> None:
    refusal = refusal_of(read_recording_file, text.encode(), "set.csv", "text/csv", units, replace(LIMITS, **changed))
    assert refusal.code == code
    assert refusal.pointer is None or refusal.pointer.startswith("/units")
    assert all(word in refusal.detail for word in words), refusal.detail


def test_csv_that_is_no_text() -> None:
    for body in ((HEAD + ROWS).encode() + b"\x00\x01\xff", (HEAD + ROWS).encode("utf-16")[:-1]):
        refusal = refusal_of(read_recording_file, body, "set.csv", None, None, LIMITS)
        assert (refusal.code, refusal.status) == ("unreadable", 400)
        assert "UTF-8" in refusal.detail


def test_something_else() -> None:
    refusal = refusal_of(read_recording_file, b"\x00\x01\x02", "set.bin", None, None, LIMITS)
    assert (refusal.code, refusal.status) == ("unknown-content-type", 415)
    assert "Parquet" in refusal.detail


UNITS = {"units": {"position": "m"}}

# members of a JSON or CBOR file, code, pointer, words
MEMBERS: list[tuple[Any, str, str, tuple[str, ...]]] = [
    (3, "bad-member", "", ("the number 3",)),
    ([], "no-samples", "", ("empty",)),
    ({"blocks": 3}, "bad-member", "/blocks", ("the number 3", "list")),
    ({"blocks": [3]}, "bad-member", "/blocks/0", ("the number 3",)),
    ({"blocks": [imu_members(), imu_members(seq=-1)], "units": {"accel": "[g]", "gyro": "deg/s"}}, "bad-member",
     "/blocks/1/seq", ("the number -1",)),
    ({"t_s": [0, 1], "position": [1, 2, 3], **UNITS}, "unequal-columns", "/position", ("3", "2")),
    ({"t_s": [0, 0.01], "position": [1, "2"], **UNITS}, "not-a-number", "/position/1", ("text", "sample 1")),
    ({"t_s": [0, 0.01], "position": 4, **UNITS}, "bad-member", "/position", ("the number 4",)),
    ({"t_s": [0.01, 0], "position": [1, 2], **UNITS}, "time-runs-backwards", "/t_s/1", ("0.01 back to 0",)),
    ({"t_s": [], "position": [], **UNITS}, "no-samples", "/t_s", ("no samples",)),
    ({"t_s": [0], "position[mm]": [1], **UNITS}, "unit-conflict", "/position[mm]", ("`mm`", "`m`")),
    ({"t_s": [0], "position[ft]": [1]}, "unknown-unit", "/position[ft]", ("`ft`",)),
    ({"t_s": [0], "position": [1], "units": {"position": "feet"}}, "unknown-unit", "/units/position", ("`feet`",)),
    ({"t_s": [0], "position": [1], "units": "m"}, "bad-member", "/units", ("text",)),
    ({"position": [1], **UNITS}, "missing-column", "/t_us", ("t_s",)),
    ({"t_s": [0], "accel_x": [1]}, "missing-axis", "/accel_y", ("accel_y",)),
]  # fmt: skip


@pytest.mark.parametrize(("members", "code", "pointer", "words"), MEMBERS)
def test_members(members: Any, code: str, pointer: str, words: tuple[str, ...]) -> None:
    for body, name in ((as_json(members), "set.json"), (cbor2.dumps(members), "set.cbor")):
        refusal = refusal_of(read_recording_file, body, name, None, None, LIMITS)
        assert (refusal.code, refusal.status, refusal.pointer) == (code, 422, pointer)
        assert all(word in refusal.detail for word in words), refusal.detail


def test_units_in_the_file_against_declared_ones() -> None:
    body = as_json({"t_s": [0], "position": [1], **UNITS})
    refusal = refusal_of(read_recording_file, body, "set.json", None, {"position": "mm"}, LIMITS)
    assert (refusal.code, refusal.pointer) == ("unit-conflict", "/units/position")


def test_too_many_samples_in_members() -> None:
    limits = replace(LIMITS, recording_samples=30)
    columns = as_json({"t_us": list(range(0, 40_000, 1000)), "position[m]": [1] * 40})
    units = {"accel": "[g]", "gyro": "deg/s"}
    blocks = as_json([imu_members(), imu_members(seq=1)])
    for body in (columns, blocks):
        refusal = refusal_of(read_recording_file, body, "set.json", None, units, limits)
        assert (refusal.code, refusal.status) == ("too-many-samples", 422)
        assert "40 samples; the limit is 30" in refusal.detail


NOTHING = pa.array([], pa.float64())


def _parquet(columns: dict[str, Any], **options: Any) -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table(columns), sink, **options)
    return sink.getvalue()


@pytest.mark.parametrize(
    ("columns", "changed", "code", "words"),
    [
        ({"t_s": [0.0], "position[m]": ["1"]}, {}, "not-a-number", ("`position[m]`", "string")),
        ({"t_s": [0.0, 0.01], "position[m]": [1.0, None]}, {}, "not-a-number", ("`position[m]`", "row 1")),
        ({"t_s": [0.0, 0.01], "position[m]": [1.0, float("nan")]}, {}, "not-finite", ("nan", "row 1")),
        ({"t_s": [0.01, 0.0], "position[m]": [1.0, 2.0]}, {}, "time-runs-backwards", ("row 1",)),
        ({"t_s": [0.0] * 9, "position[m]": [1.0] * 9}, {"recording_samples": 8}, "too-many-samples", ("9 samples",)),
        ({"t_s": NOTHING, "position[m]": NOTHING}, {}, "no-samples", ("no samples",)),
        ({name: [0.0] for name in ("t_s", *IMU_CHANNELS[:5])}, {}, "missing-axis", ("gyro_z",)),
    ],
)  # fmt: skip
def test_parquet(columns: Any, changed: dict[str, Any], code: str, words: tuple[str, ...]) -> None:
    limits = replace(LIMITS, **changed)
    refusal = refusal_of(read_recording_file, _parquet(columns), "set.parquet", None, None, limits)
    assert (refusal.code, refusal.pointer) == (code, None)
    assert all(word in refusal.detail for word in words), refusal.detail


def test_parquet_that_unfolds_to_too_much() -> None:
    columns = {"t_s": [0.0] * 10_000, "position[m]": [1.0] * 10_000}
    body = _parquet(columns, compression="zstd", use_dictionary=False)
    limits = replace(LIMITS, recording_bytes=50_000)
    assert len(body) < 5_000
    refusal = refusal_of(read_recording_file, body, "set.parquet", None, None, limits)
    assert (refusal.code, refusal.status) == ("decompressed-too-large", 413)
    assert "the limit is 50000" in refusal.detail


def test_parquet_that_is_none_or_cut() -> None:
    whole = _parquet({"t_s": [0.0], "position[m]": [1.0]})
    for body in (whole[:-20], whole[: len(whole) // 2], b"PAR1", b"PAR1" + bytes(50) + b"PAR1"):
        refusal = refusal_of(read_recording_file, body, "set.parquet", None, None, LIMITS)
        assert (refusal.code, refusal.status) == ("unreadable", 400)
        assert "Parquet" in refusal.detail


def test_a_cut_gzip_file() -> None:
    refusal = refusal_of(read_recording_file, gzip.compress((HEAD + ROWS).encode())[:-5], "set.csv", None, None, LIMITS)
    assert (refusal.code, refusal.status) == ("truncated", 400)
