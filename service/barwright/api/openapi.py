"""The OpenAPI document: problems declared on every route, and one schema for them all."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from barwright.api.problems import PROBLEM_JSON, PROBLEMS
from barwright.api.webhook_shapes import WEBHOOKS
from barwright.ingest.refusals import REFUSALS

_SCHEMA = {
    "title": "Problem",
    "description": "RFC 9457. `code` is stable; `type` points to the page that explains it.",
    "type": "object",
    "required": ["type", "title", "status", "detail", "instance", "code", "request_id", "errors"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "What was wrong this time, where, and what would be right."},
        "instance": {"type": "string", "format": "uri-reference"},
        "code": {"type": "string", "enum": sorted(PROBLEMS)},
        "request_id": {
            "type": ["string", "null"],
            "description": "As in X-Request-Id; the operator finds the request in the log by it.",
        },
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "detail"],
                "properties": {
                    "pointer": {"type": "string", "description": "JSON pointer (RFC 6901), or a parameter's name."},
                    "detail": {"type": "string"},
                },
            },
        },
    },
}
# What a part of a path names, where its route does not say more.
_NAMED = {
    "athlete_id": "`id` of an athlete, `ath_...`.",
    "calibration_id": "`id` of a calibration of the device.",
    "check_id": "`id` of a check of the device.",
    "code": "Code of a drill; GET /v1/drills lists them.",
    "device_id": "`id` of a device, `dev_...`.",
    "index": "`index` of a rep, as its set lists it.",
    "key_id": "`id` of a key.",
    "lift": "Code of a lift; GET /v1/lifts lists them.",
    "maximum_id": "`id` of a tested maximum.",
    "message_id": "`id` of a message of the webhook.",
    "motion_id": "`id` of a known motion of the device.",
    "plan_id": "`id` of a plan of the athlete.",
    "prescription_id": "`id` of a drill that was given.",
    "set_id": "`id` of a set, `set_...`.",
    "setup_id": "`id` of a string's set-up.",
    "stream_id": "`id` of a stream, `str_...`.",
    "webhook_id": "`id` of a webhook.",
}
SIGNED_IN = (
    "not-signed-in", "key-mistyped", "key-not-known", "key-expired", "scope-missing", "too-many-requests", "not-ready",
    "storage-full",
)  # fmt: skip
RETRY = ("retry-key-invalid", "retry-mismatch")
JSON_BODY = ("unreadable", "request-unreadable", "request-too-large", "unknown-content-type", "request-invalid")
# What a recording of one sensor, sent to be judged or calibrated with, may be refused for.
SENSOR_RECORDING = (
    *SIGNED_IN, *RETRY, *(code for code in REFUSALS if code not in ("block-too-large", "bad-bar-axis")),
    "request-too-large", "request-unreadable", "request-invalid", "not-found", "kind-mismatch", "no-still-poses",
    "samples-unusable",
)  # fmt: skip

Responses = dict[int | str, dict[str, Any]]


def problems(*codes: str) -> Responses:
    """What a route declares: for every status the codes that can come with it."""
    by_status: dict[int, list[str]] = {}
    for code in codes:
        by_status.setdefault(PROBLEMS[code][0], []).append(code)
    return {
        status: {
            "description": "; ".join(f"{PROBLEMS[code][1]} (`{code}`)" for code in sorted(set(of_status))),
            "content": {PROBLEM_JSON: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
        for status, of_status in sorted(by_status.items())
    }


def document(app: FastAPI) -> dict[str, Any]:
    """The whole document, the same on every machine."""
    if app.openapi_schema is None:
        schema = get_openapi(
            title=app.title,
            version=app.version,
            summary=app.summary,
            description=app.description,
            routes=app.routes,
            license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
        )
        for operation in (one for path in schema["paths"].values() for one in path.values()):
            for parameter in operation.get("parameters", []):
                if parameter["in"] == "path":
                    parameter.setdefault("description", _NAMED[parameter["name"]])
        schema["webhooks"] = WEBHOOKS
        schema.setdefault("components", {}).setdefault("schemas", {})["Problem"] = _SCHEMA
        app.openapi_schema = schema
    return app.openapi_schema
