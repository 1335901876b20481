"""Schemas of the bodies of checks that hold a recording, which pydantic never sees."""

from __future__ import annotations

from typing import Any

from barwright.api.raw_shapes import IMU_COLUMNS, recording_body

_UNITS = {
    "type": "object",
    "properties": {
        "accel": {"type": "string", "enum": ["m/s2", "[g]", "m[g]"]},
        "gyro": {"type": "string", "enum": ["rad/s", "deg/s"]},
    },
}
_COLUMNS = {
    "units": _UNITS,
    "t0_us": {"type": "integer"},
    "dt_us": {"type": "number", "exclusiveMinimum": 0},
    "t_us": {"type": "array", "items": {"type": "integer"}, "minItems": 1},
    "channels": IMU_COLUMNS,
}


def bench_body(meta_schema: dict[str, Any]) -> dict[str, Any]:
    """JSON, the same in CBOR, or a recording file with the options as `meta`."""
    json_schema = {
        "type": "object",
        "description": "`channels` as in a block with t0_us and dt_us or t_us (boot and seq may be left out), or the "
        "columns themselves with t_s, t_ms or t_us; beside them the options.",
        "properties": {**meta_schema.get("properties", {}), **_COLUMNS},
    }
    if "required" in meta_schema:
        json_schema["required"] = meta_schema["required"]
    return {
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {"schema": json_schema},
                "application/cbor": {
                    "schema": {"type": "string", "format": "binary"},
                    "x-content": "RFC 8949: the same members; columns as arrays or typed arrays of RFC 8746",
                },
                **recording_body(meta_schema)["requestBody"]["content"],
            },
        }
    }
