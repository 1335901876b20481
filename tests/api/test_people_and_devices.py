"""Athletes and devices."""

from __future__ import annotations

import json

import cbor2
import pytest

from barwright.ingest.typed_arrays import array_of_tag
from conftest import imu_block

IMKE = {
    "name": "Imke",
    "birth_year": 1999,
    "sex": "female",
    "body_mass_kg": 63.4,
    "stature_m": 1.68,
    "level": "advanced",
}


def test_an_athlete_is_told_read_and_changed(service):
    made = service.client.post("/v1/athletes", json=IMKE)
    assert made.status_code == 201
    url = made.headers["location"]
    assert {k: made.json()[k] for k in IMKE} == IMKE
    assert service.client.get(url).json() == made.json()
    changed = service.client.patch(url, json={"body_mass_kg": 64, "level": None}).json()
    assert changed == {**made.json(), "body_mass_kg": 64, "level": None}
    assert service.client.get(url).json() == changed


def test_athletes_are_listed_by_name_page_by_page(service):
    for name in ("Tomas", "Imke", "Rana", "Oskar", "Lucja"):
        service.client.post("/v1/athletes", json={"name": name})
    seen, url = [], "/v1/athletes?limit=2"
    while url:
        answer = service.client.get(url)
        seen += [one["name"] for one in answer.json()["items"]]
        url = answer.links.get("next", {}).get("url")
    assert seen == ["Imke", "Lucja", "Oskar", "Rana", "Tomas"]


def test_names_are_unique_in_a_club(service):
    for route, told in (("/v1/athletes", {"name": "Imke"}), ("/v1/devices", {"name": "bar 3", "kind": "imu"})):
        service.client.post(route, json=told)
        answer = service.client.post(route, json=told)
        assert (answer.status_code, answer.json()["code"]) == (409, "name-taken")
        other = service.client.post(route, json={**told, "name": "Tomas"}).headers["location"]
        answer = service.client.patch(other, json={"name": told["name"]})
        assert (answer.status_code, answer.json()["code"]) == (409, "name-taken")
        assert service.client.get(other).json()["name"] == "Tomas"
        elsewhere = service.client.post(route, json=told, headers=service.new_key(club="Another club"))
        assert elsewhere.status_code == 201


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({}, "/name"),
        ({"name": ""}, "/name"),
        ({"name": 3}, "/name"),
        ({"name": "a\nb"}, "/name"),
        ({"name": "x" * 201}, "/name"),
        ({"name": "a", "birth_year": 1850}, "/birth_year"),
        ({"name": "a", "birth_year": 10**40}, "/birth_year"),
        ({"name": "a", "birth_year": 1999.5}, "/birth_year"),
        ({"name": "a", "body_mass_kg": 0}, "/body_mass_kg"),
        ({"name": "a", "stature_m": 168}, "/stature_m"),
        ({"name": "a", "level": "x" * 41}, "/level"),
        ({"name": "a", "sex": "x"}, "/sex"),
        ({"name": "a", "club_id": "clb_1"}, "/club_id"),
    ],
)
def test_a_bad_athlete(service, told, pointer):
    answer = service.client.post("/v1/athletes", json=told)
    assert (answer.status_code, answer.json()["code"]) == (422, "request-invalid")
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_sex_may_be_a_letter_and_level_any_word(service):
    told = {"name": "Rana", "sex": "F", "level": "regional"}
    answer = service.client.post("/v1/athletes", json=told).json()
    assert (answer["sex"], answer["level"]) == ("female", "regional")


