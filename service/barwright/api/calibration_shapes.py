"""Schemas of the bodies of POST /v1/devices/{id}/calibration, which pydantic never sees."""

from __future__ import annotations

from typing import Any

from barwright.api.raw_shapes import IMU_COLUMNS, recording_body

_THREE = {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}
_UNITS = {
    "type": "object",
    "properties": {
        "accel": {"type": "string", "enum": ["m/s2", "[g]", "m[g]"]},
        "gyro": {"type": "string", "enum": ["rad/s", "deg/s"]},
    },
}
_GRAVITY = {"type": ["number", "null"], "minimum": 9.76, "maximum": 9.84}
_POSES = {
    "type": "object",
    "description": "Means of each pose, worked out elsewhere. rate_hz tells how long the poses lasted; without it 3 s.",
    "required": ["poses"],
    "additionalProperties": False,
    "properties": {
        "units": _UNITS,
        "gravity_m_s2": _GRAVITY,
        "rate_hz": {"type": "number"},
        "poses": {
            "type": "array",
            "minItems": 1,
            "maxItems": 200,
            "items": {
                "type": "object",
                "required": ["accel", "gyro", "samples"],
                "additionalProperties": False,
                "properties": {"accel": _THREE, "gyro": _THREE, "samples": {"type": "integer", "minimum": 1}},
            },
        },
    },
}
_RECORDING = {
    "type": "object",
    "description": "A recording that holds the still poses in any order, and best the turns between them: `channels` "
    "as in a block with t0_us and dt_us or t_us (boot and seq may be left out), or the columns themselves with t_s, "
    "t_ms or t_us.",
    "properties": {
        "units": _UNITS,
        "gravity_m_s2": _GRAVITY,
        "t0_us": {"type": "integer"},
        "dt_us": {"type": "number", "exclusiveMinimum": 0},
        "t_us": {"type": "array", "items": {"type": "integer"}, "minItems": 1},
        "channels": IMU_COLUMNS,
    },
}
_FACES = ([0, 0, 1], [0, 0, -1], [0, 1, 0], [0, -1, 0], [1, 0, 0], [-1, 0, 0])
_EXAMPLE = {
    "units": {"accel": "[g]", "gyro": "deg/s"},
    "rate_hz": 200,
    "gravity_m_s2": 9.812,
    "poses": [
        {"accel": [1.002 * x + 0.021, 0.998 * y - 0.015, z + 0.03], "gyro": [0.4, -0.2, 0.1], "samples": 600}
        for x, y, z in _FACES
    ],
}


def calibration_body(meta_schema: dict[str, Any]) -> dict[str, Any]:
    """The three forms of the body: JSON, the same in CBOR, or a recording file."""
    file = recording_body(meta_schema)["requestBody"]["content"]
    return {
        "requestBody": {
            "required": True,
            "content": {
                "application/json": {"schema": {"anyOf": [_RECORDING, _POSES]}, "example": _EXAMPLE},
                "application/cbor": {
                    "schema": {"type": "string", "format": "binary"},
                    "x-content": "RFC 8949: the same members; columns as arrays or typed arrays of RFC 8746",
                },
                **file,
            },
        }
    }
