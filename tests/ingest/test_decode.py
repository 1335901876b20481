"""Blocks as CONTRACT says them: the same numbers give the same block, whatever carried them."""

from __future__ import annotations

import gzip
import json
import time
from datetime import UTC, datetime
from typing import Any

import cbor2
import numpy as np
import pytest
import zstandard

from barwright.ingest.decode import decode_block
from ingest.bodies import CBOR, JSON, LIMITS, as_cbor, as_json, imu_members, refusal_of


def _decode(body: bytes, content_type: str = JSON, encoding: str | None = None, kind: Any = "imu") -> Any:
    return decode_block(body, content_type, encoding, kind, LIMITS)


def test_values_times_and_identity() -> None:
    members = imu_members(boot="b:7", seq=12, t0_us=5_000_000, dt_us=2500)
    block = _decode(as_json(members))
    assert (block.boot, block.seq, block.sent_at, block.buffered) == ("b:7", 12, None, False)
    assert block.t_us.dtype == np.int64
    assert block.t_us.tolist() == [5_000_000 + 2500 * i for i in range(20)]
    for name, values in members["channels"].items():
        assert block.channels[name].dtype == np.float64
        assert block.channels[name].tolist() == values


def test_a_fraction_of_a_microsecond_a_step_does_not_add_up() -> None:
    # 416 Hz: the step is 2403.846... us; each time is the nearest whole microsecond to its own exact time.
    block = _decode(as_json(imu_members(400, t0_us=10, dt_us=1e6 / 416)))
    assert block.t_us.tolist() == [10 + round(i * 1e6 / 416) for i in range(400)]


@pytest.mark.parametrize("dtype", ["<f4", ">f4", "<f8", ">f8", "<i2", ">i2", "<i4", ">i8", "|i1"])
def test_json_and_cbor_of_equal_numbers_have_one_digest(dtype: str) -> None:
    members = imu_members()
    members["channels"] = {name: [float(i - k) for i in range(20)] for k, name in enumerate(members["channels"])}
    digests = {
        _decode(as_json(members)).digest(),
        _decode(as_cbor(members, dtype), CBOR).digest(),
        _decode(cbor2.dumps(members), CBOR).digest(),
    }
    listed = {**members, "t_us": [1000 + 2500 * i for i in range(20)]}
    del listed["dt_us"], listed["t0_us"]
    digests.add(_decode(as_json(listed)).digest())
    assert len(digests) == 1


@pytest.mark.parametrize(
    ("encoding", "packed"), [("gzip", gzip.compress), ("GZIP", gzip.compress), ("zstd", zstandard.compress)]
)
def test_content_encodings(encoding: str, packed: Any) -> None:
    body = as_json(imu_members())
    assert _decode(packed(body), "application/json; charset=UTF-8", encoding).digest() == _decode(body).digest()


def test_gzip_of_several_members_is_one_body() -> None:
    # RFC 1952, section 2.2: a gzip file is a series of members.
    body = as_json(imu_members())
    pieces = gzip.compress(body[:100]) + gzip.compress(body[100:])
    assert _decode(pieces, JSON, "gzip").digest() == _decode(body).digest()


@pytest.mark.parametrize("name", ["position", "velocity"])
def test_an_encoder_block_has_one_channel(name: str) -> None:
    body = as_json(imu_members(3, channels={name: [0, 1.5, 2]}))
    assert _decode(body, kind="encoder").channels[name].tolist() == [0.0, 1.5, 2.0]


def test_equal_times_are_left_for_the_analysis() -> None:
    members = imu_members(t_us=[1000 + 5000 * (i // 2) for i in range(20)], t0_us=None, dt_us=None)
    assert _decode(as_json(members)).t_us[:4].tolist() == [1000, 1000, 6000, 6000]


def test_a_gap_inside_a_block_is_not_a_low_rate() -> None:
    times = [2500 * i + (5_000_000 if i >= 10 else 0) for i in range(20)]
    assert _decode(as_json(imu_members(t_us=times, t0_us=0, dt_us=None))).t_us[-1] == times[-1]


def test_a_whole_number_as_boot_becomes_its_text() -> None:
    assert _decode(as_json(imu_members(boot=4711))).boot == "4711"


def test_how_it_was_sent() -> None:
    block = _decode(as_json(imu_members(sent_at="2025-03-01T18:30:00.5+01:00", buffered=True)))
    assert block.sent_at == datetime(2025, 3, 1, 17, 30, 0, 500000, tzinfo=UTC)
    assert block.buffered is True
    # RFC 8949, section 3.4.1 and 3.4.2: date-times as text and as seconds.
    for tagged in (cbor2.CBORTag(0, "2025-03-01T17:30:00.5Z"), cbor2.CBORTag(1, 1740850200.5)):
        assert _decode(cbor2.dumps(imu_members(sent_at=tagged)), CBOR).sent_at == block.sent_at


def test_what_other_encoders_do_to_whole_numbers() -> None:
    block = _decode(as_json(imu_members(seq=3.0, t0_us=1.0e9)))
    assert (block.seq, block.t_us[0]) == (3, 10**9)


def test_self_described_cbor() -> None:
    # RFC 8949, section 3.4.6: d9 d9 f7 before the item.
    members = imu_members()
    assert _decode(b"\xd9\xd9\xf7" + as_cbor(members), CBOR).digest() == _decode(as_json(members)).digest()


def test_a_thousand_samples_of_six_channels_decode_in_under_a_millisecond() -> None:
    body = as_cbor(imu_members(1000), "<f4")

    def once() -> float:
        start = time.perf_counter()
        _decode(body, CBOR)
        return time.perf_counter() - start

    assert min(once() for _ in range(40)) < 1e-3


def test_every_limit_is_published_as_a_number() -> None:
    published = LIMITS.published()
    assert published["block_bytes"] == 8 * 1024 * 1024
    assert (published["block_seconds"], published["block_samples"], published["stream_seconds"]) == (120, 250_000, 1800)
    assert (published["lowest_rate_hz"], published["highest_rate_hz"]) == (20, 4000)
    assert json.loads(json.dumps(published)) == published


@pytest.mark.parametrize("dt_us", [250, 50_000])
def test_the_rates_at_the_limits_are_taken(dt_us: int) -> None:
    even = _decode(as_json(imu_members(dt_us=dt_us)))
    listed = _decode(as_json(imu_members(t_us=even.t_us.tolist(), t0_us=None, dt_us=None)))
    assert listed.digest() == even.digest()


def test_the_longest_block_is_taken_and_one_sample_more_is_not() -> None:
    assert len(_decode(as_cbor(imu_members(2401, dt_us=50_000)), CBOR).t_us) == 2401
    assert refusal_of(_decode, as_cbor(imu_members(2402, dt_us=50_000)), CBOR).code == "too-long"
