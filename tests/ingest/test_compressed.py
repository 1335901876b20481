"""Small bodies that unfold to very much are refused before they are unfolded."""

from __future__ import annotations

import gzip
import time
import tracemalloc
import zlib
from collections.abc import Callable

import pytest
import zstandard

from barwright.ingest.compressed import decompressed
from barwright.ingest.decode import decode_block
from barwright.ingest.limits import MIB
from barwright.ingest.recording_file import read_recording_file
from barwright.ingest.refusals import Refusal
from ingest.bodies import JSON, LIMITS, refusal_of

GIB = 1024 * MIB


def _gzip_bomb() -> bytes:
    return gzip.compress(bytes(16 * MIB)) * 64


def _gzip_bomb_in_one_member() -> bytes:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    return b"".join([*(packer.compress(bytes(16 * MIB)) for _ in range(8)), packer.flush()])


def _zstd_bomb() -> bytes:
    packer = zstandard.ZstdCompressor().compressobj()
    return b"".join([*(packer.compress(bytes(16 * MIB)) for _ in range(64)), packer.flush()])


def _watched(call: Callable[[], Refusal]) -> tuple[Refusal, float, int]:
    """(refusal, seconds, peak bytes)"""
    tracemalloc.start()
    start = time.perf_counter()
    try:
        refusal = call()
        return refusal, time.perf_counter() - start, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    ("encoding", "bomb"), [("gzip", _gzip_bomb), ("gzip", _gzip_bomb_in_one_member), ("zstd", _zstd_bomb)]
)
def test_a_bomb_is_refused_quickly_and_in_little_memory(encoding: str, bomb: Callable[[], bytes]) -> None:
    body = bomb()
    assert len(body) < 1.1 * MIB
    refusal, seconds, peak = _watched(lambda: refusal_of(decode_block, body, JSON, encoding, "imu", LIMITS))
    assert (refusal.code, refusal.status) == ("decompressed-too-large", 413)
    assert str(LIMITS.block_bytes) in refusal.detail
    assert seconds < 1.0
    assert peak < 4 * LIMITS.block_bytes


def test_a_bomb_in_a_file_is_refused() -> None:
    refusal, seconds, peak = _watched(
        lambda: refusal_of(read_recording_file, _gzip_bomb(), "set.csv.gz", None, None, LIMITS)
    )
    assert refusal.code == "decompressed-too-large"
    assert seconds < 5.0
    assert peak < 4 * LIMITS.recording_bytes


def test_very_many_empty_pieces_are_refused() -> None:
    refusal, seconds, _ = _watched(lambda: refusal_of(decompressed, gzip.compress(b"") * 200_000, "gzip", 8 * MIB))
    assert (refusal.code, refusal.status) == ("unreadable", 400)
    assert seconds < 2.0


@pytest.mark.parametrize("encoding", ["gzip", "zstd"])
def test_exactly_the_limit_is_taken_and_one_byte_more_is_not(encoding: str) -> None:
    packed = {"gzip": gzip.compress, "zstd": zstandard.compress}[encoding]
    assert decompressed(packed(bytes(1000)), encoding, 1000) == bytes(1000)
    assert refusal_of(decompressed, packed(bytes(1001)), encoding, 1000).code == "decompressed-too-large"


@pytest.mark.parametrize("encoding", ["gzip", "zstd"])
def test_every_cut_is_noticed(encoding: str) -> None:
    packed = {"gzip": gzip.compress, "zstd": zstandard.compress}[encoding](b"some bytes, some more bytes")
    for stop in range(len(packed)):
        refusal = refusal_of(decompressed, packed[:stop], encoding, 1000)
        assert (refusal.code, refusal.status) == ("truncated", 400)
        assert f"ends after {stop} bytes" in refusal.detail


@pytest.mark.parametrize("encoding", ["gzip", "zstd"])
def test_something_else_than_said_is_unreadable(encoding: str) -> None:
    refusal = refusal_of(decompressed, b'{"boot": "b"}' * 20, encoding, 1000)
    assert (refusal.code, refusal.status) == ("unreadable", 400)
    assert encoding in refusal.detail
