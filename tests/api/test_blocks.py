"""Blocks in: stored whole, known already, or refused whole."""

from __future__ import annotations

import gzip
import json
import time

import cbor2
import numpy as np
import pytest
import zstandard

import stand_in
from barwright.app import create_app
from barwright.ingest.limits import Limits
from barwright.ingest.typed_arrays import tag_of_array
from conftest import Service, TestClient, imu_block

JSON = {"Content-Type": "application/json"}


def test_blocks_are_acknowledged_with_what_is_missing(service):
    stream = service.stream()["id"]
    first = service.send(stream, imu_block(0)).json()
    assert {name: first[name] for name in ("stored", "next_seq", "missing")} == {
        "stored": True,
        "next_seq": 1,
        "missing": [],
    }
    assert first["received_at"].endswith("Z")
    assert service.send(stream, imu_block(3)).json()["missing"] == [[1, 2]]
    answer = service.send(stream, imu_block(1)).json()
    assert (answer["next_seq"], answer["missing"]) == (4, [[2, 2]])
    assert service.send(stream, imu_block(2)).json()["missing"] == []


def test_every_start_of_the_device_counts_by_itself(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0, boot="a"))
    answer = service.send(stream, imu_block(1, boot="b")).json()
    assert (answer["next_seq"], answer["missing"]) == (2, [[0, 0]])
    state = service.client.get(f"/v1/streams/{stream}").json()
    assert [(boot["boot"], boot["next_seq"], boot["missing"]) for boot in state["received"]] == [
        ("a", 1, []),
        ("b", 2, [[0, 0]]),
    ]
    assert state["missing"] == [[0, 0]]


def test_the_same_block_again_is_known_whatever_form_it_comes_in(service):
    stream = service.stream()["id"]
    block = imu_block(0)
    assert service.send(stream, block).json()["stored"] is True
    url = f"/v1/streams/{stream}/blocks"
    body = json.dumps(block).encode()
    cbor_block = {**block, "channels": {n: tag_of_array(np.array(v, "<f8")) for n, v in block["channels"].items()}}
    again = [
        (body, JSON),
        (gzip.compress(body), {**JSON, "Content-Encoding": "gzip"}),
        (zstandard.compress(body), {**JSON, "Content-Encoding": "zstd"}),
        (cbor2.dumps(cbor_block), {"Content-Type": "application/cbor"}),
    ]
    for content, headers in again:
        answer = service.client.post(url, content=content, headers=headers)
        assert answer.status_code == 200, answer.text
        assert answer.json()["stored"] is False
    assert service.client.get(f"/v1/streams/{stream}").json()["received"][0]["samples"] == 50


