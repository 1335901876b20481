"""What is fuzzed: a decoder each, with good examples to begin from. Anything but a result or a refusal is a finding."""

from __future__ import annotations

import gzip
import json
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import cbor2
import zstandard
from hypothesis import HealthCheck, find, given, settings
from hypothesis import strategies as st

from barwright.api.live_socket import _order_in
from barwright.ingest.block import Block, unpack_many
from barwright.ingest.calibration_body import read_calibration_body
from barwright.ingest.compressed import decompressed
from barwright.ingest.decode import decode_block
from barwright.ingest.file_layout import FileLayout
from barwright.ingest.history_csv import read_history
from barwright.ingest.int16 import MEDIA_TYPE as INT16_TYPE
from barwright.ingest.preview import preview_recording
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.refusals import REFUSALS, Refusal
from barwright.ingest.senml import CBOR_TYPE, JSON_TYPE
from conftest import still_poses
from ingest.bodies import CBOR, JSON, LIMITS, as_cbor, as_json, imu_members
from ingest.test_fuzz import _PLAIN, _TAGGED, BLOCKS, COLUMNS, FILES, PACK

MOST_UNFOLDED = 1_000_000


@dataclass(frozen=True, slots=True)
class Target:
    """try_one: takes any bytes and raises only for a finding. seeds: good inputs."""

    try_one: Callable[[bytes], None]
    seeds: tuple[bytes, ...]


def _refused_well(refusal: Refusal) -> None:
    assert refusal.code in REFUSALS
    assert refusal.detail


def _block(content_type: str, encoding: str | None = None, squeeze: Callable[[bytes], bytes] | None = None) -> Target:
    """squeeze: the bytes are what the body holds, not the body; its damage has a target of its own."""

    def try_one(data: bytes) -> None:
        body = data if squeeze is None else squeeze(data)
        for kind in ("imu", "encoder"):
            try:
                block = decode_block(body, content_type, encoding, kind, LIMITS)
            except Refusal as refusal:
                _refused_well(refusal)
            else:
                assert block.pack()

    seeds = tuple(body for body, its, coded in BLOCKS if its == content_type and coded is None)
    return Target(try_one, seeds)


def _file(name: str, *endings: str) -> Target:
    def try_one(data: bytes) -> None:
        try:
            read_recording_file(data, name, None, None, LIMITS)
        except Refusal as refusal:
            _refused_well(refusal)
        preview_recording(data, name, None, FileLayout(), LIMITS)

    return Target(try_one, tuple(body for body, its in FILES if its.endswith(endings)))


def _unfold(encoding: str, fold: Callable[[bytes], bytes]) -> Target:
    def try_one(data: bytes) -> None:
        try:
            assert len(decompressed(data, encoding, MOST_UNFOLDED)) <= MOST_UNFOLDED
        except Refusal as refusal:
            _refused_well(refusal)

    return Target(try_one, (fold(b"x" * 3000), fold(as_json(imu_members())), fold(b"a") + fold(b"b"), fold(b"")))


def _history(data: bytes) -> None:
    try:
        read_history(data, date(2026, 3, 1))
    except Refusal as refusal:
        _refused_well(refusal)


def _calibration(data: bytes) -> None:
    for content_type in (JSON, CBOR):
        try:
            read_calibration_body(data, content_type, LIMITS)
        except Refusal as refusal:
            _refused_well(refusal)


def _message(data: bytes) -> None:
    """A message of a WebSocket: an order, or a block as text or as bytes."""
    text = data.decode("utf-8", "replace")
    order = _order_in(text)
    assert order is None or "type" in order
    for body, content_type in ((text.encode(), JSON), (data, CBOR)):
        try:
            decode_block(body, content_type, None, "imu", LIMITS)
        except Refusal as refusal:
            _refused_well(refusal)


def _stored(data: bytes) -> None:
    try:
        for block in unpack_many(data):
            assert isinstance(block, Block)
    except ValueError as error:
        if "stored block" not in str(error):
            raise


@settings(deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(changes=st.dictionaries(st.sampled_from([*imu_members(), "sent_at", "buffered", "t_us"]), _PLAIN | _TAGGED))
def _any_members(changes: dict[str, Any]) -> None:
    """A good block with other values in its members, made by hypothesis out of what the fuzzer sends."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        body = cbor2.dumps({**imu_members(), **changes})
    try:
        decode_block(body, CBOR, None, "imu", LIMITS)
    except Refusal as refusal:
        _refused_well(refusal)


@settings(deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(
    columns=st.dictionaries(
        st.sampled_from([*COLUMNS, "units", "blocks", "channels", "t_us", "accel_x", "bn", "v"]), _PLAIN | _TAGGED
    ),
    as_pack=st.booleans(),
)
def _any_columns(columns: dict[str, Any], as_pack: bool) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        body = cbor2.dumps([*PACK[:3], columns] if as_pack else columns)
    try:
        read_recording_file(body, "a.cbor", None, None, LIMITS)
    except Refusal as refusal:
        _refused_well(refusal)


def _by_hypothesis(test: Any) -> Target:
    # Where no run before kept them, hypothesis lists all characters with its first text, for a second and in 200 MB.
    find(st.text(min_size=1), bool, settings=settings(database=None))
    return Target(lambda data: test.hypothesis.fuzz_one_input(data) and None, (b"\x00" * 64, bytes(range(200))))


_POSES = json.dumps(still_poses()).encode()
TARGETS: dict[str, Target] = {
    "json": _block(JSON),
    "cbor": _block(CBOR),
    "json-in-gzip": _block(JSON, "gzip", gzip.compress),
    "cbor-in-zstd": _block(CBOR, "zstd", zstandard.compress),
    "gzip": _unfold("gzip", gzip.compress),
    "zstd": _unfold("zstd", zstandard.compress),
    "senml-json": _block(JSON_TYPE),
    "senml-cbor": _block(CBOR_TYPE),
    "int16": _block(INT16_TYPE),
    "csv": _file("set.csv", ".csv", ".txt"),
    "parquet": _file("set.parquet", ".parquet"),
    "ndjson": _file("set.ndjson", ".ndjson"),
    "file-json": _file("set.json", ".json", ".senml"),
    "file-cbor": _file("set.cbor", ".cbor", ".senmlc"),
    "any-file": _file("set", ".csv", ".gz", ".i16", ".json"),
    "history": Target(
        _history,
        (
            b"date,lift,set,load[kg],reps,missed,velocity[m/s],velocity_u[m/s],note\n"
            b'2026-02-01,back_squat,2,102.5,3,1,0.62,0.02,"slow, tired"\n',
            b"lift;date;load\nsnatch;2026-02-01;70\n",
        ),
    ),
    "calibration": Target(_calibration, (_POSES, cbor2.dumps(json.loads(_POSES)), as_json(imu_members()))),
    "websocket": Target(_message, (b'{"type":"watch"}', b'{"type":"close","wait":1}', as_json(imu_members()))),
    "stored": Target(_stored, tuple(decode_block(*one, "imu", LIMITS).pack() for one in BLOCKS[:2])),
    "members": _by_hypothesis(_any_members),
    "columns": _by_hypothesis(_any_columns),
}
__all__ = ["TARGETS", "Target", "as_cbor"]
