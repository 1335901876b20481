"""Schemas of what webhooks are sent, which pydantic never sees."""

from __future__ import annotations

from typing import Any

from barwright.api.event_shapes import EVENT_DATA, FIGURE

_VERDICT = {"type": "string", "enum": ["up", "usual", "down", "not_enough_data"]}
_READINESS: dict[str, dict[str, Any]] = {
    "athlete_id": {"type": "string"},
    "athlete": {"type": "string"},
    "lift": {"type": "string"},
    "on": {"type": "string", "format": "date"},
    "before": {**_VERDICT, "description": "What was told last of that day; not_enough_data when nothing was."},
    "verdict": _VERDICT,
    "change": FIGURE,
    "probability": {
        "type": ["number", "null"],
        "description": "That the change is larger than smallest_change_percent in its direction, 0 to 1.",
    },
    "smallest_change_percent": {"type": ["number", "null"]},
    "reasons": {"type": "array", "items": {"type": "string"}},
    "caution": {"type": "string"},
    "link": {"type": "string", "format": "uri-reference", "description": "Where the whole of it is."},
}
_TITLES = {
    "set_closed": "A set is analysed",
    "stop_advised": "A set is to stop",
    "readiness_changed": "The verdict on a day is another",
}
_HEADERS = {
    "webhook-id": "Of the message: the same on every try, so that a receiver can drop the second.",
    "webhook-timestamp": "Seconds since 1970, of this try.",
    "webhook-signature": "`v1,` and the HMAC-SHA256 of `id.timestamp.body` in base64, with the webhook's secret.",
}


def _of_event(kind: str) -> dict[str, Any]:
    """The data of an event as a message has it: with the event's id, its time being the message's."""
    told = {name: one for name, one in EVENT_DATA[kind]["properties"].items() if name != "at"}
    return _data(EVENT_DATA[kind]["description"], {"event_id": {"type": "integer"}, **told})


def _data(words: str, members: dict[str, Any]) -> dict[str, Any]:
    return {"description": words, "type": "object", "required": list(members), "properties": members}


def _message(kind: str, data: dict[str, Any]) -> dict[str, Any]:
    members = {"type": {"const": kind}, "timestamp": {"type": "string", "format": "date-time"}, "data": data}
    return {"title": kind, "type": "object", "required": list(members), "properties": members}


def _posted(kind: str, data: dict[str, Any]) -> dict[str, Any]:
    return {
        "post": {
            "tags": ["live"],
            "summary": _TITLES[kind],
            "description": data["description"],
            "operationId": f"hear_{kind}",
            "parameters": [
                {"name": name, "in": "header", "required": True, "description": words, "schema": {"type": "string"}}
                for name, words in _HEADERS.items()
            ],
            "requestBody": {"required": True, "content": {"application/json": {"schema": _message(kind, data)}}},
            "responses": {
                "2XX": {"description": "Heard; it is not sent again."},
                "410": {"description": "The webhook is ended."},
                "default": {"description": "It is tried again with growing pauses, over four days."},
            },
        }
    }


WEBHOOKS: dict[str, Any] = {
    "set_closed": _posted("set_closed", _of_event("set_closed")),
    "stop_advised": _posted("stop_advised", _of_event("stop_advised")),
    "readiness_changed": _posted(
        "readiness_changed",
        _data("The verdict on an athlete's lift today is another than the one told last.", _READINESS),
    ),
}
