"""Streams: begin, look, close, and blocks that come late."""

from __future__ import annotations

import pytest

from barwright.access.scopes import Scope
from conftest import STREAM, imu_block


def test_names_not_known_yet_are_added_and_used_again(service):
    first, second = service.stream(bar_axis="-y"), service.stream()
    assert first["athlete_id"] == second["athlete_id"]
    assert first["device_id"] == second["device_id"]
    assert (first["athlete"], first["device"], first["state"]) == ("Imke", "bar 3", "open")
    assert first["bar_axis"] == second["bar_axis"] == [0, -1, 0]
    device = service.client.get(f"/v1/devices/{first['device_id']}").json()
    assert device["mounting"]["bar_axis"] == [0, -1, 0]


def test_ids_stand_for_the_same(service):
    known = service.stream()
    by_id = {**STREAM, "athlete_id": known["athlete_id"], "device_id": known["device_id"]}
    del by_id["athlete"], by_id["device"]
    answer = service.client.post("/v1/streams", json=by_id)
    assert answer.status_code == 201
    assert answer.json()["athlete"] == "Imke"
    assert answer.headers["location"] == f"/v1/streams/{answer.json()['id']}"


def test_the_axis_of_one_stream_leaves_the_device_alone(service):
    service.stream(bar_axis="+x")
    other = service.stream(bar_axis=[0, 3, 4])
    assert other["bar_axis"] == [0, 0.6, 0.8]
    assert service.stream()["bar_axis"] == [1, 0, 0]


def test_units_are_si_unless_declared(service):
    assert service.stream(units={})["units"] == {"accel": "m/s2", "gyro": "rad/s"}
    assert service.stream(units={"gyro": "deg/s"})["units"] == {"accel": "m/s2", "gyro": "deg/s"}
    encoder = service.stream(device="string 1", device_kind="encoder", units={})
    assert encoder["units"] == {"position": "m", "velocity": "m/s"}


def test_a_set_says_which_units_were_taken_for_granted(service):
    assert service.closed_set(units={"accel": "[g]"})["notes"][0] == "No unit was given for gyro: read as rad/s."
    told = service.closed_set(units={"accel": "[g]", "gyro": "deg/s"})["notes"]
    assert not [note for note in told if "No unit" in note]
    encoder = service.closed_set(blocks=0, device="string 1", device_kind="encoder", units={})
    assert encoder["notes"] == ["No unit was given: position is read as m, velocity as m/s."]


def test_the_load_may_be_told_in_pounds(service):
    # 1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959)
    assert service.stream(load_kg=100, units={"load": "[lb_av]"})["load_kg"] == pytest.approx(45.359237)


@pytest.mark.parametrize(
    ("changes", "code", "pointer"),
    [
        ({"lift": "snach"}, "unknown-lift", "/lift"),
        ({"units": {"accel": "g"}}, "unknown-unit", "/units/accel"),
        ({"units": {"accel": "furlong/s2"}}, "unknown-unit", "/units/accel"),
        ({"units": {"gyro": "dps"}}, "unknown-unit", "/units/gyro"),
        ({"units": {"load": "stone"}}, "unknown-unit", "/units/load"),
        ({"units": {"speed": "m/s"}}, "request-invalid", "/units/speed"),
        ({"rate_hz": 5}, "rate-out-of-limits", "/rate_hz"),
        ({"rate_hz": 100_000}, "rate-out-of-limits", "/rate_hz"),
        ({"load_kg": -1}, "request-invalid", "/load_kg"),
        ({"load_kg": 5000}, "bad-load", "/load_kg"),
        ({"started_at": "2999-01-01T10:00:00Z"}, "in-the-future", "/started_at"),
        ({"load_kg": "60"}, "request-invalid", "/load_kg"),
        ({"load_kg": True}, "request-invalid", "/load_kg"),
        ({"load_kg": None}, "request-invalid", "/load_kg"),
        ({"bar_axis": "up"}, "bad-bar-axis", "/bar_axis"),
        ({"bar_axis": [0, 0, 0]}, "bad-bar-axis", "/bar_axis"),
        ({"bar_axis": [0, 1]}, "bad-bar-axis", "/bar_axis"),
        ({"bar_axis": {"x": 1}}, "bad-bar-axis", "/bar_axis"),
        ({"bar_axis": [0, "1", 0]}, "bad-bar-axis", "/bar_axis"),
        ({"started_at": "yesterday"}, "request-invalid", "/started_at"),
        ({"started_at": "2026-03-01T17:30:00"}, "request-invalid", "/started_at"),
        ({"started_at": "2026-02-30T17:30:00Z"}, "request-invalid", "/started_at"),
        ({"started_at": 1700000000}, "request-invalid", "/started_at"),
        ({"athlete": None}, "request-invalid", "/athlete"),
        ({"athlete_id": "ath_1"}, "request-invalid", "/athlete_id"),
        ({"athlete": "\u0000"}, "request-invalid", "/athlete"),
        ({"athlete": "  "}, "request-invalid", "/athlete"),
        ({"colour": "red"}, "request-invalid", "/colour"),
    ],
)
def test_a_bad_stream_is_refused_with_a_pointer(service, changes, code, pointer):
    answer = service.client.post("/v1/streams", json={**STREAM, **changes})
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (422, code), problem
    if pointer is not None:
        assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert service.client.get("/v1/streams").json()["items"] == []
    assert service.client.get("/v1/athletes").json()["items"] == []  # nor was anyone added on the way


