"""Recordings with which something is wrong, through the API and the real analysis: a state and plain words, no 500."""

from __future__ import annotations

import json

import cbor2
import numpy as np
import pytest

from barsim import EncoderKind, simulate
from barwright.app import create_app
from barwright.ingest.typed_arrays import tag_of_array
from barwright.workflows.analysis_job import run_job
from conftest import Service, TestClient

NAMES = [f"{group}_{axis}" for group in ("accel", "gyro") for axis in "xyz"]
SNATCH = simulate("snatch", seed=3)
SQUAT = simulate("back_squat", seed=4, device=None, encoder=EncoderKind(), reps=2)
RANDOM = np.random.default_rng(7)
LONG = 4000


@pytest.fixture
def service(settings):
    """As the service runs, with the real analysis in this process."""
    app = create_app(settings, analyse=run_job)
    with TestClient(app, raise_server_exceptions=False) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        yield service


def imu(t_s=None, accel=None, gyro=None):
    samples = SNATCH.imu_samples
    t_s = samples.t_s if t_s is None else t_s
    accel = samples.accel_m_s2 if accel is None else accel
    gyro = samples.gyro_rad_s if gyro is None else gyro
    count = min(len(t_s), len(accel), len(gyro))
    values = np.hstack([accel[:count], gyro[:count]]).T
    return {"t_us": np.round(t_s[:count] * 1e6), **dict(zip(NAMES, values, strict=True))}


def string(position):
    return {"t_us": np.round(SQUAT.recording.parts[0].t_s * 1e6), "position": position}


def send(service, columns, lift, **meta):
    body = cbor2.dumps({name: tag_of_array(np.ascontiguousarray(v, "<f8")) for name, v in columns.items()})
    told = {"athlete": "Imke", "device": "a", "bar_axis": "+x", "lift": lift, "load_kg": 60, **meta}
    files = {"file": ("set.cbor", body)}
    return service.client.post("/v1/recordings", data={"meta": json.dumps(told)}, files=files)


def even(count=LONG, rate_hz=400):
    return np.arange(count) / rate_hz


def noise(size, level):
    return RANDOM.normal(size=size) * level


