"""What one club sees of another, over every route of the API's own document: nothing, whatever ids it knows."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from analysis.devices.at_home import swinging
from barwright.app import bare_app
from conftest import IMU_COLUMNS, STREAM, Service, imu_block, still_poses

DOCUMENT = bare_app().openapi()
VERBS = ("get", "put", "post", "patch", "delete")
ENDLESS = {"/v1/events"}  # answers for ever; two clubs at it are in tests/live
# What changes by itself: it tells of the club's own reading, or of messages that are tried again.
OWN_TRACE = {"/v1/audit", "/v1/keys", "/v1/webhooks/{webhook_id}/messages"}
# Values for what is no id. A new parameter has to be told here, or made in everything() when it is one.
PLAIN = {"lift": "snatch", "index": 1}
DRILL = {
    "title": "Towel snatch", "of": "snatch", "percent": [50, 60], "beginner": 50, "sets": [3, 4], "reps": [2, 2],
    "form": "A towel before the toes.", "why": "shows where the bar goes",
}  # fmt: skip
PULLS = {"pulls": [{"home": 0, "out": 10000, "length": {"value": 2.0}}]}


def still_table(samples: int = 1200) -> dict[str, Any]:
    """A sensor on a table, 50 Hz, in SI units."""
    noise = np.random.default_rng(5).normal(0.0, 0.01, (samples, 6))
    noise[:, 2] += 9.81
    channels = {name: column.tolist() for name, column in zip(IMU_COLUMNS, noise.T, strict=True)}
    return {"t_us": [20_000 * n for n in range(samples)], "channels": channels}


# Bodies that have to be right before the route looks for what it is about; others come from the document.
BODIES: dict[tuple[str, str], Any] = {
    ("post", "/v1/athletes/{athlete_id}/decisions"): {"kind": "lift_cap", "lift": "snatch", "reason": "a test"},
    ("post", "/v1/athletes/{athlete_id}/maxima"): {"lift": "back_squat", "load_kg": 100},
    ("post", "/v1/athletes/{athlete_id}/plans"): {"sets": [{"lift": "snatch", "percent": 80}]},
    ("post", "/v1/athletes/{athlete_id}/prescriptions"): {"lift": "snatch", "fault": "S1", "drill": "deficit_snatch"},
    ("post", "/v1/devices/{device_id}/blocks"): imu_block(0),
    ("post", "/v1/devices/{device_id}/calibration"): still_poses(),
    ("post", "/v1/devices/{device_id}/check"): still_table(),
    ("post", "/v1/devices/{device_id}/known-motions"): {**still_table(), "motion": "drop", "height_m": 1.0},
    ("post", "/v1/streams/{stream_id}/blocks"): imu_block(7),
    ("post", "/v1/review/looked"): {"set_ids": ["set_none"]},
    ("post", "/v1/streams"): STREAM,
    ("patch", "/v1/athletes/{athlete_id}"): {"level": "novice"},
    ("patch", "/v1/devices/{device_id}"): {"class": "good"},
    ("patch", "/v1/drills/{code}"): {"forbidden": True},
    ("patch", "/v1/sets/{set_id}"): {"load_kg": 61},
    ("patch", "/v1/sets/{set_id}/reps/{index}"): {"excluded": True},
    ("put", "/v1/athletes/{athlete_id}/remote"): {"remote": True},
    ("put", "/v1/devices/{device_id}/next"): {"athlete_id": "ath_none", "lift": "snatch", "load_kg": 60},
}
CSV = {("post", "/v1/athletes/{athlete_id}/history"): "date,lift,load\n2026-03-01,back_squat,100\n"}


@dataclass
class Club:
    """One club with something of everything. ids: parameter of a path -> what the club has of it."""

    service: Service
    headers: dict[str, str]
    ids: dict[str, list[str]] = field(default_factory=dict)

    def ask(self, method: str, url: str, **more: Any) -> Any:
        return self.service.client.request(method, url, headers=self.headers, **more)

    def make(self, url: str, body: dict[str, Any], method: str = "post") -> dict[str, Any]:
        answer = self.ask(method, url, json=body)
        assert answer.status_code in (200, 201), (url, answer.text)
        return answer.json()

    def has(self, name: str, *ids: str) -> None:
        known = self.ids.setdefault(name, [])
        known += [one for one in ids if one not in known]


def operations() -> list[tuple[str, str]]:
    paths = DOCUMENT["paths"]
    return [(verb, path) for path in paths if path not in ENDLESS for verb in VERBS if verb in paths[path]]


def parameters(path: str) -> list[str]:
    return re.findall(r"\{(\w+)\}", path)


def filled(path: str, values: dict[str, Any]) -> str:
    return re.sub(r"\{(\w+)\}", lambda found: str(values[found[1]]), path)


def everything(service: Service, name: str, mark: str) -> Club:
    """A club with at least one of everything that has an id; mark: stands in each of its names."""
    club = Club(service, service.new_key(club=name))
    club.has("webhook_id", club.make("/v1/webhooks", {"url": f"https://{mark}.example/hooks"})["id"])
    for number in range(2):
        about = {**STREAM, "athlete": f"{mark} {number}", "device": f"{mark} bar {number}"}
        stream = club.make("/v1/streams", about)
        for seq in range(2):
            club.make(f"/v1/streams/{stream['id']}/blocks", imu_block(seq))
        club.make(f"/v1/streams/{stream['id']}/close?wait=20", {})
        club.has("athlete_id", stream["athlete_id"])
        club.has("device_id", stream["device_id"])
        club.has("stream_id", stream["id"])
        club.has("set_id", stream["set_id"])
    athlete, device = f"/v1/athletes/{club.ids['athlete_id'][0]}", f"/v1/devices/{club.ids['device_id'][0]}"
    for url, body in {
        f"{device}/calibration": still_poses(),
        f"{athlete}/maxima": {"lift": "back_squat", "load_kg": 99},
        f"{athlete}/plans": {"sets": [{"lift": "snatch", "percent": 80}], "note": mark},
        f"{athlete}/prescriptions": {"lift": "snatch", "fault": "S1", "drill": "deficit_snatch"},
        f"{athlete}/decisions": {"kind": "lift_cap", "lift": "snatch", "reason": mark},
    }.items():
        club.make(url, body)
    club.make(f"{athlete}/remote", {"remote": True}, "put")
    swing = swinging(np.random.default_rng(2), 0.75, 20, seconds=8.0, rate_hz=100.0)
    values = np.hstack((swing.accel_m_s2, swing.gyro_rad_s))
    told = {"motion": "pendulum", "length_m": 0.75, "gravity_m_s2": 9.80665, "t_us": (swing.t_s * 1e6).round().tolist()}
    told["channels"] = {name: column.tolist() for name, column in zip(IMU_COLUMNS, values.T, strict=True)}
    club.make(f"{device}/known-motions", told)
    club.make(f"{device}/check", still_table())
    string = club.make("/v1/devices", {"name": f"{mark} string", "kind": "encoder"})["id"]
    club.has("setup_id", club.make(f"/v1/devices/{string}/string", PULLS)["id"])
    club.has("code", club.make("/v1/drills", {**DRILL, "code": f"{mark.lower()}_snatch"})["code"])
    find_more(club)
    return club


def find_more(club: Club) -> None:
    """Ids that lists tell of: GET .../things names what stands in .../things/{thing_id}."""
    for _, path in operations():
        above, _, name = path.rpartition("/")
        while above and not name.startswith("{"):
            above, _, name = above.rpartition("/")
        name = name.strip("{}")
        known = {one: club.ids.get(one, [PLAIN.get(one)])[0] for one in parameters(above)}
        if not name or name in PLAIN or None in known.values() or "get" not in DOCUMENT["paths"].get(above, {}):
            continue
        answer = club.ask("get", filled(above, known))
        items = answer.json().get("items", []) if answer.status_code == 200 else []
        if name.endswith("_id"):
            club.has(name, *[one["id"] for one in items if "id" in one])


@pytest.fixture
def clubs(service: Service) -> tuple[Club, Club]:
    return everything(service, "Quarry Lane Lifting Club", "Imke"), everything(service, "Another club", "Oskar")


def body_of(verb: str, path: str) -> dict[str, Any]:
    """What to send along: as told above, else the least that the document allows."""
    if (verb, path) in CSV:
        return {"content": CSV[verb, path], "headers_more": {"Content-Type": "text/csv"}}
    if (verb, path) in BODIES:
        return {"json": BODIES[verb, path]}
    content = DOCUMENT["paths"][path][verb].get("requestBody", {}).get("content", {})
    schema = content.get("application/json", {}).get("schema")
    return {} if schema is None else {"json": least(schema)}


def least(schema: dict[str, Any]) -> Any:
    """The smallest document that fits a schema, as far as the API's schemas go."""
    if "$ref" in schema:
        return least(DOCUMENT["components"]["schemas"][schema["$ref"].split("/")[-1]])
    for given in ("const", "default"):
        if given in schema:
            return schema[given]
    for given in ("examples", "enum"):
        if schema.get(given):
            return schema[given][0]
    for given in ("anyOf", "oneOf", "allOf"):
        if given in schema:
            return least(schema[given][0])
    kind = schema.get("type")
    if kind == "object":
        return {name: least(schema["properties"][name]) for name in schema.get("required", [])}
    if kind == "array":
        parts = [least(one) for one in schema.get("prefixItems", ())]
        return parts or [least(schema["items"])] * schema.get("minItems", 0)
    simple = {"string": "a", "boolean": True, "null": None}
    return simple[kind] if kind in simple else max(1, schema.get("minimum", 1))


