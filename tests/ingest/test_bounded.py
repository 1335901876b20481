"""Files made to cost more than they should: refused in little time, with room for slow machines."""

from __future__ import annotations

import json
import time

import pytest

from barwright.ingest.recording_file import read_recording_file
from ingest.awkward import NEWCOMER
from ingest.bodies import LIMITS, refusal_of

HEADER = f"{NEWCOMER}\n".encode()
MILLION = 1_000_000


@pytest.mark.parametrize(
    ("body", "name", "code"),
    [
        (HEADER + b"#\n" * (4 * MILLION), "a.csv", "bad-row"),
        (HEADER + b"\n" * (8 * MILLION), "a.csv", "bad-row"),
        (HEADER + b"," * (8 * MILLION), "a.csv", "bad-row"),
        (HEADER + b'"' * (8 * MILLION), "a.csv", "bad-row"),
        (b"a_b_c_d_" * MILLION, "a.csv", "missing-column"),
        (b"AccX," * MILLION, "a.csv", "too-many-arrays"),
        (b'{"t":' + b"[" * (2 * MILLION), "a.ndjson", "too-many-arrays"),
        (json.dumps([{"n": "a", "v": 1}] * 200_000).encode(), "a.senml", "missing-column"),
        (json.dumps([{"n": "a", "v": 1}] * 300_001).encode(), "a.senml", "too-many-samples"),
        (b"\x9f" + b"\xa1\x00\x61a" * (2 * MILLION), "a.senmlc", "truncated"),
    ],
)
def test_refused_soon(body: bytes, name: str, code: str) -> None:
    began = time.process_time()
    refusal = refusal_of(read_recording_file, body, name, None, None, LIMITS)
    assert refusal.code in (code, "too-many-arrays"), refusal.detail
    assert time.process_time() - began < 5.0
