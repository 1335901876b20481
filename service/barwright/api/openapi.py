"""The OpenAPI document: problems declared on every route, and one schema for them all."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from barwright.api.problems import PROBLEM_JSON, PROBLEMS
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
        schema.setdefault("components", {}).setdefault("schemas", {})["Problem"] = _SCHEMA
        app.openapi_schema = schema
    return app.openapi_schema
