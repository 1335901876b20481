"""Little-endian 16-bit whole numbers as the body of a block."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from barwright.ingest.block import IMU_CHANNELS, Block
from barwright.ingest.decode import decode_block
from barwright.ingest.int16 import MEDIA_TYPE
from ingest.bodies import LIMITS, refusal_of

HEAD: dict[str, Any] = {
    "boot": "b1", "seq": 3, "t0_us": 1000, "dt_us": 5000, "columns": list(IMU_CHANNELS),
    "scale": {"accel": 1 / 2048, "gyro": 1 / 16.4},
}  # fmt: skip
COUNTS = np.arange(120).reshape(20, 6).astype("<i2") - 60
DECLARED = {"accel": "[g]", "gyro": "deg/s"}


def body(raw: bytes | None = None, **changes: Any) -> bytes:
    head = {name: value for name, value in {**HEAD, **changes}.items() if value is not None}
    return b"barwright-int16 " + json.dumps(head).encode() + b"\n" + (COUNTS.tobytes() if raw is None else raw)


def decoded(content: bytes, units: dict[str, str] = DECLARED, kind: Any = "imu") -> Block:
    return decode_block(content, MEDIA_TYPE, None, kind, LIMITS, units)


def test_counts_times_scale_in_the_units_of_the_stream() -> None:
    block = decoded(body())
    assert (block.boot, block.seq, block.t_us[:3].tolist()) == ("b1", 3, [1000, 6000, 11000])
    np.testing.assert_array_equal(block.channels["accel_y"], COUNTS[:, 1] / 2048)
    np.testing.assert_allclose(block.channels["gyro_z"], COUNTS[:, 5] / 16.4, rtol=1e-15)
    si = decoded(body(units=DECLARED), {"accel": "m/s2", "gyro": "rad/s"})
    np.testing.assert_allclose(si.channels["accel_y"], COUNTS[:, 1] / 2048 * 9.80665)
    np.testing.assert_allclose(si.channels["gyro_z"], np.radians(COUNTS[:, 5] / 16.4))


def test_a_rate_does_for_a_step_and_a_column_may_be_left_out() -> None:
    assert decoded(body(dt_us=None, rate_hz=200)).t_us.tolist() == decoded(body()).t_us.tolist()
    string = body(COUNTS[:, :2].tobytes(), columns=["position", ""], scale={"position": 0.5})
    assert decoded(string, {"position": "mm"}, "encoder").channels["position"].tolist() == (COUNTS[:, 0] * 0.5).tolist()


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (COUNTS.tobytes(), "missing-column", "declare `columns`"),
        (body(COUNTS.tobytes()[:-1]), "truncated", "whole samples of 6 columns"),
        (body(scale={"accel": 1.0}), "missing-member", "`scale` for `gyro`"),
        (body(columns=["accel_x"] * 6), "repeated-column", "named twice"),
        (body(columns=["accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "mag_x"]), "unknown-channel", "`mag_x`"),
        (body(columns=[]), "bad-member", "`columns`"),
        (body(boot=None), "missing-member", "`boot`"),
        (body(extra=1), "unknown-member", "`extra`"),
        (body(t0_us=None), "time-unclear", "`t0_us`"),
        (body(units={"accel": "g"}), "unknown-unit", "Write `[g]`"),
        (body(b""), "no-samples", "empty"),
        (b"barwright-int16 {" + b" " * 5000 + b"}\n", "truncated", "no end within 4096"),
        (b"barwright-int16 []\n", "bad-member", "has to be an object"),
    ],
)  # fmt: skip
def test_refused(content: bytes, code: str, words: str) -> None:
    refusal = refusal_of(decoded, content)
    assert refusal.code == code, refusal.detail
    assert words in refusal.detail, refusal.detail
