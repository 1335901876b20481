"""Blocks over a WebSocket: hello, ack, refused, credit, close, events."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager, suppress
from typing import Any

import cbor2
import pytest
from starlette.testclient import WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from barwright.access.scopes import Scope
from barwright.api.live_socket import CREDIT
from conftest import Service, imu_block


@contextmanager
def connect(service: Service, stream_id: str, headers: dict[str, str] | None = None) -> Iterator[Any]:
    told = {"Authorization": service.client.headers["Authorization"]} if headers is None else headers
    plain = {"Authorization": ""} if headers == {} else told
    hurried = suppress(CancelledError)  # the test client hangs up and gives the app no time to end by itself
    with hurried, service.client.websocket_connect(f"/v1/streams/{stream_id}/live", headers=plain) as socket:
        yield socket


def test_hello_says_what_has_come_and_blocks_are_acknowledged(service: Service) -> None:
    stream = service.stream()
    service.send(stream["id"], imu_block(0))
    with connect(service, stream["id"]) as socket:
        hello = socket.receive_json()
        assert hello["type"] == "hello"
        assert (hello["stream_id"], hello["set_id"], hello["credit"]) == (stream["id"], stream["set_id"], CREDIT)
        assert [(boot["boot"], boot["next_seq"]) for boot in hello["received"]] == [("b1", 1)]
        socket.send_json(imu_block(1))
        socket.send_bytes(cbor2.dumps(imu_block(3)))
        socket.send_json(imu_block(1))
        acks = [socket.receive_json() for _ in range(3)]
    assert [(ack["type"], ack["block"], ack["stored"]) for ack in acks] == [
        ("ack", 0, True),
        ("ack", 1, True),
        ("ack", 2, False),
    ]
    assert acks[1]["missing"] == [[2, 2]]
    assert service.client.get(f"/v1/streams/{stream['id']}").json()["received"][0]["samples"] == 150


def test_a_bad_block_is_refused_and_the_next_one_taken(service: Service) -> None:
    stream = service.stream()
    with connect(service, stream["id"]) as socket:
        socket.receive_json()
        socket.send_json(imu_block(0) | {"seq": -1})
        refused = socket.receive_json()
        socket.send_json(imu_block(0))
        assert socket.receive_json()["type"] == "ack"
    assert (refused["type"], refused["block"], refused["again"]) == ("refused", 0, False)
    assert refused["problem"]["code"] == "bad-member"
    assert refused["problem"]["errors"][0]["pointer"] == "/seq"


def test_more_than_the_credit_ends_the_connection(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """The work is held up, as by a slow disk; what had been acknowledged before is stored."""
    import barwright.api.live_socket as module

    async def never(*_: Any) -> None:
        import asyncio

        await asyncio.sleep(60)

    stream = service.stream()
    with connect(service, stream["id"]) as socket:
        socket.receive_json()
        socket.send_json(imu_block(0))
        assert socket.receive_json()["type"] == "ack"
        monkeypatch.setattr(module.LiveSocket, "_take", never)
        for seq in range(1, CREDIT + 4):
            socket.send_json(imu_block(seq))
        refused = socket.receive_json()
        assert refused["problem"]["code"] == "too-much-in-flight"
        with pytest.raises(WebSocketDisconnect) as ended:
            socket.receive_json()
        assert ended.value.code == 1013
    assert service.client.get(f"/v1/streams/{stream['id']}").json()["received"][0]["next_seq"] == 1


def test_close_ends_the_set_and_tells_of_it(service: Service) -> None:
    stream = service.stream()
    with connect(service, stream["id"]) as socket:
        socket.receive_json()
        socket.send_json(imu_block(0))
        socket.send_json({"type": "close", "wait": 20})
        assert socket.receive_json()["type"] == "ack"
        closed = socket.receive_json()
        with pytest.raises(WebSocketDisconnect) as ended:
            socket.receive_json()
    assert ended.value.code == 1000
    assert closed == {"type": "closed", "set_id": stream["set_id"], "state": "analysed", "revision": 1}


def test_events_come_on_the_same_connection(service: Service) -> None:
    stream = service.stream()
    with connect(service, stream["id"]) as socket:
        socket.receive_json()
        socket.send_json({"type": "watch"})
        socket.send_json(imu_block(0))
        socket.send_json({"type": "close", "wait": 20})
        messages = [socket.receive_json() for _ in range(3)]
    (event,) = (message for message in messages if message["type"] == "event")
    assert event["event"] == "set_closed"
    assert event["data"]["set_id"] == stream["set_id"]
    assert event["id"] > 0


def test_a_message_that_is_neither_block_nor_order(service: Service) -> None:
    with connect(service, service.stream()["id"]) as socket:
        socket.receive_json()
        socket.send_text(json.dumps({"type": "dance"}))
        assert socket.receive_json()["problem"]["code"] == "bad-member"
        socket.send_text("no JSON")
        assert socket.receive_json()["problem"]["code"] == "unreadable"


@pytest.mark.parametrize("club", ["Quarry Lane Lifting Club", "Somebody else"])
def test_a_stream_of_nobody_or_of_another_club_is_not_there(service: Service, club: str) -> None:
    stream_id = service.stream()["id"] if club == "Somebody else" else "str_nobody"
    with pytest.raises(WebSocketDenialResponse) as denied, connect(service, stream_id, service.new_key(club=club)):
        pass
    assert denied.value.status_code == 404
    assert denied.value.headers["content-type"] == "application/problem+json"
    assert denied.value.json()["code"] == "not-found"


@pytest.mark.parametrize(
    ("headers", "status", "code"),
    [
        ({}, 401, "not-signed-in"),
        ({"Authorization": "Bearer bw_nonsense"}, 401, "key-mistyped"),
    ],
)
def test_without_a_key_nobody_comes_in(service: Service, headers: dict[str, str], status: int, code: str) -> None:
    with pytest.raises(WebSocketDenialResponse) as denied, connect(service, service.stream()["id"], headers):
        pass
    assert (denied.value.status_code, denied.value.json()["code"]) == (status, code)


def test_a_key_that_only_reads_may_not_send_and_one_that_only_sends_may_not_watch(service: Service) -> None:
    stream = service.stream()
    reader, sender = service.new_key(Scope.RESULTS_READ), service.new_key(Scope.STREAMS_WRITE)
    with pytest.raises(WebSocketDenialResponse) as denied, connect(service, stream["id"], reader):
        pass
    assert denied.value.json()["code"] == "scope-missing"
    with connect(service, stream["id"], sender) as socket:
        socket.receive_json()
        socket.send_json({"type": "watch"})
        assert socket.receive_json()["problem"]["code"] == "scope-missing"