def call(club: Club, verb: str, path: str, values: dict[str, Any], **changed: Any) -> Any:
    more = {**body_of(verb, path), **changed}
    headers = {**club.headers, **more.pop("headers_more", {})}
    return club.service.client.request(verb, filled(path, values), headers=headers, **more)


def mixtures(path: str, theirs: Club, own: Club) -> list[dict[str, Any]]:
    """Every way to fill a path with at least one id of another club, each of its ids in turn."""
    names = parameters(path)
    ids = [name for name in names if name not in PLAIN]
    choices = [[(one, True) for one in theirs.ids[name]] + [(own.ids[name][0], False)] for name in ids]
    out = []
    for chosen in itertools.product(*choices):
        if any(foreign for _, foreign in chosen):
            values = {name: value for name, (value, _) in zip(ids, chosen, strict=True)}
            out.append({**PLAIN, **values})
    return out


def seen_of(club: Club) -> dict[str, Any]:
    """Everything the club itself can read, by address."""
    out = {}
    for verb, path in operations():
        if verb != "get" or not path.startswith("/v1/") or path.endswith("/events") or path in OWN_TRACE:
            continue
        choices = [[PLAIN[name]] if name in PLAIN else club.ids[name] for name in parameters(path)]
        for chosen in itertools.product(*choices):
            url = filled(path, dict(zip(parameters(path), chosen, strict=True)))
            answer = club.ask("get", url)
            out[url] = answer.content if answer.status_code == 200 else answer.status_code
    return out


