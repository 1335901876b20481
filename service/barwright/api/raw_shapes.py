"""Schemas of bodies that pydantic never sees: blocks, recordings and paths."""

from __future__ import annotations

from typing import Any

_COLUMN = {"type": "array", "items": {"type": "number"}, "minItems": 1}
_IMU = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
IMU_COLUMNS: dict[str, Any] = {
    "type": "object",
    "description": "imu",
    "additionalProperties": False,
    "required": list(_IMU),
    "properties": dict.fromkeys(_IMU, _COLUMN),
}
_BLOCK: dict[str, Any] = {
    "type": "object",
    "description": "One block of samples. Identity is (stream, boot, seq); times are whole microseconds of the "
    "device's clock: t0_us and dt_us for even steps, or t_us with one time per sample. All columns are equally long.",
    "required": ["boot", "seq", "channels"],
    "additionalProperties": False,
    "properties": {
        "boot": {"type": "string", "pattern": "^[A-Za-z0-9._:-]{1,64}$", "description": "One per device start."},
        "seq": {"type": "integer", "minimum": 0, "description": "From 0, one more with every block."},
        "t0_us": {"type": "integer"},
        "dt_us": {"type": "number", "exclusiveMinimum": 0},
        "t_us": {"type": "array", "items": {"type": "integer"}, "minItems": 1},
        "channels": {
            "oneOf": [
                IMU_COLUMNS,
                *(
                    {
                        "type": "object",
                        "description": "encoder",
                        "additionalProperties": False,
                        "required": [name],
                        "properties": {name: _COLUMN},
                    }
                    for name in ("position", "velocity")
                ),
            ]
        },
        "sent_at": {"type": "string", "format": "date-time"},
        "buffered": {"type": "boolean"},
    },
}
_EXAMPLE = {
    "boot": "7f3a",
    "seq": 0,
    "t0_us": 1200000,
    "dt_us": 5000,
    "channels": {
        "accel_x": [0.01, 0.02],
        "accel_y": [0.0, 0.0],
        "accel_z": [1.0, 1.01],
        "gyro_x": [0.1, 0.1],
        "gyro_y": [0.0, 0.0],
        "gyro_z": [0.0, -0.1],
    },
}
BLOCK_BODY: dict[str, Any] = {
    "parameters": [
        {
            "name": "Content-Encoding",
            "in": "header",
            "required": False,
            "description": "How the body is compressed; left out when it is not.",
            "schema": {"type": "string", "enum": ["gzip", "zstd", "identity"]},
        }
    ],
    "requestBody": {
        "required": True,
        "content": {
            "application/json": {"schema": _BLOCK, "example": _EXAMPLE},
            "application/cbor": {
                "schema": {"type": "string", "format": "binary"},
                "x-content": "RFC 8949: the same members; columns as arrays or typed arrays of RFC 8746",
            },
            "application/senml+json": {
                "schema": {"type": "string", "format": "binary"},
                "x-content": "RFC 8428: one record per channel and sample, and two named boot and seq (docs/files.md)",
            },
            "application/senml+cbor": {
                "schema": {"type": "string", "format": "binary"},
                "x-content": "RFC 8428, section 6: the same in CBOR",
            },
            "application/vnd.barwright.int16": {
                "schema": {"type": "string", "format": "binary"},
                "x-content": "a line `barwright-int16 {...}`, then little-endian int16 (docs/files.md)",
            },
        },
    },
}


FILE_WORDS = (
    "CSV of any sane layout, Parquet, NDJSON, SenML (RFC 8428), int16, or JSON or CBOR columns (t_s, t_ms or t_us; "
    "accel_x to gyro_z, or position, or velocity, and many other spellings), plain, gzip or zstd. Units in meta.units "
    "or in the header (accel_x[m/s2], AccX (g)); docs/files.md has it all."
)


def preview_body(meta_schema: dict[str, Any]) -> dict[str, Any]:
    """The multipart body of POST /v1/recordings/preview."""
    body = recording_body(meta_schema)
    body["requestBody"]["content"]["multipart/form-data"]["schema"]["required"] = ["file"]
    return body


def recording_body(meta_schema: dict[str, Any]) -> dict[str, Any]:
    """The multipart body of POST /v1/recordings."""
    return {
        "requestBody": {
            "required": True,
            "content": {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "required": ["meta", "file"],
                        "properties": {
                            "meta": meta_schema,
                            "file": {
                                "type": "string",
                                "format": "binary",
                                "description": FILE_WORDS,
                            },
                        },
                    },
                    "encoding": {"meta": {"contentType": "application/json"}},
                }
            },
        }
    }


_PATH_COLUMN = {"type": ["array", "null"], "items": {"type": "number"}}
PATH_ANSWER: dict[str, Any] = {
    "description": "Columns over one rep. x forward and z up from where the rep began; u_ the standard uncertainties. "
    "A column is null (in CSV: empty) when the sensor cannot see it.",
    "content": {
        "application/json": {
            "schema": {
                "type": "object",
                "required": ["set_id", "index", "units", "forward_known", "t_s"],
                "properties": {
                    "set_id": {"type": "string"},
                    "index": {"type": "integer"},
                    "units": {"type": "object", "additionalProperties": {"type": "string"}},
                    "forward_known": {
                        "type": "boolean",
                        "description": "x points away from the lifter. When false the mounting did not say, and x may "
                        "be mirrored.",
                    },
                    "reason": {"type": "string", "description": "Why columns are null."},
                    **dict.fromkeys(("t_s", "x_m", "z_m", "vx", "vz", "az", "u_x", "u_z", "u_vz"), _PATH_COLUMN),
                },
            }
        },
        "application/cbor": {"schema": {"type": "string", "format": "binary"}},
        "text/csv": {"schema": {"type": "string"}},
    },
}
