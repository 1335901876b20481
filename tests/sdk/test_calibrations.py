"""Calibrating a device with the client: what it sends, and how it reads the real service's answer."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from analysis.poses.held import GOOD, G, drawn, held
from barwright_client import Device, NotFound, Refused
from conftest import IMU_COLUMNS, still_poses
from sdk.conftest import RealService
from sdk.scripted import client_of, good

pytestmark = pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")

FIGURE = {"value": 0.1, "u": 0.01, "unit": "m/s2"}
CONSTANTS = {"bias": {"x": FIGURE}, "scale": {"x": FIGURE}, "cross_axis": {"xy": FIGURE}, "matrix": [[1, 0, 0]] * 3}
ANSWER: dict[str, Any] = {
    "id": "cal_1",
    "device_id": "dev_1",
    "created_at": "2026-03-02T17:00:00Z",
    "gravity_m_s2": 9.81,
    "accel": CONSTANTS,
    "gyro": CONSTANTS,
    "turns": 3,
    "poses": {"found": 5, "used": 5, "distinct": 5, "missing": ["+x"], "mood": "new member"},
    "noise": {"accel_density": FIGURE, "start_s": 1.0, "stop_s": 4.0},
    "peak_velocity": {"before": FIGURE, "after": FIGURE, "how": "so"},
    "words": ["5 still poses found."],
}


def test_means_go_as_json_and_the_answer_is_read() -> None:
    client, service = client_of(good(ANSWER, 201))
    pose = {"accel": [0, 0, 1], "gyro": [0, 0, 0], "samples": 600}
    found = client.calibrate(Device("dev_1", "bar", "imu"), [pose], units={"accel": "[g]"}, rate_hz=200)
    assert (service.last.method, service.last.url.path) == ("POST", "/v1/devices/dev_1/calibration")
    assert service.sent() == {"units": {"accel": "[g]"}, "poses": [pose], "rate_hz": 200}
    assert service.last.headers["idempotency-key"]
    assert (found.id, found.turns, found.poses.missing, found.gravity_m_s2) == ("cal_1", 3, ("+x",), 9.81)
    assert str(found.accel.bias["x"]) == "0.100 ± 0.010 m/s2"
    assert found.noise.keys() == {"accel_density"}
    assert found.words == ("5 still poses found.",)


def test_a_file_goes_as_a_form() -> None:
    client, service = client_of(good(ANSWER, 201))
    client.calibrate("dev/1", b"t_s,accel_x\n", file_name="poses.csv", gravity_m_s2=9.812)
    assert service.last.url.raw_path == b"/v1/devices/dev%2F1/calibration"
    assert service.last.headers["content-type"].startswith("multipart/form-data")
    assert json.dumps({"gravity_m_s2": 9.812}).encode() in service.last.content
    assert b'filename="poses.csv"' in service.last.content


def test_against_the_real_service(start_service: Any) -> None:
    service: RealService = start_service()
    client = service.client()
    device = client.create_device("bar 3", kind="imu", device_class="good")
    rng = np.random.default_rng(31)
    sensor = drawn(rng, GOOD)
    samples = held(rng, sensor)
    values = np.hstack((samples.accel_m_s2, samples.gyro_rad_s))
    columns = {"t_s": samples.t_s, **dict(zip(IMU_COLUMNS, values.T, strict=True))}
    found = client.calibrate(device, columns, gravity_m_s2=G)
    assert [found.accel.bias[axis].value for axis in "xyz"] == pytest.approx(sensor.accel_bias, abs=0.002 * G)
    assert found.velocity_after.u is not None
    assert found.velocity_before.u is not None
    assert found.velocity_after.u < found.velocity_before.u
    means = client.calibrate(device, still_poses()["poses"], units=still_poses()["units"], rate_hz=200)
    assert str(means.gyro.scale["x"]).startswith("unknown (still poses do not show it")
    assert list(client.calibrations(device)) == [means, found]
    assert client.calibration(device, found.id) == found
    client.delete_calibration(found)
    with pytest.raises(NotFound):
        client.calibration(device, found.id)
    with pytest.raises(Refused, match="too alike") as refused:
        client.calibrate(device.id, still_poses()["poses"][:2], units=still_poses()["units"])
    assert refused.value.problem.code == "poses-too-alike"
