"""A recording cut into blocks and followed as it comes in, without service or database."""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from barwright.analysis.motion.samples import ImuSamples, Recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.ingest.block import Block
from barwright.live.run import Change, Found, HeldBlock, LiveRun
from barwright.storage.devices import DeviceFacts, Mounting
from barwright.storage.streams import NewStream
from barwright.workflows.live_job import LiveJob, run_live_job
from barwright.workflows.parts import utc_now

IMU = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")
SI = {"accel": "m/s2", "gyro": "rad/s", "position": "m", "velocity": "m/s"}


@dataclass(frozen=True, slots=True)
class Told:
    """One change that was told, with the time of the newest sample then, and the CPU its look took."""

    change: Change
    at_s: float


@dataclass(frozen=True, slots=True)
class Followed:
    """Everything told over a recording; looks: analyses, cpu_s: their cost; widest_s: the longest window."""

    told: tuple[Told, ...]
    looks: int
    cpu_s: float
    widest_s: float
    run: LiveRun


def told_of(recording: Recording, lift: str) -> NewStream:
    """What a sender would have told of the stream."""
    imu, setup = isinstance(recording.parts[0], ImuSamples), recording.setup
    mounting = Mounting(
        bar_axis=None if setup.bar_axis is None else tuple(float(a) for a in setup.bar_axis),
        place=setup.place,
        along_m=setup.along_m,
        anchor_offset_m=setup.anchor_offset_m,
        anchor_height_m=setup.anchor_height_m,
    )
    told = {"accel": setup.accel_range_m_s2, "gyro": setup.gyro_range_rad_s}
    ranges = {name: full for name, full in told.items() if full is not None}
    facts = DeviceFacts("bar", "imu" if imu else "encoder", mounting, setup.device_class, ranges)
    return NewStream("ath", "dev", lift, 60.0, utc_now(), dict(SI), setup.nominal_rate_hz, facts)


def blocks_of(recording: Recording, block_s: float = 0.25, boot: str = "b1") -> list[Block]:
    """The first part of a recording as blocks in SI units."""
    part = recording.parts[0]
    t_us = np.rint(np.asarray(part.t_s) * 1e6).astype(np.int64)
    if isinstance(part, ImuSamples):
        values = dict(zip(IMU, np.hstack((part.accel_m_s2, part.gyro_rad_s)).T, strict=True))
    else:
        name = "position" if part.position_m is not None else "velocity"
        values = {name: part.position_m if part.position_m is not None else part.velocity_m_s}
    number = ((t_us - t_us[0]) // round(block_s * 1e6)).astype(int)
    edges = [0, *(np.flatnonzero(np.diff(number)) + 1).tolist(), len(t_us)]
    return [
        Block(boot, seq, t_us[a:b], {name: np.ascontiguousarray(column[a:b]) for name, column in values.items()})
        for seq, (a, b) in enumerate(pairwise(edges))
    ]


def values_of(block: Block) -> np.ndarray:
    """(n, 6) or (n, 1) in SI units."""
    return np.column_stack([block.channels[name] for name in block.channels])


def follow(recording: Recording, lift: str, block_s: float = 0.25) -> Followed:
    """Feeds every block and looks whenever the run asks for it."""
    told = told_of(recording, lift)
    run = LiveRun(LIFTS[lift], told.setup.kind)
    out: list[Told] = []
    looks, cpu_s, widest_s = 0, 0.0, 0.0
    for block in blocks_of(recording, block_s):
        held = HeldBlock(block.seq, int(block.t_us[0]), int(block.t_us[-1]), block.pack())
        run.add(block.boot, held, block.t_us, values_of(block))
        if run.due():
            window = run.look()
            widest_s = max(widest_s, (window.newest.last_us - window.memory.from_us) * 1e-6)
            begun = time.process_time()
            found = run_live_job(LiveJob(window, told))
            cpu_s += time.process_time() - begun
            looks += 1
            assert found is None or isinstance(found, Found), found
            if found is not None:
                out += [
                    Told(change, window.memory.stream_s(window.newest.last_us)) for change in run.fold(window, found)
                ]
    return Followed(tuple(out), looks, cpu_s, widest_s, run)
