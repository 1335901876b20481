"""How a file would be understood, before it is taken."""

from __future__ import annotations

import json

import pytest

from conftest import IMU_COLUMNS, Service
from ingest.awkward import resting_csv


def preview(service: Service, body: bytes, name: str = "set.csv", meta: object = None, **more):
    data = None if meta is None else {"meta": json.dumps(meta)}
    return service.client.post("/v1/recordings/preview", data=data, files={"file": (name, body)}, **more)


def test_every_column_is_told_and_nothing_is_kept(service):
    body = resting_csv("time_ms,AccX,AccY,AccZ,GyrX,GyrY,GyrZ,battery", more="3.7")
    found = preview(service, body).json()
    assert (found["taken"], found["format"], found["kind"], found["problem"]) == (True, "CSV", "imu", None)
    told = {
        one["header"]: (one["channel"], one["quantity"], one["axis"], one["unit"], one["unit_from"])
        for one in found["columns"]
    }
    assert told["time_ms"] == ("time", "time", None, "ms", "header")
    assert told["AccY"] == ("accel_y", "acceleration", "y", "[g]", "inferred")
    assert told["GyrZ"] == ("gyro_z", "rate", "z", "deg/s", "inferred")
    assert told["battery"] == (None, None, None, None, None)
    assert found["columns"][0]["first"] == [0.0, 5.0, 10.0, 15.0, 20.0]
    assert found["timing"]["rate_hz"] == pytest.approx(200)
    assert found["timing"]["gaps"] == 0
    assert found["force_at_rest"]["value"] == pytest.approx(1.0, abs=0.01)
    assert 0 < found["force_at_rest"]["u"] < 0.001
    assert found["force_at_rest"]["unit"] == "[g]"
    assert any("read as [g]" in note for note in found["notes"])
    assert any("battery" in note for note in found["notes"])
    assert service.client.get("/v1/sets").json()["items"] == []
    assert service.client.get("/v1/devices").json()["items"] == []


def test_a_file_that_would_be_refused_says_why_and_what_was_understood(service):
    answer = preview(service, resting_csv("time,AccX (bananas),AccY,AccZ,GyrX,GyrY,GyrZ"))
    found = answer.json()
    assert (answer.status_code, found["taken"], found["problem"]["code"]) == (200, False, "unknown-unit")
    assert [one["channel"] for one in found["columns"]] == ["time", *IMU_COLUMNS]
    nothing = preview(service, b"\x00\x01\x02\x03", "set.bin").json()
    assert (nothing["taken"], nothing["columns"], nothing["problem"]["code"]) == (False, [], "unknown-content-type")


def test_what_is_declared_is_used(service):
    body = resting_csv(None, time_scale=1)
    names = ["t_ms", *IMU_COLUMNS]
    found = preview(service, body, meta={"columns": names, "units": {"accel": "[g]", "gyro": "deg/s"}}).json()
    assert [one["unit_from"] for one in found["columns"]] == ["header", *["declared"] * 6]
    assert found["taken"]
    assert not preview(service, body).json()["taken"]


@pytest.mark.parametrize(
    ("meta", "code", "pointer"),
    [
        ({"units": {"time": "fortnight"}}, "unknown-unit", "/units/time"),
        ({"units": {"accel": "g"}}, "unknown-unit", "/units/accel"),
        ({"scale": {"accel": 0}}, "bad-member", "/scale/accel"),
        ({"rate_hz": 3}, "rate-out-of-limits", "/rate_hz"),
        ({"lift": "snatch"}, "request-invalid", "/lift"),
    ],
)
def test_what_is_told_wrong_is_a_problem(service, meta, code, pointer):
    answer = preview(service, resting_csv(None), meta=meta)
    assert answer.status_code == 422
    assert (answer.json()["code"], answer.json()["errors"][0]["pointer"]) == (code, pointer)


def test_a_preview_foretells_what_is_taken(service):
    told = {"athlete": "Imke", "device": "bar", "lift": "snatch", "load_kg": 60}
    body = resting_csv("time_ms,AccX,AccY,AccZ,GyrX,GyrY,GyrZ")
    foretold = preview(service, body).json()
    answer = service.client.post("/v1/recordings", data={"meta": json.dumps(told)}, files={"file": ("set.csv", body)})
    assert answer.status_code == 201
    stream = service.client.get(f"/v1/streams/{answer.json()['stream_id']}").json()
    assert stream["units"] == foretold["units"] == {"accel": "[g]", "gyro": "deg/s"}
    assert set(foretold["notes"]) <= set(answer.json()["notes"])
