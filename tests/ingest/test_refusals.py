"""Every refusal of a block: what triggers it, its status and code, the member it points to, and what its text names."""

from __future__ import annotations

import ast
import gzip
from dataclasses import replace
from pathlib import Path
from typing import Any

import cbor2
import pytest

import barwright.ingest
from barwright.ingest.decode import decode_block
from barwright.ingest.refusals import REFUSALS, pointer_to
from ingest.bodies import CBOR, JSON, LIMITS, as_cbor, as_json, imu_members, refusal_of, with_channel

NAN, INF = float("nan"), float("inf")
TIMES = list(range(0, 20 * 2500, 2500))


def _listed(times: Any, **changes: Any) -> dict[str, Any]:
    return imu_members(t0_us=None, dt_us=None, t_us=times, **changes)


def _lacking(name: str) -> dict[str, Any]:
    members = imu_members()
    del members["channels"][name]
    return members


# members of an imu block, code, pointer, words of the text
MEMBERS: list[tuple[Any, str, str, tuple[str, ...]]] = [
    ([1], "bad-member", "", ("an array", "object")),
    (5, "bad-member", "", ("the number 5", "object")),
    (imu_members(boot=None), "missing-member", "/boot", ("`boot`",)),
    (imu_members(seq=None), "missing-member", "/seq", ("`seq`",)),
    (imu_members(channels=None), "missing-member", "/channels", ("`channels`",)),
    (imu_members(colour="red"), "unknown-member", "/colour", ("`colour`", "dt_us")),
    (imu_members(**{"a/b~c": 1}), "unknown-member", "/a~1b~0c", ("`a/b~c`",)),
    (imu_members(boot=""), "bad-member", "/boot", ("1 to 64",)),
    (imu_members(boot="x" * 65), "bad-member", "/boot", ("1 to 64",)),
    (imu_members(boot="two words"), "bad-member", "/boot", ("1 to 64",)),
    (imu_members(boot=True), "bad-member", "/boot", ("1 to 64",)),
    (imu_members(boot=1.5), "bad-member", "/boot", ("1 to 64",)),
    (imu_members(seq=-1), "bad-member", "/seq", ("the number -1", "from 0")),
    (imu_members(seq=2**53), "bad-member", "/seq", ("2^53",)),
    (imu_members(seq=1.5), "bad-member", "/seq", ("the number 1.5",)),
    (imu_members(seq="1"), "bad-member", "/seq", ("text",)),
    (imu_members(seq=False), "bad-member", "/seq", ("false",)),
    (imu_members(buffered="yes"), "bad-member", "/buffered", ("text", "true or false")),
    (imu_members(sent_at="yesterday"), "bad-member", "/sent_at", ("RFC 3339",)),
    (imu_members(sent_at="2025-03-01T17:30:00"), "bad-member", "/sent_at", ("offset",)),
    (imu_members(sent_at="2025-13-01T17:30:00Z"), "bad-member", "/sent_at", ("RFC 3339",)),
    (imu_members(sent_at=1740850200), "bad-member", "/sent_at", ("RFC 3339",)),
    (imu_members(channels=[1, 2]), "bad-member", "/channels", ("an array", "object")),
    (with_channel("accel_y", 3.5), "bad-member", "/channels/accel_y", ("`accel_y`", "the number 3.5", "array")),
    (with_channel("accel_y", "1,2"), "bad-member", "/channels/accel_y", ("`accel_y`", "text")),
    (with_channel("accel_w", [1.0] * 20), "unknown-channel", "/channels/accel_w", ("`accel_w`", "accel_x")),
    (with_channel("velocity", [1.0] * 20), "unknown-channel", "/channels/velocity", ("`velocity`", "imu")),
    (_lacking("gyro_y"), "missing-axis", "/channels", ("gyro_y", "all of")),
    (imu_members(channels={}), "missing-axis", "/channels", ("accel_x, accel_y",)),
    (with_channel("gyro_x", [1.0] * 19), "unequal-columns", "/channels/gyro_x", ("19", "20", "`gyro_x`")),
    (imu_members(0), "no-samples", "/channels", ("at least one",)),
    (with_channel("gyro_z", [1.0] * 7 + ["2"] + [1.0] * 12), "not-a-number", "/channels/gyro_z/7", ("text", " 7 ")),
    (with_channel("gyro_z", [True] + [1.0] * 19), "not-a-number", "/channels/gyro_z/0", ("true", "sample 0")),
    (with_channel("gyro_z", [1.0] * 19 + [None]), "not-a-number", "/channels/gyro_z/19", ("null", "sample 19")),
    (with_channel("gyro_z", [[1.0]] * 20), "not-a-number", "/channels/gyro_z/0", ("an array",)),
    (with_channel("accel_z", [1.0] * 4 + [NAN] + [1.0] * 15), "not-finite", "/channels/accel_z/4", ("nan", "sample 4")),
    (with_channel("accel_z", [1.0] * 3 + [-2e6] + [1.0] * 16), "value-too-large", "/channels/accel_z/3",
     ("-2e+06", "sample 3", "1e+06")),
    (with_channel("accel_z", [-INF] + [1.0] * 19), "not-finite", "/channels/accel_z/0", ("-inf", "`accel_z`")),
    (imu_members(t_us=TIMES), "time-unclear", "/t_us", ("both `dt_us` and `t_us`",)),
    (imu_members(dt_us=None), "time-unclear", "/dt_us", ("neither",)),
    (imu_members(t0_us=None), "time-unclear", "/t0_us", ("without `t0_us`",)),
    (_listed(TIMES) | {"t0_us": 77}, "time-unclear", "/t0_us", ("not times since `t0_us`",)),
    (imu_members(dt_us=0), "bad-member", "/dt_us", ("above 0",)),
    (imu_members(dt_us=-2500), "bad-member", "/dt_us", ("the number -2500",)),
    (imu_members(dt_us="2500"), "bad-member", "/dt_us", ("text",)),
    (imu_members(dt_us=NAN), "bad-member", "/dt_us", ("nan",)),
    (imu_members(t0_us=0.5), "bad-member", "/t0_us", ("the number 0.5", "whole microseconds")),
    (imu_members(t0_us=2**53), "bad-member", "/t0_us", ("2^53",)),
    (imu_members(t0_us=[1]), "bad-member", "/t0_us", ("an array",)),
    (_listed(TIMES[:-1]), "unequal-columns", "/t_us", ("19 times", "20 samples")),
    (_listed([*TIMES[:-1], 50_000.5]), "bad-member", "/t_us/19", ("50000.5", "whole microseconds")),
    (_listed([*TIMES[:-1], 2**60]), "bad-member", "/t_us/19", ("2^53",)),
    (_listed([*TIMES[:-1], "5"]), "not-a-number", "/t_us/19", ("text",)),
    (_listed([*TIMES[:5], 9000, *TIMES[6:]]), "time-runs-backwards", "/t_us/5", ("10000 back to 9000", "sample 5")),
    (imu_members(dt_us=249), "rate-out-of-limits", "/dt_us", ("4016", "20 to 4000 Hz")),
    (imu_members(dt_us=5e-324), "rate-out-of-limits", "/dt_us", ("inf", "4000")),
    (imu_members(dt_us=50_001), "rate-out-of-limits", "/dt_us", ("19.9996", "20 to 4000 Hz")),
    (_listed(list(range(0, 20 * 200, 200))), "rate-out-of-limits", "/t_us", ("5000", "4000")),
    (_listed([7] * 20), "rate-out-of-limits", "/t_us", ("inf",)),
    (_listed([i * 60_000 for i in range(20)]), "rate-out-of-limits", "/t_us", ("16.6667",)),
    (_listed([*TIMES[:-1], 121_000_000]), "too-long", "/t_us", ("121.000 s", "120 s")),
]  # fmt: skip


