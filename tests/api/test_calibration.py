"""Calibrations over the wire: the three forms of the body, what is answered, kept, used and refused."""

from __future__ import annotations

import json

import cbor2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from analysis.poses.held import GOOD, G, Sensor, drawn, held
from barsim import simulate
from barwright.app import bare_app, create_app
from barwright.workflows.analysis_job import run_job
from conftest import IMU_COLUMNS, Service, still_poses
from contract.test_any_body import ANY, SLOW_IS_FINE, check
from stand_in import outcome_of

ROUTES = bare_app().openapi()["paths"]


@pytest.fixture(scope="module")
def hand_held():
    """(sensor, columns in [g] and deg/s at 200 Hz): nine poses in hands with the turns between."""
    rng = np.random.default_rng(21)
    sensor = drawn(rng, GOOD)
    samples = held(rng, sensor)
    values = np.hstack((samples.accel_m_s2 / G, np.degrees(samples.gyro_rad_s)))
    return sensor, {
        name: [round(float(v), 7) for v in column] for name, column in zip(IMU_COLUMNS, values.T, strict=True)
    }


UNITS = {"accel": "[g]", "gyro": "deg/s"}


def new_device(service, **more):
    told = {"name": "bar 3", "kind": "imu", "class": "good", **more}
    return service.client.post("/v1/devices", json=told).json()["id"]


def calibrate(service, body, device=None, **kwargs):
    device = device or new_device(service)
    return service.client.post(f"/v1/devices/{device}/calibration", json=body, **kwargs)


def forms(columns):
    """The same recording as JSON block, JSON columns, CBOR block, CSV file."""
    count = len(columns["accel_x"])
    block = {"units": UNITS, "t0_us": 0, "dt_us": 5000, "channels": columns, "gravity_m_s2": G}
    times = {"t_us": [5000 * k for k in range(count)]}
    rows = zip(times["t_us"], *columns.values(), strict=True)
    csv = ",".join(("t_us", *columns)) + "\n" + "\n".join(",".join(map(repr, row)) for row in rows)
    meta = json.dumps({"units": UNITS, "gravity_m_s2": G})
    return {
        "block": {"json": block},
        "columns": {"json": {"units": UNITS, "gravity_m_s2": G, **times, **columns}},
        "cbor": {"content": cbor2.dumps(block), "headers": {"Content-Type": "application/cbor"}},
        "csv": {"files": {"file": ("poses.csv", csv.encode(), "text/csv")}, "data": {"meta": meta}},
    }


def test_every_form_of_one_recording_gives_the_same_calibration(service, hand_held):
    sensor, columns = hand_held
    device = new_device(service)
    answers = []
    for form in forms(columns).values():
        made = service.client.post(f"/v1/devices/{device}/calibration", **form)
        assert made.status_code == 201, made.text
        assert service.client.get(made.headers["location"]).json() == made.json()
        answers.append({k: v for k, v in made.json().items() if k not in ("id", "created_at")})
    assert all(one == answers[0] for one in answers)
    bias = answers[0]["accel"]["bias"]
    assert [bias[axis]["value"] for axis in "xyz"] == pytest.approx(sensor.accel_bias, abs=0.002 * G)
    assert all(0 < bias[axis]["u"] < 0.002 * G and bias[axis]["unit"] == "m/s2" for axis in "xyz")
    scale = answers[0]["accel"]["scale"]
    assert [scale[axis]["value"] for axis in "xyz"] == pytest.approx(np.diag(sensor.accel_matrix) - 1, abs=0.002)
    assert set(answers[0]["accel"]["cross_axis"]) == {"xy", "xz", "yz"}
    assert np.array(answers[0]["accel"]["matrix"]) == pytest.approx(sensor.accel_matrix, abs=0.006)
    turning = answers[0]["gyro"]["scale"]
    assert [turning[axis]["value"] for axis in "xyz"] == pytest.approx(np.diag(sensor.gyro_matrix) - 1, abs=0.002)
    assert answers[0]["turns"] == 8
    poses = answers[0]["poses"]
    assert (poses["found"], poses["used"], poses["distinct"], poses["missing"]) == (9, 9, 9, [])
    assert (poses["more_for_bias_and_scale"], poses["more_for_cross_axis"]) == (0, 0)
    assert poses["each"][0]["up"] == pytest.approx([1, 0, 0], abs=0.4)
    noise = answers[0]["noise"]["accel_density"]
    assert noise["value"] == pytest.approx(sensor.accel_noise, rel=0.15)
    peak = answers[0]["peak_velocity"]
    assert peak["after"]["u"] < peak["before"]["u"]
    assert "modelled snatch" in peak["how"]


