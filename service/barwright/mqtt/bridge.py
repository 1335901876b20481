"""The bridge: from a broker to the service and back, over as many connections as it takes.

A block is acknowledged on its reply topic once the service has it stored, and only then. Everything else may get lost
on the way, in either direction: a sender keeps a block until that reply and sends it again; (boot, seq) keeps it
single.
"""

from __future__ import annotations

import asyncio
import logging
import random
import ssl
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import aiomqtt
import httpx
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from barwright.mqtt.replies import may_come_again, reply_text
from barwright.mqtt.topics import JSON, ROOT, Errand, content_type_of, encoding_of, errand_of, subscriptions

log = logging.getLogger("barwright.bridge")

QOS = 1
LANES = 32  # messages on their way to the service; those of one stream keep their order
WAITING = 64  # messages held per lane; more are dropped unanswered, and their senders send them again
REPLIES = 128  # on their way to the broker
PAUSES_S = (0.1, 0.3, 1.0)  # between tries at a service that is not there
LONGEST_PAUSE_S = 30.0  # between tries at a broker


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """version: 5, 3 (for 3.1.1), or None to find out."""

    host: str
    port: int
    tls: bool = False
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    version: int | None = None


@dataclass(slots=True)
class Counts:
    """What the bridge has done since it began."""

    connected: int = 0
    messages: int = 0
    stored: int = 0
    known: int = 0
    refused: int = 0
    dropped: int = 0


