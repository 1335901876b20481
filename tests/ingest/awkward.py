"""Files as loggers, spreadsheets and terminals write them, generated: one short motion in many layouts.

The motion: a sensor rests for half a second, rolls by 60 degrees about its x axis, rests again; 200 Hz.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np

RATE_HZ = 200
COUNT = 300
NEWCOMER = "time_ms,AccX,AccY,AccZ,GyrX,GyrY,GyrZ"
ACCEL = {"[g]": 1.0, "m/s2": 9.80665, "m[g]": 1000.0, "counts": 2048.0}
GYRO = {"deg/s": 1.0, "rad/s": np.pi / 180, "counts": 16.4}
TIME = {"s": 1e-3, "ms": 1.0, "us": 1e3, "ns": 1e6}  # of one millisecond


def truth(accel: str = "[g]", gyro: str = "deg/s", time: str = "ms") -> np.ndarray:
    """(COUNT, 7): time, force, rates, in these units; a little noise on each so that nothing repeats exactly."""
    t = np.arange(COUNT) / RATE_HZ
    share = np.clip((t - 0.5) / 0.5, 0.0, 1.0)
    angle = np.radians(60.0) * (share - np.sin(2 * np.pi * share) / (2 * np.pi))
    rate = 60.0 / 0.5 * (1 - np.cos(2 * np.pi * share)) * (share > 0) * (share < 1)
    noise = np.random.default_rng(40).normal(size=(COUNT, 6))
    force = np.stack([np.zeros(COUNT), np.sin(angle), np.cos(angle)], axis=1) + 0.001 * noise[:, :3]
    rates = np.stack([rate, np.zeros(COUNT), np.zeros(COUNT)], axis=1) + 0.05 * noise[:, 3:]
    return np.column_stack((t * 1000 * TIME[time], force * ACCEL[accel], rates * GYRO[gyro]))


def text(
    values: np.ndarray, header: str | None = NEWCOMER, between: str = ",", end: str = "\n", digits: int = 6
) -> str:
    """A table as text. header: its names with commas, None for no header."""
    rows = [] if header is None else [between.join(header.split(","))]
    rows += [between.join(f"{value:.{digits}f}".rstrip("0").rstrip(".") for value in row) for row in values]
    return end.join(rows) + end


def resting_csv(header: str | None, more: str = "", time_scale: float = 1.0, **units: str) -> bytes:
    """The motion as CSV, with one more column where `more` is its content."""
    values = truth(**units)
    values[:, 0] *= time_scale
    lines = text(values, header).splitlines()
    if more:
        lines = [lines[0], *(f"{line},{more}" for line in lines[1:])]
    return ("\n".join(lines) + "\n").encode()


def with_clock(times: Sequence[str], header: str = NEWCOMER, between: str = ",") -> str:
    """The motion with these texts as its clock."""
    head, *rows = text(truth(), header, between).splitlines()
    return "\n".join([head, *(time + row[row.index(between) :] for time, row in zip(times, rows, strict=True))]) + "\n"


def iso_times(pattern: str, start_s: float = 0.0) -> list[str]:
    """COUNT times, 5 ms apart."""
    times = []
    for i in range(COUNT):
        at = start_s + i / RATE_HZ
        times.append(
            pattern.format(hour=int(at // 3600) % 24, minute=int(at // 60) % 60, second=round(at % 60, 3), at=at)
        )
    return times


def parquet(header: str = NEWCOMER) -> bytes:
    """The motion as Parquet, float32."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    sink = io.BytesIO()
    pq.write_table(pa.table(dict(zip(header.split(","), truth().T.astype(np.float32), strict=True))), sink)
    return sink.getvalue()


def rows(names: str = NEWCOMER) -> list[dict[str, Any]]:
    """The motion as one object per sample."""
    return [dict(zip(names.split(","), map(float, np.round(row, 6)), strict=True)) for row in truth()]


def nested_rows() -> list[dict[str, Any]]:
    """The same with force as an object and rates as a list."""
    return [
        {
            "t_ms": float(row[0]),
            "acc": dict(zip("xyz", map(float, row[1:4]), strict=True)),
            "gyr": list(map(float, row[4:])),
        }
        for row in truth()
    ]


def senml() -> list[dict[str, Any]]:
    """The motion as a SenML pack, in SI units."""
    names = [f"{group}_{axis}" for group in ("accel", "gyro") for axis in "xyz"]
    pack: list[dict[str, Any]] = [{"bn": "urn:dev:mac:0024befffe804ff1:", "bt": 1.7e9}]
    for row in truth("m/s2", "rad/s", "s"):
        pack += [
            {"n": name, "u": "m/s2" if name[0] == "a" else "rad/s", "t": float(row[0]), "v": float(value)}
            for name, value in zip(names, row[1:], strict=True)
        ]
    return pack


def counts() -> bytes:
    """Force and rates as little-endian int16."""
    return np.round(truth("counts", "counts")[:, 1:]).astype("<i2").tobytes()
