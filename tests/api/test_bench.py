"""Checks of a device over the wire: the whole of it, known motions, a string set up."""

from __future__ import annotations

import json
from dataclasses import replace

import cbor2
import numpy as np
import pytest

from analysis.devices.at_home import G, swinging
from barsim import DEVICES
from barsim.sensors import draw_constants
from barsim.still_log import still_log
from conftest import IMU_COLUMNS

UNITS = {"accel": "[g]", "gyro": "deg/s"}


def columns_of(samples):
    values = np.hstack((samples.accel_m_s2 / G, np.degrees(samples.gyro_rad_s)))
    return {name: [round(float(v), 6) for v in column] for name, column in zip(IMU_COLUMNS, values.T, strict=True)}


def body_of(samples, **more):
    t_us = [round(1e6 * float(t)) for t in samples.t_s]
    return {"units": UNITS, "t_us": t_us, "channels": columns_of(samples), **more}


@pytest.fixture(scope="module")
def log():
    """A sensor of the class hobby: 25 s on a table, then six faces up."""
    rng = np.random.default_rng(11)
    base = DEVICES["hobby"]
    device = replace(base, constants=draw_constants(base, rng))
    return device, still_log(
        device, rng, table_s=25.0, ups=((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, -1), (0, 1, 1))
    )


@pytest.fixture
def device(service):
    told = {
        "name": "bench 1", "kind": "imu", "class": "hobby", "mounting": {"bar_axis": "+x", "along_m": 0.0},
        "ranges": {"accel": 16, "units": {"accel": "[g]"}},
    }  # fmt: skip
    return service.client.post("/v1/devices", json=told).json()["id"]


@pytest.fixture
def string(service):
    return service.client.post("/v1/devices", json={"name": "string 1", "kind": "encoder"}).json()["id"]


@pytest.mark.sqlite
def test_a_check_says_how_good_the_sensor_is_and_what_to_change_first(service, device, log):
    kind, samples = log
    start = 1_772_386_200.0  # server's clock when the device's was nought; the device runs fast by 300 ppm
    clock = [
        {"t_us": round(1e6 * t * 1.0003), "at": f"2026-03-01T17:{30 + int(t) // 60:02d}:{t % 60:09.6f}Z"}
        for t in np.linspace(0, 55, 12)
    ]
    assert start > 0
    made = service.client.post(
        f"/v1/devices/{device}/check", json=body_of(samples, clock=clock, latitude_deg=45.0), timeout=60
    )
    assert made.status_code == 201, made.text
    found = made.json()
    assert service.client.get(made.headers["location"]).json() == found
    assert service.client.get(f"/v1/devices/{device}/check?limit=1").json()["items"] == [found]
    assert found["stream"]["rate_hz"]["value"] == pytest.approx(200, abs=0.01)
    assert found["clock"]["drift"]["value"] == pytest.approx(300, abs=5)
    assert found["noise"]["accel_density"]["value"] == pytest.approx(kind.accel_noise, rel=0.1)
    told = found["constants"]["accel"]["bias"]
    assert [told[axis]["value"] for axis in "xyz"] == pytest.approx(kind.constants["accel_bias"], abs=0.004 * G)
    expected = {one["lift"]: one for one in found["expected"]}
    assert 0.003 < expected["snatch"]["calibrated"]["u"] < expected["snatch"]["as_is"]["u"] < 0.05
    assert found["changes"][0]["code"] == "calibrate"
    assert found["changes"][0]["after"] < found["changes"][0]["before"]
    assert found["words"][0].startswith("With this sensor, mounted like this, expect ±")
    assert "calibrate and it becomes" in found["words"][0]
    assert found["declared"] == "hobby"
    gone = service.client.delete(made.headers["location"])
    assert gone.status_code == 204
    assert service.client.get(made.headers["location"]).status_code == 404


@pytest.mark.sqlite
def test_a_table_alone_is_checked_too_and_says_which_poses_are_missing(service, device, log):
    _, samples = log
    until = int(np.searchsorted(samples.t_s, 24.0))
    table = replace(
        samples, t_s=samples.t_s[:until], accel_m_s2=samples.accel_m_s2[:until], gyro_rad_s=samples.gyro_rad_s[:until]
    )
    made = service.client.post(f"/v1/devices/{device}/check", json=body_of(table), timeout=60)
    assert made.status_code == 201, made.text
    found = made.json()
    assert found["constants"] is None
    assert "Most useful next" in found["no_constants"]
    snatch = next(one for one in found["expected"] if one["lift"] == "snatch")
    assert snatch["calibrated"]["value"] is None
    assert snatch["calibrated"]["reason"]
    assert snatch["as_is"]["u"] > 0.005


