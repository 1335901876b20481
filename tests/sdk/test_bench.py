"""Checks of a device with the client and its commands, against the real service."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.devices.at_home import swinging
from barwright_client.command import main
from sdk.scripted import client_of, good

pytestmark = pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")
FIGURE = {"value": 1.9, "u": 0.01, "unit": "m/s"}
CHECK: dict[str, Any] = {
    "id": "chk_1",
    "device_id": "dev_1",
    "created_at": "2026-03-02T17:00:00Z",
    "stream": {"rate_hz": {"value": 200.0, "u": 0.1, "unit": "Hz"}, "lost": 0.01, "jitter_s": 0.001, "new": 1},
    "clock": {"drift": {"value": 30.0, "u": 5.0, "unit": "[ppm]"}},
    "constants": {"accel": {"bias": {"x": FIGURE}, "scale": {"x": FIGURE}}, "gyro": {}},
    "no_constants": None,
    "expected": [{"lift": "snatch", "as_is": FIGURE, "calibrated": {**FIGURE, "u": 0.004}}],
    "changes": [{"code": "calibrate", "before": 0.01, "after": 0.004, "words": "Calibrate it."}],
    "words": ["With this sensor"],
    "alike": "hobby",
}


def test_a_check_goes_as_a_form_and_its_answer_is_read() -> None:
    client, service = client_of(good(CHECK, 201))
    found = client.check_device(
        "dev_1", b"t_s,accel_x\n", file_name="log.csv", units={"accel": "[g]"}, latitude_deg=52.5
    )
    assert (service.last.method, service.last.url.path) == ("POST", "/v1/devices/dev_1/check")
    assert b'"latitude_deg": 52.5' in service.last.content
    assert (found.alike, found.changes[0].code, found.expected[0].calibrated.u) == ("hobby", "calibrate", 0.004)
    assert found.clock_drift is not None
    assert found.clock_drift.value == 30.0
    assert found.document["stream"]["new"] == 1


def test_the_commands_against_the_real_service(
    start_service: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    client = start_service().client()
    client.create_device("bar 3", kind="imu")
    client.create_device("string 1", kind="encoder")
    samples = swinging(np.random.default_rng(1), 0.75, 20, seconds=8.0, rate_hz=100.0)
    rows = np.column_stack((samples.t_s, samples.accel_m_s2, samples.gyro_rad_s))
    names = "t_s,accel_x[m/s2],accel_y[m/s2],accel_z[m/s2],gyro_x[rad/s],gyro_y[rad/s],gyro_z[rad/s]"
    file = tmp_path / "swing.csv"
    np.savetxt(file, rows, delimiter=",", header=names, comments="", fmt="%.6f")

    def run(*arguments: str) -> int:
        return main(arguments, lambda url, key: client)

    told = ("known-motion", "pendulum", str(file), "--device", "bar 3", "--gravity", "9.80665")
    assert run(*told, "--length-m", "0.75") == 0
    assert "they agree" in capsys.readouterr().out
    assert run(*told, "--length-m", "0.9") == 1
    assert "Measure the length again" in capsys.readouterr().out
    assert run("string", "--device", "string 1", "--pull", "0,10000,0,2.0", "--pull", "0,10004,1,2.0") == 0
    assert "m_per_count 0.000199" in capsys.readouterr().out
    assert run("string", "--device", "string 1", "--pull", "0,10000") == 1
    assert "HOME,OUT,BACK,LENGTH_M" in capsys.readouterr().err
    assert run(*told[:4], "no such device", "--length-m", "0.75") == 1
    assert "no device" in capsys.readouterr().err
