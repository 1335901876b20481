"""Schemas of events, which pydantic never sees."""

from __future__ import annotations

from typing import Any

FIGURE = {"$ref": "#/components/schemas/Figure"}
_ABOUT = {
    "at": {"type": "string", "format": "date-time"},
    **{
        name: {"type": "string"}
        for name in ("stream_id", "set_id", "athlete_id", "athlete", "device_id", "device", "lift")
    },
    "load_kg": {"type": "number"},
}


def _data(title: str, words: str, more: dict[str, Any], about: bool = True) -> dict[str, Any]:
    members = {**_ABOUT, **more} if about else more
    return {"title": title, "description": words, "type": "object", "required": list(members), "properties": members}


_PROVISIONAL = {
    "provisional": {"type": "boolean", "description": "The set is still open: u is larger, and figures may change."},
    "withdrawn": {"type": "boolean", "description": "It was no rep after all."},
    "rep": {"$ref": "#/components/schemas/RepAnswer"},
}
_REP = _data("rep", "A rep, as soon as the bar rests after it.", _PROVISIONAL)
_REP["properties"] = {
    **_REP["properties"],
    "rests_on": {
        "type": "object",
        "description": "The newest block that was looked at, and the seconds of the stream that were.",
        "properties": {
            "boot": {"type": "string"},
            "seq": {"type": "integer"},
            "from_s": {"type": "number"},
            "to_s": {"type": "number"},
        },
    },
    "was": {"type": ["integer", "null"], "description": "The index under which it was told before."},
}
EVENT_DATA: dict[str, dict[str, Any]] = {
    "set_opened": _data(
        "set_opened", "The first block of a stream came.", {"started_at": {"type": "string", "format": "date-time"}}
    ),
    "rep": _REP,
    "rep_corrected": {**_REP, "title": "rep_corrected", "description": "A rep is other than it was told."},
    "stop_advised": _data(
        "stop_advised",
        "The velocity loss that was asked for when the stream began, or that the plan has, is reached.",
        {
            "rep": {"type": "integer"},
            "fastest_rep": {"type": "integer"},
            "loss": FIGURE,
            "limit_percent": {"type": "number"},
            "limit_from": {"type": "string", "enum": ["asked", "plan"]},
            "chance": {"type": "number", "description": "That the loss truly is at or past the limit, 0 to 1."},
            "words": {"type": "string"},
        },
    ),
    "set_closed": _data(
        "set_closed",
        "The set is analysed from all its samples; the whole of it is in GET /v1/sets/{id}.",
        {
            "state": {"type": "string", "enum": ["analysing", "analysed", "failed"]},
            "revision": {"type": "integer"},
            "verdict": {"type": ["string", "null"]},
            "words": {"type": "array", "items": {"type": "string"}},
            "reason": {"type": ["string", "null"]},
            "measure": {"type": "string", "description": "The velocity its reps are told with."},
            "reps": {
                "type": "array",
                "items": {
                    "type": "object",
                    "description": "A rep, with the velocity `measure` names.",
                    "required": ["index", "outcome"],
                    "properties": {"index": {"type": "integer"}, "outcome": {"type": "string"}},
                    "additionalProperties": FIGURE,
                },
            },
            "made": {"type": "integer"},
        },
    ),
    "gap": _data(
        "gap",
        "Events are missing here: the listener was too slow for them, or they are no longer kept. It has no id; "
        "whoever connects again with the last id seen gets those that are kept.",
        {
            "reason": {"type": "string", "enum": ["slow_listener", "expired"]},
            "lost": {"type": ["integer", "null"]},
            "first_id": {"type": "integer"},
            "last_id": {"type": ["integer", "null"]},
        },
        about=False,
    ),
}
EVENT_STREAM: dict[str, Any] = {
    "description": "Server-sent events; `event` is one of " + ", ".join(EVENT_DATA) + ", `data` one line of JSON, `id` "
    "what Last-Event-ID wants.",
    "content": {"text/event-stream": {"schema": {"type": "string"}, "x-events": EVENT_DATA}},
}