def test_ids_that_do_not_exist(service):
    for changes in ({"athlete_id": "ath_none", "athlete": None}, {"device_id": "dev_none", "device": None}):
        answer = service.client.post("/v1/streams", json={**STREAM, **changes})
        assert (answer.status_code, answer.json()["code"]) == (404, "not-found")
        assert answer.json()["errors"][0]["pointer"] == f"/{next(iter(changes))}"


def test_an_unknown_athlete_is_added_only_by_a_key_that_may(service):
    headers = service.new_key(Scope.STREAMS_WRITE)
    answer = service.client.post("/v1/streams", json=STREAM, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (403, "scope-missing")
    assert answer.json()["errors"][0]["pointer"] == "/athlete"
    service.stream()
    assert service.client.post("/v1/streams", json=STREAM, headers=headers).status_code == 201


def test_a_device_of_the_other_kind(service):
    service.stream()
    answer = service.client.post("/v1/streams", json={**STREAM, "device_kind": "encoder", "units": {}})
    assert (answer.status_code, answer.json()["code"]) == (422, "kind-mismatch")


def test_closing_analyses_the_set(service):
    stream = service.stream()
    service.send(stream["id"], imu_block(0))
    closed = service.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
    assert closed.status_code == 200
    assert closed.json()["set_id"] == stream["set_id"]
    assert (closed.json()["state"], closed.json()["missing"]) == ("analysed", [])
    again = service.client.post(f"/v1/streams/{stream['id']}/close?wait=20").json()
    assert (again["state"], again["revision"]) == ("analysed", 1)
    assert service.client.get(f"/v1/streams/{stream['id']}").json()["state"] == "closed"


def test_closing_with_blocks_missing_says_so(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    service.send(stream, imu_block(3))
    service.send(stream, imu_block(5))
    closed = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    assert closed["missing"] == [[1, 2], [4, 4]]
    words = service.client.get(f"/v1/sets/{closed['set_id']}").json()["quality"]["words"]
    assert any("1 to 2, 4" in sentence and "never arrived" in sentence for sentence in words)


def test_a_late_block_is_taken_and_the_set_analysed_anew(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    service.send(stream, imu_block(2))
    closed = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    before = service.client.get(f"/v1/sets/{closed['set_id']}").json()
    assert service.send(stream, imu_block(1)).json() | {"received_at": None} == {
        "stored": True,
        "next_seq": 3,
        "missing": [],
        "received_at": None,
    }
    after = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    lift_set = service.client.get(f"/v1/sets/{closed['set_id']}").json()
    assert (before["revision"], lift_set["revision"], after["missing"]) == (1, 2, [])
    assert (before["quality"]["samples"], lift_set["quality"]["samples"]) == (100, 150)
    assert service.send(stream, imu_block(1)).json()["stored"] is False
    assert service.send(stream, imu_block(0)).json()["stored"] is False
    assert service.client.get(f"/v1/sets/{closed['set_id']}").json()["revision"] == 2


def test_closing_without_any_block_is_a_failed_set_with_a_reason(service):
    stream = service.stream()["id"]
    closed = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    lift_set = service.client.get(f"/v1/sets/{closed['set_id']}").json()
    assert (lift_set["state"], lift_set["reason_code"]) == ("failed", "no-samples")
    assert service.send(stream, imu_block(0)).status_code == 200
    again = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()
    assert (again["state"], again["revision"]) == ("analysed", 2)


def test_streams_are_listed_newest_first_page_by_page(service):
    made = [service.stream()["id"] for _ in range(5)]
    seen, cursor = [], None
    for _ in range(3):
        answer = service.client.get("/v1/streams", params={"limit": 2, **({"cursor": cursor} if cursor else {})})
        seen += [item["id"] for item in answer.json()["items"]]
        cursor = answer.json()["next"]
        if cursor:
            assert answer.links["next"]["url"].endswith(f"cursor={cursor}")
            assert "limit=2" in answer.links["next"]["url"]
    assert cursor is None
    assert seen == made[::-1]