def test_means_of_poses(service):
    made = calibrate(service, still_poses())
    assert made.status_code == 201, made.text
    body = made.json()
    assert [body["accel"]["bias"][axis]["value"] / G for axis in "xyz"] == pytest.approx([0.02, -0.03, 0.04], abs=2e-4)
    rates = np.degrees([body["gyro"]["bias"][axis]["value"] for axis in "xyz"])
    assert rates == pytest.approx([0.5, -0.2, 0.1], abs=0.02)
    assert body["gyro"]["scale"]["x"]["value"] is None
    assert "turns between" in body["gyro"]["scale"]["x"]["reason"]
    assert body["noise"] is None
    packed = cbor2.dumps({**still_poses(), "poses": still_poses()["poses"]})
    url = made.headers["location"].rpartition("/")[0]
    again = service.client.post(url, content=packed, headers={"Content-Type": "application/cbor"}).json()
    assert again["accel"] == body["accel"]


def test_the_example_of_the_document_can_be_sent(service):
    body = ROUTES["/v1/devices/{device_id}/calibration"]["post"]["requestBody"]["content"]["application/json"]
    made = calibrate(service, body["example"])
    assert made.status_code == 201, made.text
    assert made.json()["poses"]["more_for_cross_axis"] == 3


def test_units_not_told_are_si_and_the_words_say_so(service):
    poses = [{**one, "accel": [G * v for v in one["accel"]]} for one in still_poses()["poses"]]
    words = calibrate(service, {"poses": poses}).json()["words"]
    for part in ("No unit was given for accel: read as m/s2.", "gravity_m_s2"):
        assert any(part in word for word in words), words


def test_a_few_attitudes_are_kept_with_a_wide_u_and_say_what_is_missing(service):
    few = calibrate(service, still_poses(poses=still_poses()["poses"][:5])).json()
    assert few["accel"]["bias"]["z"]["u"] > 3 * few["accel"]["bias"]["x"]["u"]
    assert few["poses"]["more_for_bias_and_scale"] >= 1
    assert "-z of the sensor straight up" in few["poses"]["missing"]


NO_FORCE = {"accel": [0, 0, 0], "gyro": [0, 0, 0], "samples": 9}


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        ({"poses": still_poses()["poses"][:1] * 9}, "poses-too-alike", "At least 6 well-spread attitudes"),
        ({"poses": still_poses()["poses"][:3]}, "poses-too-alike", "Most useful next"),
        ({"units": {"gyro": "deg/s"}}, "samples-unusable", "declare its unit"),
        ({"units": {"accel": "g"}}, "unknown-unit", "[g]"),
        ({"gravity_m_s2": 98.1}, "bad-member", "9.76"),
        ({"gravity_m_s2": True}, "bad-member", "9.76"),
        ({"rate_hz": 0}, "rate-out-of-limits", "20"),
        ({"rate": 200}, "unknown-member", "rate_hz"),
        ({"poses": []}, "bad-member", "1 to 200"),
        ({"poses": {"accel": [0, 0, 1]}}, "bad-member", "1 to 200"),
        ({"poses": [3]}, "bad-member", "the number 3"),
        ({"poses": [{"accel": [0, 0, 1], "samples": 10}]}, "missing-member", "gyro"),
        ({"poses": [{"accel": [0, 0, 1], "gyro": [0, 0, 0], "samples": 10, "up": 1}]}, "unknown-member", "up"),
        ({"poses": [{"accel": [0, 1], "gyro": [0, 0, 0], "samples": 10}]}, "unequal-columns", "three"),
        ({"poses": [{"accel": [0, 0, "1"], "gyro": [0, 0, 0], "samples": 10}]}, "not-a-number", "text"),
        ({"poses": [{"accel": [0, 0, 1], "gyro": [0, 0, 0], "samples": 0}]}, "bad-member", "samples"),
        (
            {"poses": [*still_poses()["poses"], {"accel": [0, 0, 0], "gyro": [0, 0, 0], "samples": 9}]},
            "samples-unusable",
            "10",
        ),
    ],
)
def test_poses_that_are_refused(service, change, code, words):
    answer = calibrate(service, {**still_poses(), **change})
    assert (answer.status_code, answer.json()["code"]) == (422, code), answer.text
    assert words in answer.json()["detail"]
    device = service.client.get("/v1/devices").json()["items"][0]["id"]
    assert service.client.get(f"/v1/devices/{device}/calibration").json() == {"items": [], "next": None}


