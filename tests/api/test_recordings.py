"""A whole set in one request."""

from __future__ import annotations

import gzip
import io
import json

import cbor2
import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from conftest import IMU_COLUMNS

META = {"athlete": "Rana", "device": "bar 4", "lift": "clean", "load_kg": 80}
UNITS = {"units": {"accel": "[g]", "gyro": "deg/s"}}
COLUMNS = {"t_s": [i * 0.005 for i in range(100)], **{name: [0.01 * i for i in range(100)] for name in IMU_COLUMNS}}


def csv_of(columns, headers=None):
    rows = zip(*columns.values(), strict=True)
    return "\n".join([",".join(headers or columns), *(",".join(map(repr, row)) for row in rows)]).encode()


def parquet_of(columns):
    out = io.BytesIO()
    pd.DataFrame(columns).to_parquet(out)
    return out.getvalue()


def send(service, body, name="set.csv", meta=None, **more):
    meta = {**META, **UNITS} if meta is None else meta
    return service.client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files={"file": (name, body)}, **more)


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("set.csv", csv_of(COLUMNS)),
        ("set.csv.gz", gzip.compress(csv_of(COLUMNS))),
        ("set.parquet", parquet_of(COLUMNS)),
        ("set.json", json.dumps(COLUMNS).encode()),
        ("set.cbor", cbor2.dumps(COLUMNS)),
    ],
)
def test_a_file_becomes_an_analysed_set(service, name, body):
    answer = send(service, body, name)
    lift_set = answer.json()
    assert answer.status_code == 201, answer.text
    assert answer.headers["location"] == f"/v1/sets/{lift_set['id']}"
    assert (lift_set["athlete"], lift_set["lift"], lift_set["state"]) == ("Rana", "clean", "analysed")
    assert lift_set["quality"]["samples"] == 100
    assert lift_set["reps"][0]["measures"]["peak_velocity"]["value"] == pytest.approx(0.99 * 9.80665)
    assert service.client.get(f"/v1/sets/{lift_set['id']}").json() == lift_set
    assert service.client.get(f"/v1/streams/{lift_set['stream_id']}").json()["state"] == "closed"


def test_units_in_the_header_need_no_meta(service):
    headers = ["t_s", *(f"{n}[{'m/s2' if n[0] == 'a' else 'rad/s'}]" for n in IMU_COLUMNS)]
    lift_set = send(service, csv_of(COLUMNS, headers), meta=META).json()
    assert lift_set["reps"][0]["measures"]["peak_velocity"]["value"] == pytest.approx(0.99)


def test_no_unit_at_all_is_si_and_the_set_says_so(service):
    lift_set = send(service, csv_of(COLUMNS), meta=META).json()
    assert lift_set["reps"][0]["measures"]["peak_velocity"]["value"] == pytest.approx(0.99)
    assert lift_set["notes"][:2] == [
        "No unit was given for accel: read as m/s2.",
        "No unit was given for gyro: read as rad/s.",
    ]


def test_a_set_that_failed_keeps_what_was_said_of_its_units(service):
    few = {name: column[:5] for name, column in COLUMNS.items()}
    answer = send(service, csv_of(few), meta={**META, "units": {"gyro": "deg/s"}})
    lift_set = answer.json()
    assert (answer.status_code, lift_set["state"], lift_set["reason_code"]) == (201, "failed", "too-few-samples")
    assert lift_set["reason"] in lift_set["quality"]["words"]
    assert lift_set["notes"] == ["No unit was given for accel: read as m/s2."]


def test_an_encoder_file_makes_an_encoder(service):
    columns = {"t_ms": [i * 10 for i in range(50)], "position[m]": [0.001 * i for i in range(50)]}
    lift_set = send(service, csv_of(columns), meta={**META, "device": "string 1"}).json()
    device = service.client.get(f"/v1/devices/{lift_set['device_id']}").json()
    assert (device["name"], device["kind"]) == ("string 1", "encoder")


def test_meta_may_be_a_part_with_its_own_type(service):
    meta = ("meta.json", json.dumps({**META, **UNITS}), "application/json")
    answer = service.client.post("/v1/recordings", files={"meta": meta, "file": ("set.csv", csv_of(COLUMNS))})
    assert answer.status_code == 201


def test_the_moment_may_be_told(service):
    told = send(service, csv_of(COLUMNS), meta={**META, **UNITS, "started_at": "2026-03-01T18:30:00+01:00"})
    assert told.json()["started_at"] == "2026-03-01T17:30:00Z"


