"""Devices that send blocks over MQTT as docs/mqtt.md says: each block is kept until its reply, and sent again."""

from __future__ import annotations

import asyncio
import json
import time
from dataclasses import dataclass, field
from typing import Any

import aiomqtt

AGAIN_S, LONGEST_S = 3.0, 12.0  # without a reply for so long, a block is sent again; then after twice as long each time
SAMPLES, RATE_HZ = 50, 200


@dataclass
class Device:
    """One stream's sender. waiting: (boot, seq) tags to payload, when it was sent last, and how often."""

    stream_id: str
    boot: str
    produced: int = 0
    sent: int = 0
    acknowledged: dict[int, int] = field(default_factory=dict)  # seq -> how often
    refused: list[dict[str, Any]] = field(default_factory=list)
    waiting: dict[str, tuple[bytes, float, int]] = field(default_factory=dict)
    connected: int = 0
    made_at: dict[int, float] = field(default_factory=dict)
    took_s: list[float] = field(default_factory=list)  # from making a block to its first acknowledgement

    async def run(self, port: int, blocks: int, every_s: float, until: float) -> None:
        """Produces `blocks` blocks, then stays until each is acknowledged, or until a monotonic time."""
        producer = asyncio.create_task(self._produce(blocks, every_s))
        try:
            while (not producer.done() or self.waiting) and time.monotonic() < until:
                try:
                    await self._one_connection(port, producer, until)
                except (aiomqtt.MqttError, OSError):
                    await asyncio.sleep(0.3)
        finally:
            producer.cancel()

    async def _produce(self, blocks: int, every_s: float) -> None:
        began = time.monotonic()
        for seq in range(blocks):
            await asyncio.sleep(max(0.0, began + (seq + 1) * every_s - time.monotonic()))
            self.made_at[seq] = time.monotonic()
            self.waiting[f"{self.boot}/{seq}"] = (block(self.boot, seq), -1e9, 0)
            self.produced += 1

    async def _one_connection(self, port: int, producer: asyncio.Task[None], until: float) -> None:
        async with aiomqtt.Client("127.0.0.1", port, timeout=2, keepalive=10) as client:
            self.connected += 1
            self.waiting = {tag: (payload, -1e9, 0) for tag, (payload, _, _) in self.waiting.items()}
            await client.subscribe(f"barwright/v1/streams/{self.stream_id}/replies", qos=1)
            listening = asyncio.create_task(self._listen(client))
            try:
                while (not producer.done() or self.waiting) and time.monotonic() < until:
                    now = time.monotonic()
                    for tag, (payload, at, times) in list(self.waiting.items()):
                        if now - at > min(AGAIN_S * 2 ** max(0, times - 1), LONGEST_S):
                            await client.publish(f"barwright/v1/streams/{self.stream_id}/blocks/{tag}", payload, qos=1)
                            self.sent += 1
                            if tag in self.waiting:
                                self.waiting[tag] = (payload, time.monotonic(), times + 1)
                    await asyncio.sleep(0.05)
                    if listening.done():
                        listening.result()
            finally:
                listening.cancel()
                await asyncio.gather(listening, return_exceptions=True)

    async def _listen(self, client: aiomqtt.Client) -> None:
        async for message in client.messages:
            reply = json.loads(bytes(message.payload))
            if "stored" in reply:
                seq = int(reply["tag"].rpartition("/")[2])
                if seq not in self.acknowledged:
                    self.took_s.append(time.monotonic() - self.made_at[seq])
                self.acknowledged[seq] = self.acknowledged.get(seq, 0) + 1
                self.waiting.pop(reply["tag"], None)
            elif not reply["again"]:
                self.refused.append(reply)
                self.waiting.pop(reply["tag"], None)


def block(boot: str, seq: int) -> bytes:
    """50 samples at 200 Hz of an encoder that hangs still; each value says which block and sample it is."""
    values = [round(0.5 + seq / 1e5 + i / 1e8, 8) for i in range(SAMPLES)]
    step = 1_000_000 // RATE_HZ
    members = {"boot": boot, "seq": seq, "t0_us": seq * SAMPLES * step, "dt_us": step, "channels": {"position": values}}
    return json.dumps(members).encode()
