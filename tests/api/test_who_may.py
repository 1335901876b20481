"""Keys, scopes, and what one club sees of another: nothing."""

from __future__ import annotations

import re

import pytest

from barwright.access.keys import new_key
from barwright.access.scopes import Scope
from barwright.app import bare_app
from conftest import imu_block, still_poses

OPEN = {"/v1/limits", "/v1/lifts", "/healthz/live", "/healthz/ready", "/metrics"}
DRILL = {
    "code": "towel_snatch", "title": "Towel snatch", "of": "snatch", "percent": [50, 60], "beginner": 50,
    "sets": [3, 4], "reps": [2, 2], "form": "A towel before the toes.", "why": "shows where the bar goes",
}  # fmt: skip
BODIES = {
    ("POST", "/v1/keys"): {"label": "a bar", "scopes": ["streams:write"]},
    ("POST", "/v1/keys/{key_id}/replace"): {},
    ("PUT", "/v1/devices/{device_id}/next"): {"athlete_id": "ath_none", "lift": "snatch", "load_kg": 60},
    ("POST", "/v1/webhooks"): {"url": "https://club.example/hooks"},
    ("POST", "/v1/athletes"): {"name": "Tomas"},
    ("POST", "/v1/devices"): {"name": "bar 9", "kind": "imu"},
    ("POST", "/v1/streams"): {"athlete": "Imke", "device": "bar 9", "lift": "snatch", "load_kg": 60},
    ("PATCH", "/v1/athletes/{athlete_id}"): {"level": "novice"},
    ("PATCH", "/v1/devices/{device_id}"): {"class": "good"},
    ("POST", "/v1/devices/{device_id}/string"): {"pulls": [{"out": 10125, "length": {"value": 2.0}}]},
    ("PUT", "/v1/club"): {"step_kg": 2.5},
    ("PATCH", "/v1/club"): {"step_kg": 2.5},
    ("POST", "/v1/athletes/{athlete_id}/maxima"): {"lift": "back_squat", "load_kg": 100},
    ("POST", "/v1/athletes/{athlete_id}/plans"): {"sets": [{"lift": "snatch", "percent": 80}]},
    ("POST", "/v1/athletes/{athlete_id}/decisions"): {"kind": "lift_cap", "lift": "snatch", "reason": "a test"},
    ("PATCH", "/v1/sets/{set_id}"): {"load_kg": 61},
    ("PATCH", "/v1/sets/{set_id}/reps/{index}"): {"excluded": True},
    ("POST", "/v1/athletes/{athlete_id}/prescriptions"): {"lift": "snatch", "fault": "S1", "drill": "deficit_snatch"},
    ("POST", "/v1/athletes/{athlete_id}/prescriptions/{prescription_id}/end"): {},
    ("PUT", "/v1/athletes/{athlete_id}/remote"): {"remote": True},
    ("POST", "/v1/drills"): DRILL,
    ("PATCH", "/v1/drills/{code}"): {"forbidden": True},
    ("POST", "/v1/review/looked"): {"set_ids": ["set_none"]},
}
CSV_BODIES = {("POST", "/v1/athletes/{athlete_id}/history"): b"date,lift,load\n2026-03-01,back_squat,100\n"}
MAY = {
    ("GET", "/v1/keys"): {"club:admin"},
    ("POST", "/v1/keys"): {"club:admin"},
    ("POST", "/v1/keys/{key_id}/replace"): {"club:admin"},
    ("DELETE", "/v1/keys/{key_id}"): {"club:admin"},
    ("GET", "/v1/audit"): {"club:admin"},
    ("GET", "/v1/analyses"): {"club:admin"},
    ("GET", "/v1/athletes/{athlete_id}/gym"): {"results:read"},
    ("PUT", "/v1/devices/{device_id}/next"): {"streams:write"},
    ("POST", "/v1/webhooks"): {"club:admin"},
    ("GET", "/v1/webhooks"): {"club:admin"},
    ("DELETE", "/v1/webhooks/{webhook_id}"): {"club:admin"},
    ("GET", "/v1/webhooks/{webhook_id}/messages"): {"club:admin"},
    ("POST", "/v1/webhooks/{webhook_id}/messages/{message_id}/send"): {"club:admin"},
    ("POST", "/v1/athletes"): {"athletes:write"},
    ("GET", "/v1/athletes"): {"results:read", "athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}"): {"results:read", "athletes:write"},
    ("PATCH", "/v1/athletes/{athlete_id}"): {"athletes:write"},
    ("DELETE", "/v1/athletes/{athlete_id}"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/export"): {"results:read"},
    ("POST", "/v1/devices"): {"streams:write"},
    ("GET", "/v1/devices"): {"results:read", "streams:write"},
    ("GET", "/v1/devices/{device_id}"): {"results:read", "streams:write"},
    ("PATCH", "/v1/devices/{device_id}"): {"streams:write"},
    ("POST", "/v1/devices/{device_id}/calibration"): {"streams:write"},
    ("GET", "/v1/devices/{device_id}/calibration"): {"results:read", "streams:write"},
    ("GET", "/v1/devices/{device_id}/calibration/{calibration_id}"): {"results:read", "streams:write"},
    ("DELETE", "/v1/devices/{device_id}/calibration/{calibration_id}"): {"streams:write"},
    ("POST", "/v1/devices/{device_id}/check"): {"streams:write"},
    ("GET", "/v1/devices/{device_id}/check"): {"results:read", "streams:write"},
    ("GET", "/v1/devices/{device_id}/check/{check_id}"): {"results:read", "streams:write"},
    ("DELETE", "/v1/devices/{device_id}/check/{check_id}"): {"streams:write"},
    ("POST", "/v1/devices/{device_id}/known-motions"): {"streams:write"},
    ("GET", "/v1/devices/{device_id}/known-motions"): {"results:read", "streams:write"},
    ("GET", "/v1/devices/{device_id}/known-motions/{motion_id}"): {"results:read", "streams:write"},
    ("POST", "/v1/devices/{device_id}/string"): {"streams:write"},
    ("GET", "/v1/devices/{device_id}/string"): {"results:read", "streams:write"},
    ("GET", "/v1/devices/{device_id}/string/{setup_id}"): {"results:read", "streams:write"},
    ("POST", "/v1/streams"): {"streams:write"},
    ("GET", "/v1/streams"): {"results:read", "streams:write"},
    ("GET", "/v1/streams/{stream_id}"): {"results:read", "streams:write"},
    ("POST", "/v1/streams/{stream_id}/blocks"): {"streams:write"},
    ("POST", "/v1/streams/{stream_id}/close"): {"streams:write"},
    ("POST", "/v1/recordings"): {"streams:write"},
    ("POST", "/v1/recordings/preview"): {"streams:write"},
    ("GET", "/v1/sets"): {"results:read"},
    ("GET", "/v1/sets/{set_id}"): {"results:read"},
    ("GET", "/v1/sets/{set_id}/reps/{index}/path"): {"results:read"},
    ("POST", "/v1/sets/{set_id}/reanalyse"): {"streams:write"},
    ("GET", "/v1/club"): {"results:read", "athletes:write"},
    ("PUT", "/v1/club"): {"club:admin"},
    ("PATCH", "/v1/club"): {"club:admin"},
    ("GET", "/v1/readiness"): {"results:read"},
    ("GET", "/v1/rep_max"): {"results:read"},
    ("GET", "/v1/athletes/{athlete_id}/readiness"): {"results:read"},
    ("GET", "/v1/athletes/{athlete_id}/profiles/{lift}"): {"results:read"},
    ("GET", "/v1/athletes/{athlete_id}/zones/{lift}"): {"results:read"},
    ("POST", "/v1/athletes/{athlete_id}/plans"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/plans"): {"results:read", "athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/plans/{plan_id}"): {"results:read", "athletes:write"},
    ("DELETE", "/v1/athletes/{athlete_id}/plans/{plan_id}"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/loads"): {"results:read"},
    ("POST", "/v1/athletes/{athlete_id}/decisions"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/decisions"): {"results:read", "athletes:write"},
    ("POST", "/v1/athletes/{athlete_id}/maxima"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/maxima"): {"results:read", "athletes:write"},
    ("DELETE", "/v1/athletes/{athlete_id}/maxima/{maximum_id}"): {"athletes:write"},
    ("POST", "/v1/athletes/{athlete_id}/history"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/history.csv"): {"results:read"},
    ("GET", "/v1/sets/{set_id}/velocity_loss"): {"results:read"},
    ("PATCH", "/v1/sets/{set_id}"): {"streams:write", "athletes:write"},
    ("PATCH", "/v1/sets/{set_id}/reps/{index}"): {"streams:write", "athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/technique/{lift}"): {"results:read"},
    ("GET", "/v1/athletes/{athlete_id}/technique/{lift}/compare"): {"results:read"},
    ("POST", "/v1/athletes/{athlete_id}/prescriptions"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/prescriptions"): {"results:read"},
    ("GET", "/v1/athletes/{athlete_id}/prescriptions/{prescription_id}"): {"results:read"},
    ("POST", "/v1/athletes/{athlete_id}/prescriptions/{prescription_id}/end"): {"athletes:write"},
    ("GET", "/v1/athletes/{athlete_id}/remote"): {"results:read"},
    ("PUT", "/v1/athletes/{athlete_id}/remote"): {"athletes:write"},
    ("GET", "/v1/drills"): {"results:read", "athletes:write"},
    ("POST", "/v1/drills"): {"athletes:write"},
    ("GET", "/v1/drills/{code}"): {"results:read", "athletes:write"},
    ("PATCH", "/v1/drills/{code}"): {"athletes:write"},
    ("DELETE", "/v1/drills/{code}"): {"athletes:write"},
    ("GET", "/v1/review"): {"results:read"},
    ("POST", "/v1/review/looked"): {"athletes:write"},
}


def all_routes():
    paths = bare_app().openapi()["paths"]
    # answers without end, and the feed of a device, have the same tests in tests/live and test_feeds.py
    elsewhere = {"/v1/events", "/v1/streams/{stream_id}/events", "/v1/devices/{device_id}/blocks"}
    closed = [path for path in paths if path not in OPEN and path not in elsewhere]
    return [(method.upper(), path) for path in closed for method in paths[path]]


def call(service, method, path, ids, headers):
    url = re.sub(r"\{(\w+)\}", lambda found: str(ids[found[1]]), path)
    if (method, path) in CSV_BODIES:
        told = {**headers, "Content-Type": "text/csv"}
        return service.client.request(method, url, content=CSV_BODIES[method, path], headers=told)
    return service.client.request(method, url, json=BODIES.get((method, path)), headers=headers)


@pytest.fixture
def ids(service):
    lift_set = service.closed_set()
    made = service.client.post(f"/v1/devices/{lift_set['device_id']}/calibration", json=still_poses())
    maximum = service.client.post(
        f"/v1/athletes/{lift_set['athlete_id']}/maxima", json={"lift": "back_squat", "load_kg": 99}
    ).json()
    told = {"lift": "snatch", "fault": "S1", "drill": "deficit_snatch"}
    given = service.client.post(f"/v1/athletes/{lift_set['athlete_id']}/prescriptions", json=told).json()
    drill = service.client.post("/v1/drills", json={**DRILL, "code": "chalk_snatch"}).json()
    return {name: lift_set[name] for name in ("athlete_id", "device_id", "stream_id")} | {
        "calibration_id": made.json()["id"],
        "maximum_id": maximum["id"],
        "prescription_id": given["id"],
        "code": drill["code"],
        "plan_id": "pln_none",
        "check_id": "chk_none",
        "motion_id": "mot_none",
        "setup_id": "str_none",
        "webhook_id": "whk_none",
        "message_id": "msg_none",
        "key_id": service.client.get("/v1/keys").json()["items"][0]["id"],
        "lift": "snatch",
        "set_id": lift_set["id"],
        "index": 1,
    }


def test_this_test_knows_every_route():
    assert set(all_routes()) == set(MAY)


@pytest.mark.parametrize("route", all_routes())
def test_without_a_key_no_route_answers(service, route):
    ids = dict.fromkeys(re.findall(r"\{(\w+)\}", route[1]), "a") | {"index": 1}
    for value, code in [
        ("", "not-signed-in"),
        ("Basic abc", "not-signed-in"),
        ("Bearer nonsense", "key-mistyped"),
        (f"Bearer {new_key().shown}", "key-not-known"),
    ]:
        answer = call(service, *route, ids, {"Authorization": value})
        assert (answer.status_code, answer.json()["code"]) == (401, code)
        assert answer.headers["www-authenticate"].startswith("Bearer")


@pytest.mark.parametrize("route", all_routes())
def test_a_key_opens_exactly_the_routes_of_its_scopes(service, ids, route):
    for scope in Scope:
        answer = call(service, *route, {**ids, "athlete_id": "ath_none"}, service.new_key(scope))
        allowed = scope.value in MAY[route]
        assert (answer.status_code != 403) == allowed, answer.text
        if not allowed:
            assert answer.json()["code"] == "scope-missing"


@pytest.mark.parametrize("route", [route for route in all_routes() if "{" in route[1]])
def test_ids_of_another_club_are_not_found(service, ids, route):
    other = service.new_key(club="Another club")
    before = service.client.get(f"/v1/athletes/{ids['athlete_id']}/export").content
    answer = call(service, *route, ids, other)
    if route[1].endswith("/blocks"):
        url = f"/v1/streams/{ids['stream_id']}/blocks"
        answer = service.client.post(url, json=imu_block(9), headers=other)
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found"), answer.text
    assert service.client.get(f"/v1/athletes/{ids['athlete_id']}/export").content == before


def test_lists_hold_nothing_of_another_club(service, ids):
    other = service.new_key(club="Another club")
    for route in ("/v1/athletes", "/v1/devices", "/v1/streams", "/v1/sets"):
        assert service.client.get(route, headers=other).json() == {"items": [], "next": None}
    found = service.client.get("/v1/sets", params={"athlete_id": ids["athlete_id"]}, headers=other)
    assert found.json()["items"] == []


def test_ids_of_another_club_in_a_body_are_not_found(service, ids):
    other = service.new_key(club="Another club")
    told = {"lift": "snatch", "load_kg": 60}
    for more in (
        {"athlete_id": ids["athlete_id"], "device": "mine"},
        {"athlete": "mine", "device_id": ids["device_id"]},
    ):
        answer = service.client.post("/v1/streams", json={**told, **more}, headers=other)
        assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


def test_names_of_another_club_are_other_people(service, ids):
    other = service.new_key(club="Another club")
    told = {"athlete": "Imke", "device": "bar 3", "lift": "snatch", "load_kg": 60}
    stream = service.client.post("/v1/streams", json=told, headers=other).json()
    assert stream["athlete_id"] != ids["athlete_id"]
    assert stream["device_id"] != ids["device_id"]