def test_a_club_finds_nothing_of_another_by_whatever_id(clubs):
    theirs, own = clubs
    before = seen_of(theirs)
    for _, path in operations():
        for name in parameters(path):
            assert name in PLAIN or theirs.ids.get(name), f"{path}: make something with a {name} in everything()"
    in_paths, in_bodies = ids_in_paths(theirs, own), ids_in_bodies(theirs, own)
    asked = {(verb, path): answer for verb, path, answer in in_paths + in_bodies}
    found = [
        (verb, path, answer.status_code, answer.text[:200])
        for verb, path, answer in in_paths + in_bodies
        if (answer.status_code, answer.json().get("code")) != (404, "not-found")
    ]
    assert found == []
    assert {(verb, path) for verb, path in operations() if set(parameters(path)) - set(PLAIN)} <= set(asked)
    assert len(in_bodies) >= 4
    lists_tell_nothing(theirs, own)
    assert seen_of(theirs) == before


def ids_in_paths(theirs: Club, own: Club) -> list[tuple[str, str, Any]]:
    return [
        (verb, path, call(own, verb, path, values))
        for verb, path in operations()
        if set(parameters(path)) - set(PLAIN)
        for values in mixtures(path, theirs, own)
    ]


def ids_in_bodies(theirs: Club, own: Club) -> list[tuple[str, str, Any]]:
    """Every member of a body that is called as a parameter of a path is, or many of them."""
    out = []
    for verb, path in operations():
        schema = DOCUMENT["paths"][path][verb].get("requestBody", {}).get("content", {}).get("application/json", {})
        name = schema.get("schema", {}).get("$ref", "").split("/")[-1]
        for member in DOCUMENT["components"]["schemas"].get(name, {}).get("properties", {}):
            many = member.endswith("_ids")
            ids = theirs.ids.get(member.removesuffix("s"), ()) if member.endswith(("_id", "_ids")) else ()
            for one in ids:
                body = {**body_of(verb, path).get("json", {}), member: [one] if many else one}
                body = {key: value for key, value in body.items() if f"{key}_id" != member}  # by name or by id
                values = {**PLAIN, **{key: known[0] for key, known in own.ids.items()}}
                out.append((verb, path, call(own, verb, path, values, json=body)))
    return out


def lists_tell_nothing(theirs: Club, own: Club) -> None:
    foreign = [one for ids in theirs.ids.values() for one in ids] + ["Imke"]
    for verb, path in operations():
        if verb != "get" or parameters(path) or not path.startswith("/v1/"):
            continue
        for query in [{}, *({name: theirs.ids[name][0]} for name in queries(path) if name in theirs.ids)]:
            answer = own.ask("get", path, params={**needed(path), **query})
            assert answer.status_code in (200, 404), (path, answer.text)
            asked_for = set(query.values()) if answer.status_code == 404 else set()
            assert [one for one in foreign if one in answer.text and one not in asked_for] == [], (path, query)


def queries(path: str) -> list[str]:
    return [one["name"] for one in DOCUMENT["paths"][path]["get"].get("parameters", []) if one["in"] == "query"]


def needed(path: str) -> dict[str, Any]:
    asked = DOCUMENT["paths"][path]["get"].get("parameters", [])
    return {one["name"]: least(one["schema"]) for one in asked if one["in"] == "query" and one.get("required")}
