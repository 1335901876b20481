"""Samples in, blocks out: a block is cut by count, by bytes or by age, whichever comes first."""

from __future__ import annotations

import time
import uuid
from array import array
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, SupportsFloat

Samples = Mapping[str, Any]
"""Columns by name: `t_us` (whole microseconds of the device's clock) or `t_s`, and one column per channel."""

CHANNELS = ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z", "position", "velocity")


@dataclass(frozen=True, slots=True)
class Block:
    """One block as it goes on the wire; (boot, seq) is its identity within the stream, so sending twice is safe."""

    boot: str
    seq: int
    t_us: array[int]
    channels: dict[str, array[float]]

    def document(self) -> dict[str, Any]:
        """The members of the request; evenly spaced times shrink to t0_us and dt_us."""
        return {"boot": self.boot, "seq": self.seq, **_times(self.t_us), "channels": self.channels}


@dataclass(frozen=True, slots=True)
class CutBy:
    """When a block is full: samples, bytes before packing, or seconds since its first sample was added."""

    samples: int = 1000
    bytes: int = 1 << 18
    age_s: float = 1.0


@dataclass(slots=True)
class BlockWriter:
    """Collects samples of one device start and hands out full blocks, numbered from 0 in the order of time."""

    cut_by: CutBy = field(default_factory=CutBy)
    boot: str = field(default_factory=lambda: uuid.uuid4().hex)
    clock: Callable[[], float] = time.monotonic
    seq: int = 0
    _t_us: array[int] = field(default_factory=lambda: array("q"))
    _channels: dict[str, array[float]] = field(default_factory=dict)
    _since: float = 0.0

    def __len__(self) -> int:
        """Samples held back, not yet in a block."""
        return len(self._t_us)

    def add(self, samples: Samples) -> list[Block]:
        """Take samples (columns, or single numbers for one sample); returns the blocks that became full."""
        t_us, channels = columns_of(samples)
        if self._channels and set(channels) != set(self._channels):
            raise ValueError(
                f"the channels changed from {sorted(self._channels)} to {sorted(channels)}; use a new stream for that"
            )
        return list(self._take(t_us, channels))

    def rest(self) -> list[Block]:
        """Whatever is held back, as a last block; empty when nothing is."""
        return [self._cut()] if self._t_us else []

    def _take(self, t_us: array[int], channels: dict[str, array[float]]) -> Iterator[Block]:
        most = max(1, min(self.cut_by.samples, self.cut_by.bytes // (8 * (1 + len(channels)))))
        start = 0
        while start < len(t_us):
            if not self._t_us:
                self._since = self.clock()
            stop = min(len(t_us), start + most - len(self._t_us))
            self._t_us.extend(t_us[start:stop])
            for name, column in channels.items():
                self._channels.setdefault(name, array("d")).extend(column[start:stop])
            start = stop
            if len(self._t_us) >= most or self.clock() - self._since >= self.cut_by.age_s:
                yield self._cut()

    def _cut(self) -> Block:
        block = Block(self.boot, self.seq, self._t_us, self._channels)
        self.seq += 1
        self._t_us = array("q")
        self._channels = {name: array("d") for name in self._channels}
        return block


def columns_of(samples: Samples) -> tuple[array[int], dict[str, array[float]]]:
    """Times in microseconds and channels, checked. Raises ValueError naming what is wrong."""
    names = set(samples) - {"t_us", "t_s"}
    if unknown := sorted(names - set(CHANNELS)):
        raise ValueError(f"unknown channel {unknown[0]!r}; expected t_us or t_s, and any of {', '.join(CHANNELS)}")
    if ("t_us" in samples) == ("t_s" in samples) or not names:
        raise ValueError("samples need either t_us or t_s, and at least one channel")
    if "t_us" in samples:
        t_us = array("q", (int(t) for t in _row(samples["t_us"])))
    else:
        t_us = array("q", (round(float(t) * 1e6) for t in _row(samples["t_s"])))
    channels = {name: array("d", _row(samples[name])) for name in sorted(names)}
    for name, column in channels.items():
        if len(column) != len(t_us):
            raise ValueError(
                f"{name} has {len(column)} samples but there are {len(t_us)} times; columns must be equally long"
            )
    return t_us, channels


def _row(column: Any) -> Sequence[Any]:
    if isinstance(column, SupportsFloat) and not hasattr(column, "__len__"):
        return [column]
    return list(column.tolist()) if hasattr(column, "tolist") else list(column)


def _times(t_us: array[int]) -> dict[str, Any]:
    step = t_us[1] - t_us[0] if len(t_us) > 1 else 0
    if step > 0 and all(b - a == step for a, b in pairwise(t_us)):
        return {"t0_us": t_us[0], "dt_us": step}
    return {"t_us": t_us}
