"""Good bodies that the tests spoil one way at a time."""

from __future__ import annotations

import json
from typing import Any

import cbor2
import numpy as np

from barwright.ingest.block import IMU_CHANNELS
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal
from barwright.ingest.typed_arrays import tag_of_array

LIMITS = Limits()
JSON = "application/json"
CBOR = "application/cbor"


def imu_members(count: int = 20, **changes: Any) -> dict[str, Any]:
    """One imu block as plain values; a change of None takes the member out."""
    rng = np.random.default_rng(7)
    channels = {name: np.round(rng.normal(size=count), 4).tolist() for name in IMU_CHANNELS}
    members = {"boot": "b1", "seq": 0, "t0_us": 1000, "dt_us": 2500, "channels": channels, **changes}
    return {name: value for name, value in members.items() if value is not None}


def with_channel(name: str, values: Any, count: int = 20, **changes: Any) -> dict[str, Any]:
    """One imu block with one channel replaced."""
    members = imu_members(count, **changes)
    members["channels"][name] = values
    return members


def as_json(members: Any) -> bytes:
    return json.dumps(members).encode()


def as_cbor(members: dict[str, Any], dtype: str = "<f8") -> bytes:
    """The same block with typed arrays."""
    channels = {name: tag_of_array(np.array(values, dtype)) for name, values in members["channels"].items()}
    return cbor2.dumps({**members, "channels": channels})


def refusal_of(call: Any, *args: Any) -> Refusal:
    """The refusal a call ends in."""
    try:
        answer = call(*args)
    except Refusal as refusal:
        return refusal
    raise AssertionError(f"not refused: {answer}")


def imu_csv(count: int = 12, header: str | None = None) -> str:
    """A recording at 100 Hz as CSV."""
    names = header or "t_ms," + ",".join(f"{n}[{'m/s2' if 'accel' in n else 'deg/s'}]" for n in IMU_CHANNELS)
    rows = [",".join([str(i * 10), *(f"{i * 0.5 + k:.2f}" for k in range(6))]) for i in range(count)]
    return "\r\n".join([names, *rows]) + "\r\n"