@pytest.mark.parametrize(("members", "code", "pointer", "words"), MEMBERS)
def test_members_in_json_and_in_cbor(members: Any, code: str, pointer: str, words: tuple[str, ...]) -> None:
    for body, content_type in ((as_json(members), JSON), (cbor2.dumps(members), CBOR)):
        refusal = refusal_of(decode_block, body, content_type, None, "imu", LIMITS)
        assert (refusal.code, refusal.status, refusal.pointer) == (code, 422, pointer)
        assert refusal.title == REFUSALS[code][1]
        assert all(word in refusal.detail for word in words), refusal.detail


@pytest.mark.parametrize(
    ("channels", "code", "pointer"),
    [
        ({}, "missing-channel", "/channels"),
        ({"position": [1.0], "velocity": [1.0]}, "channel-conflict", "/channels/velocity"),
        ({"accel_x": [1.0]}, "unknown-channel", "/channels/accel_x"),
    ],
)
def test_channels_of_an_encoder(channels: Any, code: str, pointer: str) -> None:
    refusal = refusal_of(decode_block, as_json(imu_members(channels=channels)), JSON, None, "encoder", LIMITS)
    assert (refusal.code, refusal.status, refusal.pointer) == (code, 422, pointer)
    assert "position" in refusal.detail