@pytest.mark.parametrize(
    ("body", "name", "meta", "status", "code"),
    [
        (csv_of(COLUMNS), "set.csv", {**META, "units": {"accel": "g", "gyro": "deg/s"}}, 422, "unknown-unit"),
        (csv_of(COLUMNS), "set.csv", {**META, **UNITS, "lift": "snach"}, 422, "unknown-lift"),
        (csv_of(COLUMNS), "set.csv", {**META, **UNITS, "bar_axis": "up"}, 422, "bad-bar-axis"),
        (csv_of(COLUMNS), "set.csv", {**META, **UNITS, "colour": 1}, 422, "request-invalid"),
        (csv_of({k: v for k, v in COLUMNS.items() if k != "gyro_z"}), "set.csv", None, 422, "missing-axis"),
        (csv_of({**COLUMNS, "accel_x": [float("nan")] * 100}), "set.csv", None, 422, None),
        (csv_of({**COLUMNS, "t_s": [1 - t for t in COLUMNS["t_s"]]}), "set.csv", None, 422, "time-runs-backwards"),
        (csv_of({**COLUMNS, "t_s": [t / 100 for t in COLUMNS["t_s"]]}), "set.csv", None, 422, "rate-out-of-limits"),
        (csv_of(COLUMNS) + b"\n1,2", "set.csv", None, 422, "bad-row"),
        (json.dumps({**COLUMNS, "gyro_x": [1.0]}).encode(), "set.json", None, 422, "unequal-columns"),
        (parquet_of(COLUMNS)[:-20], "set.parquet", None, 400, None),
        (cbor2.dumps(COLUMNS)[:-20], "set.cbor", None, 400, None),
        (gzip.compress(csv_of(COLUMNS))[:-20], "set.csv.gz", None, 400, "truncated"),
        (gzip.compress(b"0" * 100_000_000), "set.csv.gz", None, 413, "decompressed-too-large"),
        (b"", "set.csv", None, None, None),
        (b"\x00\x01\x02", "set.bin", None, None, None),
    ],
)
def test_a_bad_recording_is_refused_and_leaves_nothing(service, body, name, meta, status, code):
    answer = send(service, body, name, meta)
    problem = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert 400 <= answer.status_code < 500
    assert answer.status_code == (status or answer.status_code), problem
    assert problem["code"] == (code or problem["code"])
    assert service.client.get("/v1/athletes").json()["items"] == []
    assert service.client.get("/v1/sets").json()["items"] == []


def test_parts_that_are_missing_repeated_or_not_known(service):
    good = {"meta": (None, json.dumps({**META, **UNITS})), "file": ("set.csv", csv_of(COLUMNS))}
    for files, pointer in [
        ({"file": good["file"]}, "/meta"),
        ({"meta": good["meta"]}, "/file"),
        ({**good, "note": (None, "x")}, "/note"),
    ]:
        answer = service.client.post("/v1/recordings", files=files)
        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer), answer.text
    assert service.client.post("/v1/recordings", json=META).json()["code"] == "unknown-content-type"
    assert send(service, csv_of(COLUMNS), meta=[]).json()["code"] == "request-invalid"
    torn = service.client.post(
        "/v1/recordings", content=b"--x\r\nnothing", headers={"Content-Type": "multipart/form-data; boundary=x"}
    )
    assert 400 <= torn.status_code < 500
    no_boundary = service.client.post("/v1/recordings", content=b"", headers={"Content-Type": "multipart/form-data"})
    assert no_boundary.status_code == 400
    broken = {**good, "meta": (None, "{")}
    assert service.client.post("/v1/recordings", files=broken).json()["code"] == "unreadable"


def test_a_recording_of_the_other_kind_of_device(service):
    send(service, csv_of(COLUMNS))
    columns = {"t_ms": [i * 10 for i in range(50)], "position[m]": [0.001] * 50}
    answer = send(service, csv_of(columns), meta=META)
    assert (answer.status_code, answer.json()["code"]) == (422, "kind-mismatch")


def test_the_whole_request_may_be_compressed(service):
    told = service.client.build_request(
        "POST",
        "/v1/recordings",
        data={"meta": json.dumps({**META, **UNITS})},
        files={"file": ("a.csv", csv_of(COLUMNS))},
    )
    headers = {"Content-Type": told.headers["content-type"], "Content-Encoding": "gzip"}
    answer = service.client.post("/v1/recordings", content=gzip.compress(told.read()), headers=headers)
    assert answer.status_code == 201, answer.text
    assert answer.json()["quality"]["samples"] == 100


def test_half_an_hour_at_4000_hz_is_refused_before_it_is_read(service):
    column = pa.array(np.zeros(1800 * 4000, np.float32))
    out = io.BytesIO()
    pq.write_table(pa.table(dict.fromkeys(("t_s", *IMU_COLUMNS), column)), out)
    answer = send(service, out.getvalue(), "set.parquet", {**META, **UNITS})
    assert (answer.status_code, answer.json()["code"]) == (422, "too-many-samples")
    assert "7200000 samples" in answer.json()["detail"]
    assert "2000000" in answer.json()["detail"]