def test_known_motions_in_every_form_of_body(service, device):
    samples = swinging(np.random.default_rng(2), 0.75, 20, seconds=8.0, rate_hz=100.0)
    body = body_of(samples, motion="pendulum", length_m=0.75, gravity_m_s2=9.80665)
    url = f"/v1/devices/{device}/known-motions"
    rows = zip(body["t_us"], *body["channels"].values(), strict=True)
    csv = ",".join(("t_us", *body["channels"])) + "\n" + "\n".join(",".join(map(repr, row)) for row in rows)
    meta = {name: body[name] for name in ("motion", "length_m", "gravity_m_s2", "units")}
    answers = [
        service.client.post(url, json=body),
        service.client.post(url, content=cbor2.dumps(body), headers={"Content-Type": "application/cbor"}),
        service.client.post(
            url, files={"file": ("swing.csv", csv.encode(), "text/csv")}, data={"meta": json.dumps(meta)}
        ),
    ]
    assert [one.status_code for one in answers] == [201, 201, 201], [one.text for one in answers]
    figures = [one.json()["figures"] for one in answers]
    assert figures[0] == figures[1] == figures[2]
    assert {one["name"]: one["verdict"] for one in figures[0]} == {"period": "agrees", "force_at_bottom": "agrees"}
    assert len(service.client.get(url).json()["items"]) == 3
    location = answers[0].headers["location"]
    assert service.client.get(location).json()["id"] == answers[0].json()["id"]


def test_what_is_wrong_with_a_known_motion_is_said(service, device, string):
    still = swinging(np.random.default_rng(2), 0.75, 0.01, seconds=5.0, rate_hz=100.0)
    url = f"/v1/devices/{device}/known-motions"
    for more, code, said in (
        ({"motion": "pendulum", "length_m": 0.75}, "motion-not-found", "swing"),
        ({"motion": "drop"}, "request-invalid", "height_m"),
        ({"motion": "drop", "height_m": -1}, "request-invalid", ""),
        ({"motion": "juggle"}, "request-invalid", ""),
        ({"motion": "drop", "height_m": 1.0, "latitude_deg": 91}, "request-invalid", ""),
    ):
        answer = service.client.post(url, json=body_of(still, **more))
        assert answer.status_code == 422, answer.text
        assert answer.json()["code"] == code
        assert said in answer.text
    other = service.client.post(f"/v1/devices/{string}/known-motions", json=body_of(still, motion="drop", height_m=1.0))
    assert other.json()["code"] == "kind-mismatch"


def test_a_string_is_set_up_and_its_anchor_told_to_the_device(service, string):
    body = {
        "pulls": [
            {"home": 100, "out": 10110, "back": 100, "length": {"value": 2.0}},
            {"home": 100, "out": 10095, "back": 101, "length": {"value": 2.0}},
        ],
        "offsets": {"low": {"value": 0.25}, "high": {"value": 1.40801, "u": 0.002}, "rise": {"value": 1.2}},
        "apply": True,
    }
    made = service.client.post(f"/v1/devices/{string}/string", json=body, headers={"Idempotency-Key": '"one"'})
    assert made.status_code == 201, made.text
    found = made.json()
    assert found["counts_per_m"]["value"] == pytest.approx(5001, abs=5)
    assert found["direction"] == 1
    assert found["anchor_offset"]["value"] == pytest.approx(0.15, abs=0.01)
    again = service.client.post(f"/v1/devices/{string}/string", json=body, headers={"Idempotency-Key": '"one"'})
    assert again.json() == found
    assert service.client.get(f"/v1/devices/{string}/string").json()["items"] == [found]
    assert service.client.get(made.headers["location"]).json() == found
    kept = next(one for one in service.client.get("/v1/devices").json()["items"] if one["id"] == string)
    assert kept["mounting"]["anchor_offset_m"] == pytest.approx(found["anchor_offset"]["value"], abs=0.001)


def test_what_is_wrong_with_a_string_is_said(service, string, device):
    two_ways = {"pulls": [{"out": 5000, "length": {"value": 1.0}}, {"out": -5000, "length": {"value": 1.0}}]}
    refused = service.client.post(f"/v1/devices/{string}/string", json=two_ways)
    assert (refused.status_code, refused.json()["code"]) == (422, "string-not-told")
    assert service.client.post(f"/v1/devices/{device}/string", json=two_ways).json()["code"] == "kind-mismatch"
    assert service.client.post(f"/v1/devices/{string}/string", json={"pulls": []}).status_code == 422


def test_another_clubs_device_is_not_there(service, device, log):
    _, samples = log
    short = replace(
        samples, t_s=samples.t_s[:50], accel_m_s2=samples.accel_m_s2[:50], gyro_rad_s=samples.gyro_rad_s[:50]
    )
    other = service.new_key(club="Another Club")
    for path, body in (("check", body_of(short)), ("known-motions", body_of(short, motion="drop", height_m=1.0))):
        assert service.client.post(f"/v1/devices/{device}/{path}", json=body, headers=other).status_code == 404
    for path in ("check", "check/chk_1", "known-motions", "known-motions/mot_1", "string", "string/stg_1"):
        assert service.client.get(f"/v1/devices/{device}/{path}", headers=other).status_code == 404