_GOOD_JSON, _GOOD_CBOR = as_json(imu_members()), as_cbor(imu_members())
_PATTERN = cbor2.dumps(imu_members(boot=cbor2.CBORTag(35, "(a+)+$")))

# body, content type, encoding, limits changed, code, status, words
BODIES: list[tuple[bytes, str, str | None, dict[str, Any], str, int, str]] = [
    (b"", JSON, None, {}, "truncated", 400, "0 bytes"),
    (b"", CBOR, None, {}, "truncated", 400, "0 bytes"),
    (b'{"boot": "b", "seq"', JSON, None, {}, "truncated", 400, "19 bytes"),
    (_GOOD_CBOR[:-1], CBOR, None, {}, "truncated", 400, f"{len(_GOOD_CBOR) - 1} bytes"),
    (gzip.compress(_GOOD_JSON)[:-1], JSON, "gzip", {}, "truncated", 400, "gzip"),
    (b"accel_x,accel_y", JSON, None, {}, "unreadable", 400, "not JSON"),
    (_GOOD_JSON + b"]", JSON, None, {}, "unreadable", 400, "not JSON"),
    (b'{"boot": "\xff"}', JSON, None, {}, "unreadable", 400, "UTF-8"),
    (_GOOD_CBOR + b"\x00", CBOR, None, {}, "unreadable", 400, "nothing behind it"),
    (bytes.fromhex("a2616101616102"), CBOR, None, {}, "unreadable", 400, "Duplicate"),
    (_PATTERN, CBOR, None, {}, "unreadable", 400, "tag"),
    (bytes.fromhex("d81c81d81d00"), CBOR, None, {}, "unreadable", 400, "tag"),
    (_GOOD_JSON, JSON, "gzip", {}, "unreadable", 400, "not gzip"),
    (b"[" * 17 + b"]" * 17, JSON, None, {}, "too-deep", 400, "16 levels"),
    (b"\x81" * 17 + b"\x01", CBOR, None, {}, "too-deep", 400, "16 levels"),
    (b"[" * 5_000_000, JSON, None, {}, "too-many-arrays", 400, "5000000"),
    (b"\x9a\x00\x4c\x4b\x40" + b"\x80" * 5_000_000, CBOR, None, {}, "too-many-arrays", 400, "200000"),
    (b"[" + b'"",' * 300_000 + b"1]", JSON, None, {}, "too-many-arrays", 400, "300001"),
    (b"\x9a\x00\x4c\x4b\x40" + b"\x18\x20" * 4_000_000, CBOR, None, {}, "too-many-arrays", 400, "2000000 values"),
    (b"\x9b\x7f\xff\xff\xff\xff\xff\xff\xff", CBOR, None, {}, "truncated", 400, "9 bytes"),
    (b"\x5b\x7f\xff\xff\xff\xff\xff\xff\xff", CBOR, None, {}, "truncated", 400, "9 bytes"),
    (_GOOD_JSON, JSON, None, {"body_bytes": 100}, "body-too-large", 413, "100"),
    (_GOOD_JSON, JSON, None, {"block_bytes": 100}, "block-too-large", 413, "100"),
    (gzip.compress(_GOOD_JSON), JSON, "gzip", {"block_bytes": 100}, "decompressed-too-large", 413, "100"),
    (_GOOD_JSON, "text/csv", None, {}, "unknown-content-type", 415, "application/cbor"),
    (_GOOD_JSON, "", None, {}, "unknown-content-type", 415, "application/json"),
    (_GOOD_JSON, "application/json; charset=latin-1", None, {}, "unknown-content-type", 415, "UTF-8"),
    (_GOOD_JSON, JSON, "br", {}, "unknown-encoding", 415, "gzip, zstd"),
    (_GOOD_JSON, JSON, "gzip, zstd", {}, "unknown-encoding", 415, "`gzip, zstd`"),
    (_GOOD_JSON, JSON, None, {"block_samples": 19}, "too-many-samples", 422, "20 samples; the limit is 19"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "content_type", "encoding", "changed", "code", "status", "words"), BODIES)
