"""Sending a set while it is lifted: nothing lost, nothing sent twice, nothing kept that was refused."""

from __future__ import annotations

import gzip
import struct
from typing import Any

import cbor2
import httpx
import pytest

from barwright_client import CutBy, NotAllowed, NotReached, NotSignedIn, Refused, RetryPolicy, StreamWriter
from sdk.scripted import Scripted, client_of, good, problem
from sdk.test_client import SET

OPENED = {"id": "str_1", "set_id": "set_1"}
CLOSED = {"set_id": "set_1", "state": "analysed"}
ONCE = RetryPolicy(most_tries=1)


def receipt(next_seq: int, missing: list[list[int]] | None = None) -> httpx.Response:
    document = {"stored": True, "next_seq": next_seq, "missing": missing or [], "received_at": "2026-03-02T17:00:01Z"}
    return good(document, 201)


def open_stream(*answers: httpx.Response | Exception, samples: int = 3) -> tuple[StreamWriter, Scripted]:
    client, service = client_of(good(OPENED, 201), *answers, retry=ONCE)
    cut_by = CutBy(samples=samples, age_s=1e9)
    return client.stream(lift="snatch", load_kg=60, athlete="Imke", device="d", cut_by=cut_by), service


def block_of(request: httpx.Request) -> dict[str, Any]:
    packed = request.headers.get("content-encoding") == "gzip"
    document = cbor2.loads(gzip.decompress(request.content) if packed else request.content)
    assert isinstance(document, dict)
    return document


def positions(request: httpx.Request) -> list[float]:
    content = block_of(request)["channels"]["position"].value
    return list(struct.unpack(f"<{len(content) // 8}d", content))


def samples(*numbers: int) -> dict[str, list[float]]:
    return {"t_us": [n * 1000 for n in numbers], "position": [float(n) for n in numbers]}


def test_a_whole_set() -> None:
    stream, service = open_stream(receipt(1), receipt(2), good(CLOSED), good(SET))
    with stream:
        stream.push(samples(0, 1))
        assert (len(service.requests), stream.unsent) == (1, 2)
        stream.push(samples(2, 3))
        assert stream.unsent == 1
    assert stream.result is not None
    assert stream.result.id == "set_1"
    paths = [request.url.path for request in service.requests]
    assert paths == [
        "/v1/streams",
        "/v1/streams/str_1/blocks",
        "/v1/streams/str_1/blocks",
        "/v1/streams/str_1/close",
        "/v1/sets/set_1",
    ]
    assert service.sent(0) == {"lift": "snatch", "load_kg": 60, "athlete": "Imke", "device": "d"}
    assert service.requests[3].url.params["wait"] == "10"
    first, last = (block_of(request) for request in service.requests[1:3])
    assert (first["seq"], first["t0_us"], first["dt_us"]) == (0, 0, 1000)
    assert (last["seq"], last["boot"]) == (1, first["boot"])
    assert positions(service.requests[1]) + positions(service.requests[2]) == [0.0, 1.0, 2.0, 3.0]
    assert service.requests[1].headers["content-type"] == "application/cbor"


def test_a_large_block_is_packed() -> None:
    stream, service = open_stream(receipt(1), samples=500)
    stream.push(samples(*range(500)))
    assert service.last.headers["content-encoding"] == "gzip"
    assert service.last.headers["content-length"] == str(len(service.last.content))
    assert positions(service.last) == [float(n) for n in range(500)]


def test_samples_survive_a_lost_connection() -> None:
    stream, service = open_stream(httpx.ConnectError("gone"), receipt(1), receipt(2))
    with pytest.raises(NotReached):
        stream.push(samples(0, 1, 2))
    assert stream.unsent == 3
    stream.push(samples(3))
    stream.flush()
    assert stream.unsent == 0
    assert [block_of(request)["seq"] for request in service.requests[1:]] == [0, 0, 1]
    assert positions(service.requests[2]) + positions(service.requests[3]) == [0.0, 1.0, 2.0, 3.0]


def test_a_key_that_stopped_working_loses_nothing() -> None:
    stream, _ = open_stream(problem(401), receipt(1))
    with pytest.raises(NotSignedIn):
        stream.push(samples(0, 1, 2))
    assert stream.unsent == 3
    stream.flush()
    assert stream.unsent == 0


def test_a_block_refused_for_its_content_is_not_sent_again() -> None:
    stream, service = open_stream(problem(422, detail="clipped"), receipt(2, [[0, 0]]))
    with pytest.raises(Refused, match="clipped"):
        stream.push(samples(0, 1, 2))
    assert stream.unsent == 0
    stream.push(samples(3, 4, 5))
    assert block_of(service.last)["seq"] == 1
    assert stream.receipt is not None
    assert stream.receipt.missing == ((0, 0),)


def test_leaving_with_an_error_does_not_end_the_set() -> None:
    stream, service = open_stream()
    with pytest.raises(ValueError, match="unknown channel"), stream:
        stream.push({"t_us": [0], "temperature": [20.0]})
    assert len(service.requests) == 1
    assert stream.result is None


def test_closing_twice_asks_once_and_a_closed_stream_takes_nothing() -> None:
    stream, service = open_stream(good(CLOSED), good(SET))
    assert stream.close(wait_s=0) is stream.close()
    assert service.requests[1].url.params["wait"] == "0"
    with pytest.raises(ValueError, match="closed"):
        stream.push(samples(0))


def test_a_key_that_may_only_send_still_ends_the_set() -> None:
    stream, service = open_stream(receipt(1), good({**CLOSED, "missing": [[0, 1]]}), problem(403))
    with stream:
        stream.push(samples(0))
    assert stream.result is None
    assert stream.closed is not None
    assert (stream.closed.set_id, stream.closed.missing) == ("set_1", ((0, 1),))
    assert stream.end() is stream.closed
    assert len(service.requests) == 4


def test_a_key_that_may_not_send_is_told_so_at_the_end() -> None:
    stream, _ = open_stream(problem(403))
    with pytest.raises(NotAllowed), stream:
        stream.push(samples(0))
    assert stream.unsent == 1


def test_flush_with_nothing_to_send() -> None:
    stream, _ = open_stream()
    assert stream.flush() is None