def test_a_recording_without_still_poses(service, hand_held):
    shaken = {
        name: list(np.array(v) + (name[0] == "g") * 90 * np.sin(np.arange(len(v)) / 9))
        for name, v in hand_held[1].items()
    }
    answer = calibrate(service, {"units": UNITS, "t0_us": 0, "dt_us": 5000, "channels": shaken})
    assert (answer.status_code, answer.json()["code"]) == (422, "no-still-poses")


def test_other_bodies_and_other_devices(service):
    device = new_device(service)
    url = f"/v1/devices/{device}/calibration"
    for kwargs, status, code in (
        ({"content": b"{", "headers": {"Content-Type": "application/json"}}, 400, "truncated"),
        ({"json": [1]}, 422, "bad-member"),
        ({"json": {}}, 422, None),
        ({"content": b"x", "headers": {"Content-Type": "text/csv"}}, 415, "unknown-content-type"),
        ({"json": {"units": {"position": "m"}, "t_s": [0, 0.1], "position": [0, 1]}}, 422, "kind-mismatch"),
        ({"data": {"meta": "{}"}, "files": {"file": ("a.csv", b"t_s,position\n0,0\n0.1,1\n")}}, 422, "kind-mismatch"),
        ({"data": {"meta": '{"unit": 1}'}, "files": {"file": ("a.csv", b"t_s\n0\n")}}, 422, "request-invalid"),
    ):
        answer = service.client.post(url, **kwargs)
        assert answer.status_code == status, answer.text
        assert code in (None, answer.json()["code"])
    string = service.client.post("/v1/devices", json={"name": "string 1", "kind": "encoder"}).json()["id"]
    answer = calibrate(service, still_poses(), string)
    assert (answer.status_code, answer.json()["code"]) == (422, "kind-mismatch")
    assert calibrate(service, still_poses(), "dev_none").status_code == 404
    assert calibrate(service, still_poses(), device, headers=service.new_key(club="Another club")).status_code == 404


@SLOW_IS_FINE
@given(changes=ANY, pose=ANY, numbers=st.lists(st.floats(-1e7, 1e7), min_size=3, max_size=3))
def test_any_body_is_taken_or_refused_in_order(service, changes, pose, numbers):
    """Whatever stands in the body; a device of another name each time would only slow it down."""
    found = service.client.get("/v1/devices").json()["items"]
    device = found[0]["id"] if found else new_device(service)
    good = still_poses()
    odd = {"accel": numbers, "gyro": numbers, "samples": 5}
    for body in (
        {**good, **changes} if isinstance(changes, dict) else changes,
        {**good, "poses": [*good["poses"], pose]},
        {**good, "poses": [*good["poses"], {**odd, **(pose if isinstance(pose, dict) else {})}]},
        {**good, "units": {}, "poses": [odd, odd]},
    ):
        content = json.dumps(body).encode()
        headers = {"Content-Type": "application/json"}
        check(service.client.post(f"/v1/devices/{device}/calibration", content=content, headers=headers))


def test_a_retry_makes_one_calibration(service):
    device = new_device(service)
    first, again = (
        calibrate(service, still_poses(), device, headers={"Idempotency-Key": "k"}).json() for _ in range(2)
    )
    assert first == again
    assert len(service.client.get(f"/v1/devices/{device}/calibration").json()["items"]) == 1
    other = calibrate(service, still_poses(rate_hz=100), device, headers={"Idempotency-Key": "k"})
    assert other.json()["code"] == "retry-mismatch"


def test_calibrations_are_listed_newest_first_and_taken_away(service):
    device = new_device(service)
    made = [calibrate(service, still_poses(), device).json() for _ in range(3)]
    url = f"/v1/devices/{device}/calibration"
    first = service.client.get(f"{url}?limit=2")
    assert [one["id"] for one in first.json()["items"]] == [made[2]["id"], made[1]["id"]]
    second = service.client.get(first.links["next"]["url"]).json()
    assert second == {"items": [made[0]], "next": None}
    assert service.client.delete(f"{url}/{made[1]['id']}").status_code == 204
    assert service.client.get(f"{url}/{made[1]['id']}").status_code == 404
    assert service.client.delete(f"{url}/{made[1]['id']}").status_code == 404
    other = service.client.post("/v1/devices", json={"name": "bar 4", "kind": "imu"}).json()["id"]
    assert service.client.get(f"/v1/devices/{other}/calibration/{made[0]['id']}").status_code == 404


NOW = {"started_at": None}


