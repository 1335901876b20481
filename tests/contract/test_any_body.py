"""Whatever arrives, the service answers in order: it takes it, or says in the one shape why not. Never a 500."""

from __future__ import annotations

import json

import cbor2
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conftest import STREAM, imu_block

SLOW_IS_FINE = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
NAMES = st.sampled_from(
    [
        "name",
        "kind",
        "mounting",
        "bar_axis",
        "ranges",
        "units",
        "accel",
        "gyro",
        "athlete",
        "athlete_id",
        "device",
        "device_id",
        "lift",
        "load_kg",
        "started_at",
        "rate_hz",
        "boot",
        "seq",
        "t0_us",
        "dt_us",
        "t_us",
        "channels",
    ]
)
ANY = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats()
    | st.text(st.characters(exclude_categories=[]), max_size=8)
    | st.sampled_from(["imu", "snatch", "[g]", "+x", "2026-03-01T17:30:00Z"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES | st.text(max_size=4), inner, max_size=5),
    max_leaves=12,
)
MEMBERS = {"type", "title", "status", "detail", "instance", "code", "request_id", "errors"}


def check(answer):
    assert answer.status_code < 500, answer.text
    if answer.status_code >= 400:
        assert answer.headers["content-type"] == "application/problem+json"
        assert set(answer.json()) == MEMBERS
        assert answer.json()["detail"]


def changed(good, changes):
    return {**good, **changes} if isinstance(changes, dict) else changes


@SLOW_IS_FINE
@given(changes=ANY, route=st.sampled_from(["/v1/athletes", "/v1/devices", "/v1/streams"]))
def test_any_json(service, changes, route):
    good = {"/v1/athletes": {"name": "A"}, "/v1/devices": {"name": "A", "kind": "imu"}, "/v1/streams": STREAM}[route]
    body = json.dumps(changed(good, changes)).encode()
    check(service.client.post(route, content=body, headers={"Content-Type": "application/json"}))


@SLOW_IS_FINE
@given(changes=ANY, packed=st.booleans())
def test_any_block(service, changes, packed):
    stream = service.stream()["id"]
    block = changed(imu_block(0, 10), changes)
    if packed:
        try:
            body = cbor2.dumps(block)
        except UnicodeEncodeError:
            return
    else:
        body = json.dumps(block).encode()
    kind = "application/cbor" if packed else "application/json"
    check(service.client.post(f"/v1/streams/{stream}/blocks", content=body, headers={"Content-Type": kind}))


@SLOW_IS_FINE
@given(changes=ANY, file=st.binary(max_size=200), name=st.sampled_from(["a.csv", "a.json", "a.cbor", "a.parquet", "a"]))
def test_any_recording(service, changes, file, name):
    meta = json.dumps(changed(STREAM, changes))
    check(service.client.post("/v1/recordings", data={"meta": meta}, files={"file": (name, file)}))


@SLOW_IS_FINE
@given(body=st.binary(max_size=300), boundary=st.sampled_from(["x", "", '"', "x; charset=utf-8"]))
def test_any_multipart(service, body, boundary):
    headers = {"Content-Type": f"multipart/form-data; boundary={boundary}"}
    check(service.client.post("/v1/recordings", content=body, headers=headers))
    check(service.client.post("/v1/recordings", content=b"--x\r\n" + body, headers=headers))


@SLOW_IS_FINE
@given(text=st.text(max_size=20), route=st.sampled_from(["athletes", "devices", "streams", "sets"]))
def test_any_id_and_any_query(service, text, route):
    from urllib.parse import quote

    check(service.client.get(f"/v1/{route}/{quote(text, safe='')}"))
    for name in ("cursor", "limit", "from", "to", "athlete_id", "lift"):
        check(service.client.get(f"/v1/{route}", params={name: text}))
