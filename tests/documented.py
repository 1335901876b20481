"""Whether a document is as docs/openapi.json says; what is told beyond it is found too."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

OPENAPI: dict[str, Any] = json.loads((Path(__file__).parents[1] / "docs/openapi.json").read_text())
_TYPES: dict[str, Any] = {
    "string": str, "number": (int, float), "integer": int, "boolean": bool, "null": type(None), "array": list,
    "object": dict,
}  # fmt: skip


def webhook_misfits(kind: str, body: dict[str, Any]) -> list[str]:
    """Where the body of a message is other than its schema."""
    content = OPENAPI["webhooks"][kind]["post"]["requestBody"]["content"]
    return misfits(body, content["application/json"]["schema"], "")


def misfits(value: Any, schema: dict[str, Any], where: str) -> list[str]:
    """Members that lack or are not documented, types and words that differ."""
    if "$ref" in schema:
        return misfits(value, OPENAPI["components"]["schemas"][schema["$ref"].rpartition("/")[2]], where)
    if "anyOf" in schema:
        found = [misfits(value, one, where) for one in schema["anyOf"]]
        return [] if [] in found else found[0]
    if "const" in schema:
        return [] if value == schema["const"] else [f"{where} is {value!r}"]
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    if not any(isinstance(value, _TYPES[kind]) for kind in kinds):
        return [f"{where} is {value!r}, not {schema['type']}"]
    if value not in schema.get("enum", [value]):
        return [f"{where} is {value!r}, none of {schema['enum']}"]
    if isinstance(value, list):
        return [one for n, item in enumerate(value) for one in misfits(item, schema["items"], f"{where}/{n}")]
    if not isinstance(value, dict):
        return []
    known, more = schema.get("properties", {}), schema.get("additionalProperties")
    out = [f"{where}/{name} is missing" for name in schema.get("required", []) if name not in value]
    for name, member in value.items():
        of = known.get(name) or more
        out += misfits(member, of, f"{where}/{name}") if of else [f"{where}/{name} is not documented"]
    return out