def test_streams_that_begin_later_use_it_and_earlier_sets_stay(service):
    device = service.stream(**NOW)["device_id"]
    before = service.closed_set(**NOW)
    first = calibrate(service, still_poses(), device).json()["id"]
    after = service.closed_set(**NOW)
    long_ago = service.closed_set()
    second = calibrate(service, still_poses(), device).json()["id"]
    assert (before["calibration_id"], after["calibration_id"], long_ago["calibration_id"]) == (None, first, None)
    for one in (before, after, long_ago):
        assert service.client.get(f"/v1/sets/{one['id']}").json() == one
    again = {
        one["id"]: service.client.post(f"/v1/sets/{one['id']}/reanalyse?wait=20").json() for one in (before, after)
    }
    assert again[before["id"]]["calibration_id"] == first  # the first made after it
    assert again[after["id"]]["calibration_id"] == first  # the last made before it
    assert service.closed_set(**NOW)["calibration_id"] == second


def test_a_set_outlives_its_calibration(service):
    device = service.stream(**NOW)["device_id"]
    made = calibrate(service, still_poses(), device).json()["id"]
    kept = service.closed_set(**NOW)
    assert kept["calibration_id"] == made
    service.client.delete(f"/v1/devices/{device}/calibration/{made}")
    assert service.client.get(f"/v1/sets/{kept['id']}").json() == kept
    again = service.client.post(f"/v1/sets/{kept['id']}/reanalyse?wait=20").json()
    assert (again["state"], again["calibration_id"]) == ("analysed", None)


def test_an_encoder_stream_has_none(service):
    told = {"device": "string", "device_kind": "encoder", "units": {"position": "m"}}
    assert service.stream(**told, **NOW)["state"] == "open"


def test_the_constants_reach_the_analysis(settings):
    """The set's samples are a still sensor with a bias of 40 m[g]; the analysis is asked what it was given."""
    given = []

    def analyse(job):
        given.append(job.calibration)
        return outcome_of(job)

    app = create_app(settings, analyse=analyse)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        device = service.stream(**NOW)["device_id"]
        service.closed_set(**NOW)
        made = calibrate(service, still_poses(), device).json()
        service.closed_set(**NOW)
    assert given[0] is None
    assert np.array(given[1].accel_bias) == pytest.approx([made["accel"]["bias"][axis]["value"] for axis in "xyz"])
    assert given[1].accel_matrix == tuple(map(tuple, made["accel"]["matrix"]))


def test_the_whole_way_with_the_real_analysis(settings):
    """Five hobby sensors, each calibrated in hands and then on a simulated bar whose velocity is known."""
    miss, u = {"before": [], "after": []}, {"before": [], "after": []}
    app = create_app(settings, analyse=run_job)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        for seed in range(5):
            one = simulate("snatch", seed=seed, device="hobby")
            truth = one.truth.reps[0].measures["peak_velocity"]
            device = new_device(service, **{"name": f"bar {seed}", "class": "hobby"})
            before = lifted(service, device, one)
            made = calibrate(service, columns_of(held(np.random.default_rng(seed), sensor_of(one))), device)
            assert made.status_code == 201, made.text
            after = lifted(service, device, one)
            assert (before["calibration_id"], after["calibration_id"]) == (None, made.json()["id"])
            for when, lift_set in (("before", before), ("after", after)):
                peak = lift_set["reps"][0]["measures"]["peak_velocity"]
                miss[when].append(abs(peak["value"] - truth))
                u[when].append(peak["u"])
            promised = made.json()["peak_velocity"]
            assert promised["before"]["u"] == pytest.approx(u["before"][-1], rel=0.5)
            assert promised["after"]["u"] == pytest.approx(u["after"][-1], rel=0.5)
    assert np.mean(miss["after"]) < 0.6 * np.mean(miss["before"])
    assert np.mean(u["after"]) < 0.6 * np.mean(u["before"])
    assert np.all(np.array(miss["after"]) < 3 * np.array(u["after"]))


def sensor_of(one):
    """The sensor of a simulated recording, to be held in hands."""
    c, kind = one.imu.constants, one.device
    matrices = np.linalg.inv(c["accel_matrix"]), np.linalg.inv(c["gyro_matrix"])
    return Sensor(c["accel_bias"], matrices[0], c["gyro_bias"], matrices[1], kind.accel_noise, kind.gyro_noise)


def columns_of(samples):
    values = np.hstack((samples.accel_m_s2, samples.gyro_rad_s))
    named = {name: column.tolist() for name, column in zip(IMU_COLUMNS, values.T, strict=True)}
    return {"t_s": samples.t_s.tolist(), **named}


def lifted(service, device, one):
    """The simulated set, sent as a recording and analysed."""
    meta = {"athlete": "Imke", "device_id": device, "lift": "snatch", "load_kg": 60, "bar_axis": "+x"}
    file = json.dumps(columns_of(one.imu_samples))
    answer = service.client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files={"file": ("set.json", file)})
    assert answer.status_code == 201, answer.text
    return answer.json()
