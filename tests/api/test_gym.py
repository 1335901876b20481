"""The one call of a screen beside the platform."""

from __future__ import annotations

from typing import Any

from conftest import Service, imu_block


def screen(service: Service, athlete_id: str, **headers: str) -> Any:
    return service.client.get(f"/v1/athletes/{athlete_id}/gym", headers=headers)


def test_it_shows_the_last_set_with_its_reps(service: Service) -> None:
    done = service.closed_set()
    shown = screen(service, done["athlete_id"]).json()
    assert (shown["set_id"], shown["state"], shown["lift"], shown["load_kg"]) == (done["id"], "analysed", "snatch", 60)
    (rep,) = shown["reps"]
    assert rep["velocity"]["value"] == done["reps"][0]["measures"]["peak_velocity"]["value"]
    assert rep["provisional"] is False
    assert (shown["stop"], shown["next"], shown["next_reason"]) == (None, None, "there is no plan for today")
    assert "not an instruction" in shown["caution"]


def test_an_unchanged_screen_is_not_sent_again(service: Service) -> None:
    done = service.closed_set()
    first = screen(service, done["athlete_id"])
    tag = first.headers["etag"]
    again = screen(service, done["athlete_id"], **{"If-None-Match": f'"other", W/{tag}'})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    stream = service.stream(started_at="2026-03-01T17:40:00Z")
    changed = screen(service, done["athlete_id"], **{"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["etag"] != tag
    assert (changed.json()["state"], changed.json()["stream_id"]) == ("open", stream["id"])


def test_an_athlete_without_sets(service: Service) -> None:
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()
    shown = screen(service, athlete["id"]).json()
    assert (shown["set_id"], shown["reps"], shown["last_event_id"]) == (None, [], 0)


def test_the_next_set_comes_from_the_plan_and_is_counted_down(service: Service) -> None:
    athlete = service.client.post("/v1/athletes", json={"name": "Imke", "sex": "female"}).json()
    on = screen(service, athlete["id"]).json()["on"]
    plan = {"on": on, "sets": [{"lift": "snatch", "percent": 70, "reps": 2, "sets": 2}]}
    assert service.client.post(f"/v1/athletes/{athlete['id']}/plans", json=plan).status_code == 201
    before = screen(service, athlete["id"]).json()
    assert (before["next"]["lift"], before["next"]["reps"], before["sets_left"]) == ("snatch", 2, 2)
    for left in (1, None):
        stream = service.client.post("/v1/streams", json={**_TODAY, "athlete": "Imke"}).json()
        service.send(stream["id"], imu_block(0))
        service.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
        assert screen(service, athlete["id"]).json()["sets_left"] == left
    assert screen(service, athlete["id"]).json()["next_reason"] == "every set of today's plan is done"


def test_another_clubs_athlete_is_not_there(service: Service) -> None:
    done = service.closed_set()
    answer = screen(service, done["athlete_id"], **service.new_key(club="Somebody else"))
    assert answer.status_code == 404


_TODAY = {"device": "bar 3", "lift": "snatch", "load_kg": 60, "device_kind": "imu"}
