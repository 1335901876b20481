"""Whatever comes in, nothing but a block or a refusal comes out."""

from __future__ import annotations

import gzip
import io
import json
import warnings
from typing import Any

import cbor2
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import zstandard
from hypothesis import given, settings
from hypothesis import strategies as st

from barwright.ingest.block import IMU_CHANNELS, Block, unpack_many
from barwright.ingest.decode import decode_block
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.int16 import MEDIA_TYPE
from barwright.ingest.preview import preview_recording
from barwright.ingest.recording_file import RecordingFile, read_recording_file
from barwright.ingest.refusals import REFUSALS, Refusal
from barwright.ingest.senml import CBOR_TYPE, JSON_TYPE
from ingest.awkward import NEWCOMER, text, truth
from ingest.bodies import CBOR, JSON, LIMITS, as_cbor, as_json, imu_csv, imu_members


def _parquet() -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table({"t_s": np.arange(30) / 100, "position[m]": np.arange(30) / 7}), sink)
    return sink.getvalue()


COLUMNS = {"t_s": [i / 100 for i in range(12)], "position[m]": [1.5] * 12}
PACK = [
    {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": 1.0, "bu": "m/s2", "n": "boot", "vs": "b1"},
    {"n": "seq", "v": 3},
    *(
        {"n": name, "t": i / 100, "v": 9.5, **({} if name[0] == "a" else {"u": "rad/s"})}
        for i in range(4)
        for name in IMU_CHANNELS
    ),
]
INT16 = (
    b'barwright-int16 {"columns": ["position"], "scale": {"position": 0.5}, "units": {"position": "mm"}, '
    b'"rate_hz": 50, "boot": "b1", "seq": 3, "t0_us": 5}\n' + np.arange(30, dtype="<i2").tobytes()
)
BLOCKS = [
    (as_json(imu_members()), JSON, None),
    (as_cbor(imu_members()), CBOR, None),
    (cbor2.dumps(imu_members()), CBOR, None),
    (gzip.compress(as_json(imu_members())), JSON, "gzip"),
    (zstandard.compress(as_cbor(imu_members())), CBOR, "zstd"),
    (json.dumps(PACK).encode(), JSON_TYPE, None),
    (cbor2.dumps(PACK), CBOR_TYPE, None),
    (INT16, MEDIA_TYPE, None),
]
FILES = [
    (imu_csv().encode(), "set.csv"),
    (_parquet(), "set.parquet"),
    (json.dumps(COLUMNS).encode(), "set.json"),
    (cbor2.dumps(COLUMNS), "set.cbor"),
    (gzip.compress(imu_csv().encode()), "set.csv.gz"),
    (
        "\n".join(json.dumps({"t_s": i / 100, "pos": {"z": i}, "position": 1.5}) for i in range(12)).encode(),
        "set.ndjson",
    ),
    (json.dumps(PACK).encode(), "set.senml"),
    (cbor2.dumps(PACK), "set.senmlc"),
    (INT16, "set.i16"),
    (text(truth()[:40], between=";").encode("utf-16"), "set.txt"),
    (text(truth()[:40], NEWCOMER.replace("time_ms", "time")).encode(), "set.csv"),
]


def _block(body: bytes, content_type: str, encoding: str | None, kind: Any = "imu") -> None:
    try:
        block = decode_block(body, content_type, encoding, kind, LIMITS)
    except Refusal as refusal:
        _check(refusal)
        return
    assert isinstance(block, Block)
    assert all(len(values) == len(block.t_us) and np.isfinite(values).all() for values in block.channels.values())


def _file(body: bytes, name: str) -> None:
    try:
        recording = read_recording_file(body, name, None, None, LIMITS)
    except Refusal as refusal:
        _check(refusal)
        _check_foretold(body, name, refusal.code)
        return
    assert isinstance(recording, RecordingFile)
    _check_foretold(body, name, None)
    assert all(np.isfinite(v).all() for block in recording.blocks for v in block.channels.values())


def _check_foretold(body: bytes, name: str, code: str | None) -> None:
    """The preview says the same."""
    refusal = preview_recording(body, name, None, FileLayout(), LIMITS).refusal
    assert (None if refusal is None else refusal.code) == code


def _check(refusal: Refusal) -> None:
    assert refusal.code in REFUSALS
    assert 10 < len(refusal.detail) < 600


def _spoiled(body: bytes, edits: list[tuple[int, int]], stop: int) -> bytes:
    spoiled = bytearray(body)
    for at, byte in edits:
        spoiled[at % len(body)] = byte
    return bytes(spoiled[: 1 + stop % len(body)])


_EDITS = st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=4)
_STOP = st.one_of(st.just(-1), st.integers(0, 10**6))  # -1 keeps everything


