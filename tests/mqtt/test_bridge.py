"""The bridge between a real broker and the real service, with its broker killed under it; and its parts alone.

The broker knows MQTT 3.1.1 only: what the bridge does with the properties of MQTT 5 is tested on messages made by hand,
and was tried against mosquitto 2.0.11.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable, Iterator
from typing import Any

import aiomqtt
import httpx
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

import stand_in
from barwright.mqtt.bridge import Bridge, BrokerAddress, _answer_to
from barwright.mqtt.replies import reply_text
from barwright.mqtt.topics import checked_root, content_type_of, errand_of, subscriptions
from mqtt.broker import BrokerProcess
from mqtt.devices import SAMPLES, Device, block
from served import Served, served

ROOT = "barwright/v1"


@pytest.fixture(scope="module")
def broker() -> Iterator[BrokerProcess]:
    """One broker for all tests here."""
    one = BrokerProcess()
    one.start()
    yield one
    one.kill()


def opened(service: Served, name: str) -> str:
    """A new stream of an encoder."""
    with service.client() as client:
        told = {"athlete": "Lucja", "device": name, "lift": "bench_press", "load_kg": 35, "device_kind": "encoder"}
        answer = client.stream(units={"position": "m"}, **told)
        return str(answer.id)


async def with_bridge(
    service: Served, broker: BrokerProcess, doing: Callable[[Bridge], Any], version: int | None = 3
) -> Bridge:
    bridge = Bridge(BrokerAddress("127.0.0.1", broker.port, version=version), service.url, service.key())
    running = asyncio.create_task(bridge.run())
    try:
        await asyncio.wait_for(bridge.ready.wait(), 15)
        await doing(bridge)
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
    return bridge


async def many_devices(service: Served, broker: BrokerProcess, seconds: float, kills: int) -> list[Device]:
    """Four devices for so long, four blocks a second each, while the broker is killed and started again."""
    devices = [Device(opened(service, f"string {i}"), f"boot{i}") for i in range(4)]

    async def doing(_: Bridge) -> None:
        until = time.monotonic() + seconds + 60
        tasks = [asyncio.create_task(one.run(broker.port, round(seconds / 0.25), 0.25, until)) for one in devices]
        for _kill in range(kills):
            await asyncio.sleep(seconds / (kills + 1))
            broker.kill()
            await asyncio.sleep(0.5)
            await asyncio.to_thread(broker.start)
        await asyncio.gather(*tasks)

    await with_bridge(service, broker, doing)
    return devices


def test_no_acknowledged_block_is_lost_and_none_is_doubled(settings, broker) -> None:
    with served(settings, analyse=stand_in.outcome_of, look=None) as service:
        devices = asyncio.run(many_devices(service, broker, seconds=10.0, kills=1))
        with httpx.Client(base_url=service.url, headers={"Authorization": f"Bearer {service.key()}"}) as http:
            for one in devices:
                assert one.connected >= 2, "the broker was not missed"
                assert (one.produced, one.waiting, one.refused) == (40, {}, [])
                assert sorted(one.acknowledged) == list(range(40))
                (received,) = http.get(f"/v1/streams/{one.stream_id}").json()["received"]
                assert (received["next_seq"], received["missing"]) == (40, [])
                assert received["samples"] == 40 * SAMPLES
                for seq in range(40):  # the very content: another would be refused with 422
                    again = http.post(
                        f"/v1/streams/{one.stream_id}/blocks",
                        content=block(one.boot, seq),
                        headers={"Content-Type": "application/json"},
                    )
                    assert (again.status_code, again.json()["stored"]) == (200, False)


def test_refusals_opening_and_closing_come_back_as_from_http(settings, broker) -> None:
    replies: list[tuple[str, dict[str, Any]]] = []

    async def doing(_: Bridge) -> None:
        async with aiomqtt.Client("127.0.0.1", broker.port, timeout=5) as client:
            await client.subscribe(f"{ROOT}/replies")
            await client.subscribe(f"{ROOT}/streams/+/replies")
            begin = {"athlete": "Lucja", "device": "s", "device_kind": "encoder", "lift": "press", "load_kg": 30}
            await client.publish(f"{ROOT}/streams/begin/me", json.dumps(begin), qos=1)
            await one_reply(client, replies)
            stream = replies[0][1]["id"]
            for tag, payload in (("good", block("b", 0)), ("again", block("b", 0)), ("bad", b'{"boot": "b"}')):
                await client.publish(f"{ROOT}/streams/{stream}/blocks/{tag}", payload, qos=1)
                await one_reply(client, replies)
            await client.publish(f"{ROOT}/streams/str_none/blocks", block("b", 0), qos=1)
            await one_reply(client, replies)
            await client.publish(f"{ROOT}/streams/{stream}/close", b"", qos=1)
            await one_reply(client, replies)

    with served(settings, analyse=stand_in.outcome_of, look=None) as service:
        bridge = asyncio.run(with_bridge(service, broker, doing, version=None))
    assert bridge._version == 3  # 5 was tried first, and this broker knows 3.1.1 only
    topics, told = zip(*replies, strict=True)
    stream = told[0]["id"]
    assert topics[:2] == (f"{ROOT}/replies", f"{ROOT}/streams/{stream}/replies")
    assert [(one["status"], one.get("tag")) for one in told] == [
        (201, "me"), (200, "good"), (200, "again"), (422, "bad"), (404, None), (200, None)
    ]  # fmt: skip
    assert [one.get("stored") for one in told[1:3]] == [True, False]
    assert (told[3]["again"], told[3]["problem"]["code"]) == (False, "missing-member")
    assert told[4]["problem"]["code"] == "not-found"
    assert told[5]["set_id"] == told[0]["set_id"]
    assert (bridge.counts.messages, bridge.counts.refused, bridge.counts.known) == (6, 2, 1)


async def one_reply(client: aiomqtt.Client, replies: list[tuple[str, dict[str, Any]]]) -> None:
    async with asyncio.timeout(10):
        message = await anext(aiter(client.messages))
    replies.append((message.topic.value, json.loads(bytes(message.payload))))


def test_a_service_that_is_away_is_told_and_asked_again() -> None:
    """A reply with `again` says: keep the block."""
    asked: list[float] = []

    def away(request: httpx.Request) -> httpx.Response:
        asked.append(time.monotonic())
        raise httpx.ConnectError("nobody there", request=request)

    async def ask() -> tuple[int | None, bytes]:
        bridge = Bridge(BrokerAddress("x", 1), "http://x", "key", transport=httpx.MockTransport(away))
        message = aiomqtt.Message(f"{ROOT}/streams/s/blocks", block("b", 0), 1, False, 1, None)
        errand = errand_of(message.topic.value, ROOT)
        assert errand is not None
        return await bridge._ask(errand, message)

    assert asyncio.run(ask()) == (None, b"")
    assert len(asked) == 4
    told = json.loads(reply_text(None, b"", "7/0"))
    assert (told["status"], told["again"], told["tag"]) == (503, True, "7/0")
    assert json.loads(reply_text(429, b"{}", None))["again"] is True
    assert json.loads(reply_text(413, b'{"code": "block-too-large"}', None)) == {
        "status": 413, "again": False, "problem": {"code": "block-too-large"}
    }  # fmt: skip


def test_mqtt_5_tells_type_and_where_the_answer_goes() -> None:
    seen: list[httpx.Request] = []

    def take(request: httpx.Request) -> httpx.Response:
        seen.append(request)
        return httpx.Response(200, json={"stored": True})

    given = Properties(PacketTypes.PUBLISH)
    given.ContentType, given.ResponseTopic, given.CorrelationData = "application/senml+cbor", "hall/bar 3/acks", b"\x07"
    message = aiomqtt.Message(f"{ROOT}/streams/str_1/blocks/7f/3", b"\x81\xa0", 1, False, 1, given)
    errand = errand_of(message.topic.value, ROOT)
    assert errand is not None
    bridge = Bridge(BrokerAddress("x", 1), "http://x", "key", transport=httpx.MockTransport(take))
    asyncio.run(bridge._ask(errand, message))
    assert seen[0].headers["Content-Type"] == "application/senml+cbor"
    assert seen[0].headers["Authorization"] == "Bearer key"
    assert seen[0].url.path == "/v1/streams/str_1/blocks"
    topic, properties = _answer_to(message, errand)
    assert properties is not None
    assert (topic, properties.CorrelationData, properties.ContentType) == (
        "hall/bar 3/acks",
        b"\x07",
        "application/json",
    )
    given.ResponseTopic = "hall/#"  # no topic to publish to
    assert _answer_to(message, errand)[0] == f"{ROOT}/streams/str_1/replies"


@pytest.mark.parametrize(
    ("topic", "path", "reply", "tag"),
    [
        ("streams/str_1/blocks", "/v1/streams/str_1/blocks", "streams/str_1/replies", None),
        ("streams/str_1/blocks/7f3a/12", "/v1/streams/str_1/blocks", "streams/str_1/replies", "7f3a/12"),
        ("devices/dev_1/blocks/x", "/v1/devices/dev_1/blocks", "devices/dev_1/replies", "x"),
        ("streams/str_1/close/x", "/v1/streams/str_1/close", "streams/str_1/replies", "x"),
        ("streams", "/v1/streams", "replies", None),
        ("streams/begin/me", "/v1/streams", "replies", "me"),
    ],
)
def test_topics(topic: str, path: str, reply: str, tag: str | None) -> None:
    errand = errand_of(f"{ROOT}/{topic}", ROOT)
    assert errand is not None
    assert (errand.path, errand.reply_topic, errand.tag) == (path, f"{ROOT}/{reply}", tag)


@pytest.mark.parametrize(
    "topic", ["streams/../athletes/blocks", "streams/a b/blocks", "streams/str_1", "athletes", "streams/%2e/blocks", ""]
)
def test_other_topics_do_nothing(topic: str) -> None:
    assert errand_of(f"{ROOT}/{topic}", ROOT) is None
    assert errand_of(f"elsewhere/{topic}", ROOT) is None


def test_roots_and_first_bytes() -> None:
    assert checked_root("/club/hall/") == "club/hall"
    assert all(one.startswith("club/hall/") for one in subscriptions("club/hall"))
    for bad in ("", "#", "a/+/b", "$SYS", " x"):
        with pytest.raises(ValueError, match="no topic"):
            checked_root(bad)
    kinds = {b'{"boot"': "application/json", b" [{": "application/senml+json", b"\x82\xa1": "application/senml+cbor",
             b"\xa4": "application/cbor", b"barwright-int16 {": "application/vnd.barwright.int16"}  # fmt: skip
    assert {content_type_of(payload) for payload in kinds} == set(kinds.values())
    assert all(content_type_of(payload) == kind for payload, kind in kinds.items())