def jumping(by):
    position = SQUAT.string_m.copy()
    position[len(position) // 2 :] += by
    return position


def swinging(count=LONG):
    phase = np.arange(count)[:, None] * 0.05 + np.arange(3)
    return np.array([0, 0, 9.8]) + 5 * np.sin(phase) + noise((count, 3), 1.0), 2 * np.sin(phase + 1)


BAR = SNATCH.imu_samples
REST = BAR.accel_m_s2[:400].mean(axis=0)
REP = SNATCH.truth.reps[0]
MOVING = slice(*np.searchsorted(BAR.t_s, [REP.start_s, REP.stop_s]))
GRAVITY = "at rest it must read about 9.8 (check the unit)"

# name -> columns, lift, state, verdict, reps, words of the reason or of the quality
CASES = {
    "no rest": (imu(even(), *swinging()), "snatch", "analysed", "unusable", 0, "No moment of rest was found"),
    "no rep": (
        imu(even(), REST + noise((LONG, 3), 0.01), noise((LONG, 3), 0.001)),
        *("snatch", "analysed", "good", 0, "No rep of a snatch was found"),
    ),
    "another lift": (string(SQUAT.string_m), "snatch", "analysed", "good", 0, "No rep of a snatch was found"),
    "clipped throughout": (
        imu(accel=np.clip(BAR.accel_m_s2, -4, 4), gyro=np.clip(BAR.gyro_rad_s, -0.1, 0.1)),
        *("snatch", "analysed", "unusable", 0, "No moment of rest"),
    ),
    "at full scale from first to last": (
        imu(even(), np.full((LONG, 3), 156.9), np.full((LONG, 3), 34.9)),
        *("snatch", "failed", "unusable", 0, GRAVITY),
    ),
    "zeros": (imu(even(), np.zeros((LONG, 3)), np.zeros((LONG, 3))), "snatch", "failed", "unusable", 0, GRAVITY),
    "the same all the time": (
        imu(even(), np.full((LONG, 3), 5.66), np.zeros((LONG, 3))),
        *("snatch", "failed", "unusable", 0, "the sensor seems stuck"),
    ),
    "in g and not said": (
        imu(accel=BAR.accel_m_s2 / 9.80665), "snatch", "analysed", "good", 1, "read as [g], because at rest it reads",
    ),
    "too few": (imu(even(5)), "snatch", "failed", "unusable", 0, "at least 8 are needed"),
    "a string that jumps": (string(jumping(0.8)), "back_squat", "analysed", "usable", 2, "jump"),
    "a string that never moves": (string(SQUAT.string_m * 0), "back_squat", None, None, 0, ""),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_bad_recording_is_a_set_that_says_what_is_wrong(service, name):
    columns, lift, state, verdict, reps, words = CASES[name]
    answer = send(service, columns, lift)
    assert answer.status_code == 201, answer.text
    lift_set = answer.json()
    quality = lift_set["quality"]
    state = state or lift_set["state"]
    assert (lift_set["state"], len(lift_set["reps"])) == (state, reps), lift_set["reason"]
    assert quality["verdict"] == (verdict or quality["verdict"]), quality
    said = [lift_set["reason"] or "", *quality["words"], *lift_set["notes"]]
    assert any(words in one for one in said), said
    assert (lift_set["reason"] is None) == (state == "analysed")
    assert service.client.get(f"/v1/sets/{lift_set['id']}").json() == lift_set


def test_what_is_wrong_with_a_unit_stands_beside_the_reason(service):
    si = {"accel": "m/s2", "gyro": "rad/s"}
    lift_set = send(service, CASES["in g and not said"][0], "snatch", units=si).json()
    assert lift_set["reason_code"] == "no-gravity"
    assert any("times gravity; at rest it should read 1" in note for note in lift_set["notes"]), lift_set["notes"]
    unsure = send(service, CASES["clipped throughout"][0], "snatch").json()
    assert "No unit was given for gyro: read as rad/s." in unsure["notes"]
    told = send(service, CASES["in g and not said"][0], "snatch", units={"accel": "[g]", "gyro": "rad/s"}).json()
    assert (told["state"], len(told["reps"])) == ("analysed", 1)


def test_only_what_moves_gives_no_made_up_figures(service):
    samples = SNATCH.imu_samples
    cut = imu(samples.t_s[MOVING], samples.accel_m_s2[MOVING], samples.gyro_rad_s[MOVING])
    lift_set = send(service, cut, "snatch").json()
    assert lift_set["state"] == "analysed"
    true = REP.measures["peak_velocity"]
    for rep in lift_set["reps"]:  # without a rest around it there may be a figure, never a wrong one that looks sure
        figure = rep["measures"]["peak_velocity"]
        assert abs(figure["value"] - true) < 5 * figure["u"]


@pytest.mark.parametrize(("rate_hz", "taken"), [(19, False), (21, True), (3990, True), (4100, False)])
def test_rates_outside_20_to_4000_hz_are_refused(service, rate_hz, taken):
    answer = send(service, imu(even(300, rate_hz)), "snatch")
    assert answer.status_code == (201 if taken else 422)
    if not taken:
        assert answer.json()["code"] == "rate-out-of-limits"
        assert "20 to 4000 Hz" in answer.json()["detail"]


def test_forward_is_not_claimed_where_the_mounting_does_not_tell(service):
    told, untold = (send(service, imu(), "snatch", device=name, bar_axis=axis).json() for name, axis in
                    (("told", SNATCH.mounting.axis().tolist()), ("untold", None)))  # fmt: skip
    assert told["quality"]["forward_known"] is True
    assert untold["quality"]["forward_known"] is False
    assert any("orward sign not known" in words for words in untold["quality"]["words"])
    for lift_set, known in ((told, True), (untold, False)):
        path = service.client.get(f"/v1/sets/{lift_set['id']}/reps/0/path").json()
        assert path["forward_known"] is known


def test_a_string_has_no_forward_at_all(service):
    lift_set = send(service, string(SQUAT.string_m), "back_squat").json()
    assert (lift_set["quality"]["horizontal"], lift_set["quality"]["forward_known"]) == (False, False)
    assert any("no fore-aft bar path" in words for words in lift_set["quality"]["words"])
    path = service.client.get(f"/v1/sets/{lift_set['id']}/reps/0/path").json()
    assert path["x_m"] is None
    assert path["reason"]
    for rep in lift_set["reps"]:
        for figure in (*rep["measures"].values(), *rep["path_measures"].values()):
            assert (figure["value"] is None) == (figure["u"] is None) == ("reason" in figure)