@given(
    body=st.binary(max_size=300), which=st.sampled_from([(JSON, None), (CBOR, None), (JSON, "gzip"), (CBOR, "zstd")])
)
@settings(deadline=None, max_examples=150)
def test_any_bytes_as_a_block(body: bytes, which: tuple[str, str | None]) -> None:
    _block(body, *which)
    _block(body, *which, kind="encoder")


@given(which=st.sampled_from(BLOCKS), edits=_EDITS, stop=_STOP)
@settings(deadline=None, max_examples=300)
def test_spoiled_blocks(which: tuple[bytes, str, str | None], edits: list[tuple[int, int]], stop: int) -> None:
    _block(_spoiled(which[0], edits, stop), which[1], which[2])


_PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.binary(max_size=9),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)
_TAGGED = st.builds(cbor2.CBORTag, st.integers(0, 300), _PLAIN)
_NAME = st.sampled_from(["boot", "seq", "t0_us", "dt_us", "t_us", "channels", "sent_at", "buffered"])


@given(changes=st.dictionaries(_NAME, _PLAIN | _TAGGED, min_size=1, max_size=3))
@settings(deadline=None, max_examples=300)
def test_any_value_in_any_member(changes: dict[str, Any]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        body = cbor2.dumps({**imu_members(), **changes})
    _block(body, CBOR, None)


@given(values=st.lists(_PLAIN | _TAGGED, min_size=20, max_size=20), name=st.sampled_from(["accel_x", "gyro_z"]))
@settings(deadline=None, max_examples=60)
def test_any_values_in_a_channel(values: list[Any], name: str) -> None:
    members = imu_members()
    members["channels"][name] = values
    _block(cbor2.dumps(members), CBOR, None)


@given(
    body=st.binary(max_size=300),
    name=st.sampled_from(
        ["a.csv", "a.json", "a.cbor", "a.parquet", "a", "a.gz", "a.senml", "a.senmlc", "a.i16", "a.ndjson"]
    ),
)
@settings(deadline=None, max_examples=150)
def test_any_bytes_as_a_file(body: bytes, name: str) -> None:
    _file(body, name)


@given(cells=st.text(alphabet='019.,;-+e\n\r\t"_ nat[]xyz', max_size=200))
@settings(deadline=None, max_examples=150)
def test_any_text_under_a_good_header(cells: str) -> None:
    _file(("t_s,position[m]\n" + cells).encode(), "a.csv")
    _file(("t_s;position[m]\n" + cells).encode(), "a.csv")
    _file(("time  height (mm)\n" + cells).encode(), "a.txt")


@given(which=st.sampled_from(FILES), edits=_EDITS, stop=_STOP)
@settings(deadline=None, max_examples=300)
def test_spoiled_files(which: tuple[bytes, str], edits: list[tuple[int, int]], stop: int) -> None:
    _file(_spoiled(which[0], edits, stop), which[1])


@given(
    columns=st.dictionaries(
        st.sampled_from(["t_s", "position[m]", "units", "blocks", "channels", "x"]), _PLAIN | _TAGGED
    )
)
@settings(deadline=None, max_examples=150)
def test_any_value_in_any_column(columns: dict[str, Any]) -> None:
    _file(cbor2.dumps(columns), "a.cbor")


@given(edits=_EDITS.filter(bool), stop=_STOP)
@settings(deadline=None, max_examples=150)
def test_a_damaged_stored_block_is_a_value_error_or_the_block(edits: list[tuple[int, int]], stop: int) -> None:
    block = Block("b", 0, np.arange(9), {"position": np.linspace(0, 1, 9)})
    stored = block.pack()
    spoiled = _spoiled(stored, edits, stop)
    if spoiled == stored:
        return
    with pytest.raises(ValueError, match="stored block"):
        unpack_many(spoiled)