def test_a_lone_surrogate_is_a_bad_name_not_a_crash(service):
    body = b'{"name": "\\ud800"}'
    answer = service.client.post("/v1/athletes", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422


def test_a_name_cannot_be_taken_away(service):
    url = service.client.post("/v1/athletes", json=IMKE).headers["location"]
    assert service.client.patch(url, json={"name": None}).status_code == 422


def test_a_device_is_told_read_and_changed(service):
    told = {
        "name": "bar 3",
        "kind": "imu",
        "mounting": {"bar_axis": "-y", "place": "sleeve", "along_m": -0.75},
        "class": "good",
        "ranges": {"accel": 16, "gyro": 2000, "units": {"accel": "[g]", "gyro": "deg/s"}},
    }
    made = service.client.post("/v1/devices", json=told)
    assert made.status_code == 201, made.text
    device = made.json()
    assert device["mounting"]["bar_axis"] == [0, -1, 0]
    assert (device["mounting"]["place"], device["class"]) == ("sleeve", "good")
    assert device["mounting"]["along_m"] == -0.75
    assert device["ranges"]["accel"] == pytest.approx(16 * 9.80665)
    assert device["ranges"]["gyro"] == pytest.approx(34.9066, rel=1e-5)  # 2000 deg/s
    assert device["ranges"]["units"] == {"accel": "m/s2", "gyro": "rad/s"}
    url = made.headers["location"]
    changed = service.client.patch(url, json={"mounting": {"bar_axis": [1, 0, 0]}, "class": None}).json()
    assert changed["mounting"] == {**device["mounting"], "bar_axis": [1, 0, 0]}
    assert (changed["class"], changed["ranges"]) == (None, device["ranges"])
    assert service.client.get("/v1/devices").json()["items"] == [changed]
    round_trip = service.client.patch(url, json={"ranges": changed["ranges"]}).json()
    assert round_trip["ranges"] == changed["ranges"]


def test_an_encoder_knows_its_anchor(service):
    told = {"name": "string 1", "kind": "encoder", "mounting": {"anchor_offset_m": 0.2, "anchor_height_m": 0.05}}
    device = service.client.post("/v1/devices", json=told).json()
    assert device["mounting"] == {
        "bar_axis": None,
        "place": "shaft",
        "along_m": None,
        "anchor_offset_m": 0.2,
        "anchor_height_m": 0.05,
    }


@pytest.mark.parametrize(
    ("told", "code", "pointer"),
    [
        ({"name": "a"}, "request-invalid", "/kind"),
        ({"name": "a", "kind": "camera"}, "request-invalid", "/kind"),
        ({"name": "a", "kind": "imu", "mounting": {"bar_axis": "+w"}}, "bad-bar-axis", "/mounting/bar_axis"),
        ({"name": "a", "kind": "imu", "mounting": {"place": "plate"}}, "request-invalid", "/mounting/place"),
        ({"name": "a", "kind": "imu", "class": "best"}, "request-invalid", "/class"),
        (
            {"name": "a", "kind": "imu", "ranges": {"accel": 16, "units": {"accel": "g"}}},
            "unknown-unit",
            "/ranges/units/accel",
        ),
        ({"name": "a", "kind": "imu", "ranges": {"accel": -1}}, "request-invalid", "/ranges/accel"),
    ],
)
def test_a_bad_device(service, told, code, pointer):
    answer = service.client.post("/v1/devices", json=told)
    assert (answer.status_code, answer.json()["code"]) == (422, code), answer.text
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_changing_a_device_leaves_streams_that_began_alone(service):
    stream = service.stream(bar_axis="+x")
    service.client.patch(f"/v1/devices/{stream['device_id']}", json={"mounting": {"bar_axis": "-z"}})
    assert service.client.get(f"/v1/streams/{stream['id']}").json()["bar_axis"] == [1, 0, 0]
    assert service.stream()["bar_axis"] == [0, 0, -1]


def test_the_export_holds_everything(service):
    lift_set = service.closed_set(blocks=2)
    open_stream = service.stream()
    service.send(open_stream["id"], imu_block(0, boot="later"))
    service.closed_set(blocks=1, athlete="Rana")
    answer = service.client.get(f"/v1/athletes/{lift_set['athlete_id']}/export")
    everything = json.loads(answer.content)
    assert everything["athlete"]["name"] == "Imke"
    closed, still_open = everything["streams"]
    assert closed["set"] == lift_set
    assert [block["seq"] for block in closed["blocks"]] == [0, 1]
    assert closed["blocks"][1]["channels"] == imu_block(1)["channels"]
    assert closed["blocks"][1]["t_us"][:2] == [250_000, 255_000]
    assert still_open["stream"]["id"] == open_stream["id"]
    assert still_open["set"]["state"] == "open"
    assert len(still_open["blocks"]) == 1


def test_the_export_as_cbor_says_the_same(service):
    url = f"/v1/athletes/{service.closed_set(blocks=2)['athlete_id']}/export"
    service.stream()
    plain, packed = service.client.get(url), service.client.get(url, headers={"Accept": "application/cbor"})
    assert packed.headers["content-type"] == "application/cbor"
    arrays = lambda tag, _=None: array_of_tag(tag.tag, tag.value).tolist()  # noqa: E731
    assert cbor2.loads(packed.content, tag_hook=arrays) == plain.json()
    refused = service.client.get(url, headers={"Accept": "text/csv"})
    assert (refused.status_code, refused.json()["code"]) == (406, "not-acceptable")


def test_an_erased_athlete_leaves_no_trace_in_rows_or_files(service):
    kept = service.closed_set(athlete="Rana")
    secret = "Imke Verwijderd"
    headers = {"Idempotency-Key": "k"}
    service.client.post("/v1/athletes", json={"name": secret}, headers=headers)
    lift_set = service.closed_set(athlete=secret)
    open_stream = service.stream(athlete=secret)
    service.send(open_stream["id"], imu_block(0))
    url = f"/v1/athletes/{lift_set['athlete_id']}"
    assert len(list((service.settings.data / "raw").iterdir())) == 2
    assert service.client.delete(url).status_code == 200

    for gone in (
        url,
        f"{url}/export",
        f"/v1/sets/{lift_set['id']}",
        f"/v1/sets/{lift_set['id']}/reps/1/path",
        f"/v1/streams/{lift_set['stream_id']}",
        f"/v1/streams/{open_stream['id']}",
    ):
        assert service.client.get(gone).status_code == 404
    assert service.client.delete(url).status_code == 404
    files = [path for path in service.settings.data.rglob("*") if path.is_file()]
    assert len([path for path in files if path.parent.name == "raw"]) == 1
    for path in files:
        assert secret.encode() not in path.read_bytes(), path
        assert lift_set["id"].encode() not in path.read_bytes(), path
    assert service.client.get(f"/v1/sets/{kept['id']}").json() == kept
    again = service.client.post("/v1/athletes", json={"name": secret}, headers=headers)
    assert again.status_code == 201
    assert again.json()["id"] != lift_set["athlete_id"]


def test_a_device_needs_no_mounting(service):
    for name, more in (("bar 1", {}), ("bar 2", {"mounting": None}), ("bar 3", {"mounting": {}})):
        answer = service.client.post("/v1/devices", json={"name": name, "kind": "imu", **more})
        assert answer.status_code == 201, answer.text
        assert answer.json()["mounting"]["bar_axis"] is None
        assert answer.json()["mounting"]["place"] == "shaft"


@pytest.mark.parametrize(
    ("ranges", "pointer", "words"),
    [
        ({"accel": 16}, "/ranges/accel", '"units": {"accel": "[g]"}'),
        ({"accel": 156.9, "gyro": 2000}, "/ranges/gyro", '"units": {"gyro": "deg/s"}'),
        ({"accel": 1e9}, "/ranges/accel", "19 and 4000"),
    ],
)
def test_a_range_no_sensor_has_is_a_unit_left_out(service, ranges, pointer, words):
    answer = service.client.post("/v1/devices", json={"name": "bar 1", "kind": "imu", "ranges": ranges})
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-member")
    assert answer.json()["errors"][0]["pointer"] == pointer
    assert words in answer.json()["detail"]
