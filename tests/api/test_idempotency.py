"""Creating requests that arrive twice."""

from __future__ import annotations

from datetime import timedelta

import pytest

from conftest import STREAM

META = '{"athlete": "Imke", "device": "string 1", "lift": "snatch", "load_kg": 60}'
CSV = "t_s,position[m]\n" + "".join(f"{i * 0.01},{i * 0.002}\n" for i in range(60))
ROUTES = {
    "/v1/athletes": {"name": "Imke"},
    "/v1/devices": {"name": "bar 3", "kind": "imu"},
    "/v1/streams": STREAM,
}


@pytest.mark.parametrize("route", ROUTES)
def test_the_same_request_again_creates_nothing_and_gets_the_first_answer(service, route):
    headers = {"Idempotency-Key": '"one"'}
    first = service.client.post(route, json=ROUTES[route], headers=headers)
    again = service.client.post(route, json=ROUTES[route], headers=headers)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert first.headers["location"] == again.headers["location"]
    assert len(service.client.get(route).json()["items"]) == 1


@pytest.mark.parametrize("route", ROUTES)
def test_another_request_with_the_same_key_is_refused(service, route):
    service.client.post(route, json=ROUTES[route], headers={"Idempotency-Key": "one"})
    other = {**ROUTES[route], **({"name": "Tomas"} if "name" in ROUTES[route] else {"load_kg": 61})}
    answer = service.client.post(route, json=other, headers={"Idempotency-Key": "one"})
    assert (answer.status_code, answer.json()["code"]) == (422, "retry-mismatch")
    elsewhere = service.client.post("/v1/athletes", json={"name": "Z"}, headers={"Idempotency-Key": '"one"'})
    assert elsewhere.json()["code"] == "retry-mismatch"


def test_a_recording_sent_twice_is_one_set(service):
    def send(meta):
        return service.client.post(
            "/v1/recordings", data={"meta": meta}, files={"file": ("a.csv", CSV)}, headers={"Idempotency-Key": "r1"}
        )

    first, again = send(META), send(META)
    assert first.json() == again.json()
    assert len(service.client.get("/v1/sets").json()["items"]) == 1
    assert send(META.replace("60", "61")).json()["code"] == "retry-mismatch"


def test_a_request_that_was_refused_may_be_mended_under_the_same_key(service):
    headers = {"Idempotency-Key": "one"}
    assert service.client.post("/v1/streams", json={**STREAM, "lift": "x"}, headers=headers).status_code == 422
    assert service.client.post("/v1/streams", json=STREAM, headers=headers).status_code == 201


def test_clubs_do_not_share_keys(service):
    headers = {"Idempotency-Key": "one"}
    service.client.post("/v1/athletes", json={"name": "Imke"}, headers=headers)
    other = service.new_key(club="Another club")
    answer = service.client.post("/v1/athletes", json={"name": "Tomas"}, headers={**headers, **other})
    assert answer.status_code == 201


def test_an_answer_is_kept_for_a_day(service):
    headers = {"Idempotency-Key": "one"}
    service.client.post("/v1/athletes", json={"name": "Imke"}, headers=headers)
    later = service.parts.now() + timedelta(hours=24, seconds=1)
    object.__setattr__(service.parts, "now", lambda: later)
    answer = service.client.post("/v1/athletes", json={"name": "Tomas"}, headers=headers)
    assert answer.status_code == 201


@pytest.mark.parametrize("key", ["", '""', "x" * 201, "a\tb", '"a', "a b"])
def test_a_key_that_cannot_be_used(service, key):
    answer = service.client.post("/v1/athletes", json={"name": "Imke"}, headers={"Idempotency-Key": key})
    assert (answer.status_code, answer.json()["code"]) == (400, "retry-key-invalid")