class Bridge:
    """One broker, one service, one key. `service`: its address. `transport`: another way to it, for tests."""

    def __init__(
        self,
        broker: BrokerAddress,
        service: str,
        key: str,
        root: str = ROOT,
        transport: httpx.AsyncBaseTransport | None = None,
    ) -> None:
        self._broker = broker
        self._root = root
        self._http = httpx.AsyncClient(
            base_url=service,
            headers={"Authorization": f"Bearer {key}", "Accept": JSON},
            timeout=20.0,
            transport=transport,
        )
        self._version = broker.version
        self._tell_version = 5
        self.counts = Counts()
        self.ready = asyncio.Event()

    async def run(self, wait: Callable[[float], Any] = asyncio.sleep) -> None:
        """Until it is cancelled; connects again by itself, with growing pauses."""
        pause_s = 0.5
        try:
            while True:
                before = self.counts.connected
                try:
                    await self._one_connection()
                except aiomqtt.MqttError as error:
                    log.warning("the broker at %s:%s: %s", self._broker.host, self._broker.port, error)
                    if self._version is None and self.counts.connected == 0:
                        self._tell_version = 8 - self._tell_version  # 5 and 3 in turns until one is answered
                finally:
                    self.ready.clear()
                pause_s = 0.5 if self.counts.connected > before else min(pause_s * 1.5, LONGEST_PAUSE_S)
                await wait(pause_s * random.uniform(0.5, 1.0))  # noqa: S311 - spreads tries, keeps no secret
        finally:
            await self._http.aclose()

    async def _one_connection(self) -> None:
        version = self._version or self._tell_version
        broker = self._broker
        client = aiomqtt.Client(
            broker.host,
            broker.port,
            username=broker.username,
            password=broker.password,
            protocol=aiomqtt.ProtocolVersion.V5 if version == 5 else aiomqtt.ProtocolVersion.V311,
            tls_context=ssl.create_default_context() if broker.tls else None,
            max_queued_incoming_messages=LANES * WAITING,
            keepalive=20,
            timeout=10,
        )
        client.pending_calls_threshold = 2 * REPLIES  # above it, it warns
        async with client:
            for topic in subscriptions(self._root):
                await client.subscribe(topic, qos=QOS)
            self._version = version
            self.counts.connected += 1
            self.ready.set()
            log.info("bridging %s:%s, topics under %s, MQTT %s", broker.host, broker.port, self._root, version)
            lanes: list[asyncio.Queue[aiomqtt.Message]] = [asyncio.Queue(WAITING) for _ in range(LANES)]
            turns = asyncio.Semaphore(REPLIES)
            workers = [asyncio.create_task(self._work(client, lane, turns)) for lane in lanes]
            try:
                async for message in client.messages:
                    self._sort(message, lanes)
            finally:
                for worker in workers:
                    worker.cancel()
                await asyncio.gather(*workers, return_exceptions=True)

    def _sort(self, message: aiomqtt.Message, lanes: list[asyncio.Queue[aiomqtt.Message]]) -> None:
        self.counts.messages += 1
        errand = errand_of(message.topic.value, self._root)
        if errand is None:
            return
        try:
            lanes[zlib.crc32(errand.path.encode()) % LANES].put_nowait(message)
        except asyncio.QueueFull:
            self.counts.dropped += 1  # never acknowledged, so it comes again

    async def _work(
        self, client: aiomqtt.Client, lane: asyncio.Queue[aiomqtt.Message], turns: asyncio.Semaphore
    ) -> None:
        replies: set[asyncio.Task[None]] = set()
        while True:
            message = await lane.get()
            errand = errand_of(message.topic.value, self._root)
            if errand is None:
                continue
            status, body = await self._ask(errand, message)
            self._count(status, body)
            await turns.acquire()
            text = reply_text(status, body, errand.tag)
            task = asyncio.create_task(self._reply(client, *_answer_to(message, errand), text, turns))
            replies.add(task)
            task.add_done_callback(replies.discard)

    async def _reply(
        self, client: aiomqtt.Client, topic: str, properties: Properties | None, text: str, turns: asyncio.Semaphore
    ) -> None:
        """The next block need not wait until the broker has taken this answer."""
        try:
            await client.publish(topic, text, qos=QOS, properties=properties)
        except (aiomqtt.MqttError, ValueError) as error:  # ValueError: a response topic that is none
            log.debug("a reply to %s could not be sent: %s", topic, error)  # its block comes again
        finally:
            turns.release()

    async def _ask(self, errand: Errand, message: aiomqtt.Message) -> tuple[int | None, bytes]:
        """(status, body) of the service; (None, b"") when it could not be reached in all tries."""
        payload = message.payload if isinstance(message.payload, bytes) else bytes(message.payload)
        headers = _headers(errand, payload, message.properties)
        status, body = None, b""
        for pause_s in (*PAUSES_S, None):
            try:
                answer = await self._http.post(errand.path, content=payload, headers=headers)
                status, body = answer.status_code, answer.content
            except httpx.TransportError as error:
                status, body = None, b""
                log.warning("the service was not reached: %s", error)
            if pause_s is None or not may_come_again(status):
                break
            await asyncio.sleep(pause_s)
        return status, body

    def _count(self, status: int | None, body: bytes) -> None:
        if status is None or not 200 <= status < 300:
            self.counts.refused += 1
        elif b'"stored":false' in body.replace(b" ", b""):
            self.counts.known += 1
        else:
            self.counts.stored += 1


def _headers(errand: Errand, payload: bytes, properties: Properties | None) -> dict[str, str]:
    encoding = encoding_of(payload)
    told = getattr(properties, "ContentType", None)
    headers = {"Content-Type": told or (content_type_of(payload) if errand.holds_block else JSON)}
    if encoding is not None:
        if told is None:
            headers["Content-Type"] = (
                "application/cbor"  # what is packed cannot be looked at; CBOR is what senders pack
            )
        headers["Content-Encoding"] = encoding
    return headers


def _answer_to(message: aiomqtt.Message, errand: Errand) -> tuple[str, Properties | None]:
    """Where the answer goes; with MQTT 5 to the response topic, with the correlation data of the message."""
    given = message.properties
    if given is None:
        return errand.reply_topic, None
    properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
    properties.ContentType = JSON
    correlation = getattr(given, "CorrelationData", None)
    if correlation is not None:
        properties.CorrelationData = correlation
    topic = getattr(given, "ResponseTopic", None)
    usable = isinstance(topic, str) and topic and not set(topic) & set("#+\0")
    return (topic if usable else errand.reply_topic), properties  # type: ignore[return-value]
