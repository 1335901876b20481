from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from barwright.ingest.block import Block
from barwright.ingest.declared_units import check_declared, units_of
from ingest.bodies import refusal_of


@pytest.mark.parametrize(
    ("kind", "declared"),
    [
        ("imu", {"accel": "[g]", "gyro": "deg/s"}),
        ("imu", {"accel": "m/s2", "gyro": "rad/s"}),
        ("encoder", {"position": "mm"}),
        ("encoder", {"velocity": "m/s"}),
    ],
)
def test_good_units(kind: str, declared: dict[str, str]) -> None:
    assert units_of(declared, kind) == declared


@pytest.mark.parametrize(
    ("kind", "declared", "units"),
    [
        ("imu", {}, {"accel": "m/s2", "gyro": "rad/s"}),
        ("imu", {"gyro": "deg/s"}, {"accel": "m/s2", "gyro": "deg/s"}),
        ("encoder", {}, {"position": "m", "velocity": "m/s"}),
    ],
)
def test_si_unless_a_unit_is_declared(kind: str, declared: dict[str, str], units: dict[str, str]) -> None:
    assert units_of(declared, kind) == units


@pytest.mark.parametrize(
    ("kind", "declared", "code", "pointer", "words"),
    [
        ("imu", {"accel": "g", "gyro": "deg/s"}, "unknown-unit", "/units/accel", "`[g]`"),
        ("imu", {"accel": "m/s2", "gyro": "m"}, "unknown-unit", "/units/gyro", "`rad/s`"),
        ("imu", {"accel": 3, "gyro": "deg/s"}, "unknown-unit", "/units/accel", "the number 3"),
        (
            "imu",
            {"accel": "m/s2", "gyro": "deg/s", "velocity": "m/s"},
            "unknown-member",
            "/units/velocity",
            "accel and gyro",
        ),
        ("encoder", {"position": "m", "velocity": "m/s"}, "channel-conflict", "/units/velocity", "both"),
        ("imu", {"accel_x": "m/s2"}, "unknown-member", "/units/accel_x", "accel, gyro"),
        ("imu", None, "bad-member", "/units", "null"),
        ("imu", ["m/s2"], "bad-member", "/units", "an array"),
    ],
)
def test_bad_units(kind: str, declared: Any, code: str, pointer: str, words: str) -> None:
    refusal = refusal_of(units_of, declared, kind)
    assert (refusal.code, refusal.status, refusal.pointer) == (code, 422, pointer)
    assert words in refusal.detail


def test_a_block_must_keep_to_what_its_stream_declared() -> None:
    block = Block("b", 0, np.arange(3), {"velocity": np.zeros(3)})
    check_declared(block, {"velocity": "m/s"})
    refusal = refusal_of(check_declared, block, {"position": "mm"})
    assert (refusal.code, refusal.pointer) == ("unknown-channel", "/channels/velocity")
    assert "position" in refusal.detail
