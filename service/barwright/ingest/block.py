"""One block of samples, as sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from barwright.ingest import stored_form

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

IMU_CHANNELS = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
ENCODER_CHANNELS = ("position", "velocity")
BESIDE_IMU = ("position",)  # a string on the same bar, sampled with the imu


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Samples of one stream that belong together; identity inside the stream is (boot, seq).

    boot: one device start. seq: rises by 1 per block. t_us: (n,) device clock in microseconds, never falling.
    channels: name -> (n,) values in the units the stream declared, not yet converted.
    sent_at: when the sender sent it (its own wall clock), or None. buffered: sent later than it was measured.
    """

    boot: str
    seq: int
    t_us: Ints
    channels: dict[str, Floats]
    sent_at: datetime | None = None
    buffered: bool = False

    def digest(self) -> str:
        """SHA-256 of the content in hexadecimal; equal numbers give equal digests whatever format carried them.

        sent_at and buffered say how it was sent and stay out: a retry of the same block has the same digest.
        """
        names = sorted(self.channels)
        head = json.dumps(["barwright block", 1, self.boot, self.seq, len(self.t_us), names])
        told = hashlib.sha256(head.encode())
        told.update(np.ascontiguousarray(self.t_us, dtype="<i8").data)
        columns = np.array([self.channels[name] for name in names], dtype="<f8")
        columns += 0.0  # makes -0.0 and 0.0 one
        told.update(columns.data)
        return told.hexdigest()

    def pack(self) -> bytes:
        """The stored form of this block; `unpack` gives back exactly the same values."""
        return stored_form.write_fresh(_members_of(self))


def pack_many(blocks: Iterable[Block], level: int = 9) -> bytes:
    """Many blocks as one stored, compressed object."""
    return stored_form.write([_members_of(block) for block in blocks], level)


def unpack_many(stored: bytes) -> list[Block]:
    """The blocks of a stored object, in the order they were packed. Raises ValueError when it is damaged."""
    return [_block_of(members) for members in stored_form.read(stored)]


def unpack(stored: bytes) -> Block:
    """The one block of a stored object. Raises ValueError when it is damaged or holds more than one."""
    blocks = unpack_many(stored)
    if len(blocks) != 1:
        raise ValueError(f"the stored object holds {len(blocks)} blocks where one was expected")
    return blocks[0]


def _members_of(block: Block) -> stored_form.Members:
    sent_at = None if block.sent_at is None else block.sent_at.isoformat()
    return stored_form.Members(block.boot, block.seq, block.t_us, block.channels, sent_at, block.buffered)


def _block_of(members: stored_form.Members) -> Block:
    sent_at = None if members.sent_at is None else datetime.fromisoformat(members.sent_at)
    return Block(members.boot, members.seq, members.t_us, members.channels, sent_at, members.buffered)