def test_bodies(
    body: bytes, content_type: str, encoding: str | None, changed: dict[str, Any], code: str, status: int, words: str
) -> None:
    refusal = refusal_of(decode_block, body, content_type, encoding, "imu", replace(LIMITS, **changed))
    assert (refusal.code, refusal.status) == (code, status)
    assert words in refusal.detail


@pytest.mark.parametrize(
    ("tag", "words"),
    [
        (cbor2.CBORTag(85, bytes(7)), "not a multiple of 4"),
        (cbor2.CBORTag(99, bytes(8)), "tag 99"),
        (cbor2.CBORTag(85, [1.0]), "byte string"),
    ],
)
def test_a_typed_array_that_is_none_is_pointed_to(tag: cbor2.CBORTag, words: str) -> None:
    body = cbor2.dumps(with_channel("gyro_y", tag))
    refusal = refusal_of(decode_block, body, CBOR, None, "imu", LIMITS)
    assert (refusal.code, refusal.status, refusal.pointer) == ("bad-member", 422, "/channels/gyro_y")
    assert words in refusal.detail


def test_not_finite_in_a_typed_array() -> None:
    body = as_cbor(with_channel("gyro_y", [0.0] * 11 + [NAN] * 9), ">f2")
    refusal = refusal_of(decode_block, body, CBOR, None, "imu", LIMITS)
    assert (refusal.code, refusal.pointer) == ("not-finite", "/channels/gyro_y/11")


def test_a_number_beyond_float64_is_not_finite() -> None:
    body = _GOOD_JSON.replace(b'"accel_x": [', b'"accel_x": [1e999, ')
    assert refusal_of(decode_block, body, JSON, None, "imu", LIMITS).code == "unequal-columns"
    members = imu_members()
    members["channels"]["accel_x"][0] = 12345
    body = as_json(members).replace(b"12345", b"1e999")
    assert refusal_of(decode_block, body, JSON, None, "imu", LIMITS).pointer == "/channels/accel_x/0"


def test_every_code_of_the_table_is_used_and_every_code_used_is_in_the_table() -> None:
    used = set()
    for path in Path(barwright.ingest.__path__[0]).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Refusal":
                used.add(ast.literal_eval(node.args[0]))
    assert used == set(REFUSALS)


def test_titles_and_statuses() -> None:
    assert {status for status, _ in REFUSALS.values()} == {400, 413, 415, 422}
    assert len({title for _, title in REFUSALS.values()}) == len(REFUSALS)


def test_pointer_escapes() -> None:
    # RFC 6901, section 5: the example document's members "a/b" and "m~n".
    assert pointer_to("a/b") == "/a~1b"
    assert pointer_to("m~n") == "/m~0n"
    assert pointer_to("foo", 0) == "/foo/0"
    assert pointer_to() == ""