def test_a_known_identity_with_other_content_is_refused_and_the_first_stays(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    other = imu_block(0)
    other["channels"]["accel_x"][7] += 1e-9
    answer = service.send(stream, other)
    assert (answer.status_code, answer.json()["code"]) == (422, "other-content")
    assert service.send(stream, imu_block(0)).json()["stored"] is False


def bad(**changes):
    return lambda: {**imu_block(0), **changes}


def with_channels(change):
    block = imu_block(0)
    change(block["channels"])
    return block


def put(name, index, value):
    return lambda: with_channels(lambda channels: channels[name].__setitem__(index, value))


REFUSED_AS_JSON = {
    "no axis": (lambda: with_channels(lambda c: c.pop("gyro_z")), 422, "missing-axis", "/channels"),
    "columns of unequal length": (
        lambda: with_channels(lambda c: c["gyro_y"].pop()),
        422,
        "unequal-columns",
        "/channels/gyro_y",
    ),
    "not a number": (put("accel_x", 3, float("nan")), None, None, None),
    "infinite": (put("accel_x", 3, float("inf")), None, None, None),
    "text for a number": (put("accel_x", 3, "1"), 422, "not-a-number", "/channels/accel_x/3"),
    "null for a number": (put("accel_x", 3, None), 422, "not-a-number", "/channels/accel_x/3"),
    "unknown channel": (
        lambda: with_channels(lambda c: c.__setitem__("mag_x", c["accel_x"])),
        422,
        "unknown-channel",
        "/channels/mag_x",
    ),
    "time backwards inside": (
        lambda: {
            k: v
            for k, v in {**imu_block(0), "t_us": [*range(0, 245000, 5000), 1]}.items()
            if k[1] != "0" and k != "dt_us"
        },
        422,
        "time-runs-backwards",
        None,
    ),
    "rate too high": (bad(dt_us=100), 422, "rate-out-of-limits", None),
    "rate too low": (bad(dt_us=100_000), 422, "rate-out-of-limits", None),
    "no times": (lambda: {k: v for k, v in imu_block(0).items() if k not in ("t0_us", "dt_us")}, 422, None, None),
    "unknown member": (bad(sequence=3), 422, "unknown-member", "/sequence"),
    "no seq": (lambda: {k: v for k, v in imu_block(0).items() if k != "seq"}, 422, "missing-member", "/seq"),
    "seq below zero": (bad(seq=-1), 422, "bad-member", "/seq"),
    "seq too large": (bad(seq=2**60), 422, "bad-member", "/seq"),
    "no channels": (bad(channels={}), 422, None, "/channels"),
}


@pytest.mark.parametrize("name", REFUSED_AS_JSON)
def test_a_bad_block_is_refused_whole(service, name):
    make, status, code, pointer = REFUSED_AS_JSON[name]
    stream = service.stream()["id"]
    assert service.send(stream, imu_block(1)).status_code == 200
    body = json.dumps(make()).encode()  # Python writes NaN and Infinity, which are not JSON
    answer = service.client.post(f"/v1/streams/{stream}/blocks", content=body, headers=JSON)
    problem = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert problem["status"] == answer.status_code == (status or answer.status_code)
    assert 400 <= answer.status_code < 500
    assert problem["code"] == (code or problem["code"])
    if pointer is not None:
        assert [error["pointer"] for error in problem["errors"]] == [pointer]
    state = service.client.get(f"/v1/streams/{stream}").json()
    assert state["received"][0]["samples"] == 50  # the good block is there, nothing of the bad one is


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_values_that_are_not_finite_are_refused_in_cbor_too(service, value):
    stream = service.stream()["id"]
    block = imu_block(0)
    block["channels"]["accel_y"][2] = float(value)
    answer = service.client.post(
        f"/v1/streams/{stream}/blocks", content=cbor2.dumps(block), headers={"Content-Type": "application/cbor"}
    )
    assert (answer.status_code, answer.json()["code"]) == (422, "not-finite")
    assert answer.json()["errors"][0]["pointer"] == "/channels/accel_y/2"


def test_bodies_that_cannot_be_read(service):
    stream = service.stream()["id"]
    url = f"/v1/streams/{stream}/blocks"
    cbor = {"Content-Type": "application/cbor"}
    whole = cbor2.dumps(imu_block(0))
    packed = gzip.compress(json.dumps(imu_block(0)).encode())
    for content, headers, status in [
        (whole[:-9], cbor, 400),
        (b"", cbor, 400),
        (b"\xff\xff\xff", cbor, 400),
        (packed[:-9], {**JSON, "Content-Encoding": "gzip"}, 400),
        (packed, {**JSON, "Content-Encoding": "br"}, 415),
        (packed, {**JSON, "Content-Encoding": "zstd"}, 400),
        (b"{", JSON, 400),
        (b"\xff{}", JSON, 400),
        (b"[" * 100_000, JSON, 400),
        (b"{}", {"Content-Type": "text/plain"}, 415),
        (b"{}", {}, 415),
    ]:
        answer = service.client.post(url, content=content, headers=headers)
        assert answer.status_code == status, (content[:20], headers, answer.text)
        assert answer.json()["detail"]
    assert service.client.get(f"/v1/streams/{stream}").json()["received"] == []


def test_a_small_body_that_unfolds_to_a_huge_one_is_refused_quickly(service):
    stream = service.stream()["id"]
    bomb = gzip.compress(b" " * 200_000_000, compresslevel=9)
    begun = time.monotonic()
    answer = service.client.post(
        f"/v1/streams/{stream}/blocks", content=bomb, headers={**JSON, "Content-Encoding": "gzip"}
    )
    assert (answer.status_code, answer.json()["code"]) == (413, "decompressed-too-large")
    assert time.monotonic() - begun < 3


def test_a_body_over_the_limit_is_refused_while_it_is_read(service):
    stream = service.stream()["id"]
    pulled = 0

    def endless():
        nonlocal pulled
        for _ in range(1000):
            pulled += 1
            yield b" " * 100_000

    answer = service.client.post(f"/v1/streams/{stream}/blocks", content=endless(), headers=JSON)
    assert (answer.status_code, answer.json()["code"]) == (413, "request-too-large")
    announced = service.client.post(f"/v1/streams/{stream}/blocks", content=b" " * 9_000_000, headers=JSON)
    assert announced.status_code == 413


def test_time_has_to_rise_over_neighbouring_blocks_of_one_start(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    service.send(stream, imu_block(4))
    early = service.send(stream, imu_block(5, t0_us=0))
    assert (early.status_code, early.json()["code"]) == (422, "time-runs-backwards")
    late = service.send(stream, imu_block(2, t0_us=4 * 50 * 5000))
    assert (late.status_code, late.json()["code"]) == (422, "time-runs-backwards")
    assert service.send(stream, imu_block(2)).status_code == 200
    assert service.send(stream, imu_block(1, boot="other", t0_us=0)).status_code == 200


def test_a_stream_longer_than_half_an_hour_is_refused(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0))
    answer = service.send(stream, imu_block(1, t0_us=1_801_000_000))
    assert (answer.status_code, answer.json()["code"]) == (422, "stream-too-long")
    assert service.send(stream, imu_block(1, t0_us=1_799_000_000)).status_code == 200
    other = service.send(stream, imu_block(0, boot="two", count=500))
    assert (other.status_code, other.json()["code"]) == (422, "stream-too-long")


def test_an_encoder_sends_what_it_measures(service):
    stream = service.stream(device="string 1", units={"position": "mm"})
    block = {"boot": "a", "seq": 0, "t0_us": 0, "dt_us": 10_000, "channels": {"position": [1.0] * 30}}
    assert service.send(stream["id"], block).status_code == 200
    wrong = {**block, "seq": 1, "channels": {"velocity": [1.0] * 30}}
    assert service.send(stream["id"], wrong).json()["code"] == "unknown-channel"
    assert service.send(stream["id"], imu_block(1, boot="a")).json()["code"] == "unknown-channel"


def test_a_stream_has_a_limit_of_samples_too(settings):
    app = create_app(settings, Limits(stream_samples=120), stand_in.outcome_of)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        stream = service.stream()["id"]
        assert [service.send(stream, imu_block(seq)).status_code for seq in (0, 1)] == [200, 200]
        answer = service.send(stream, imu_block(0, boot="b2"))  # over all device starts
        assert (answer.status_code, answer.json()["code"]) == (422, "stream-too-long")
        assert "150 samples; the limit is 120" in answer.json()["detail"]
        assert service.send(stream, imu_block(1)).json()["stored"] is False  # what is known stays known
        assert client.get("/v1/limits").json()["stream_samples"] == 120
