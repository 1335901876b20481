"""A sensor on a table for a minute, then held by hand in one attitude after another: what a device check is sent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from barsim.bar import GRAVITY
from barsim.devices import DeviceClass, Unmodelled
from barsim.sensors import draw_constants, kept_samples, quantise, sample_times
from barwright.analysis.motion.samples import ImuSamples

Floats = NDArray[np.float64]
NINE = (
    (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1), (1, 1, 0), (0, 1, -1), (-1, 0, 1),
)  # fmt: skip


def still_log(
    device: DeviceClass, rng: np.random.Generator, *, table_s: float = 60.0,
    ups: tuple[tuple[int, int, int], ...] = NINE,
    pose_s: tuple[float, float] = (2.0, 4.0), sway_m: float = 0.003, lean_deg: float = 0.5, off_deg: float = 8.0,
) -> ImuSamples:  # fmt: skip
    """table_s seconds lying flat, then each of ups (directions of the sensor that point up) in swaying hands.

    Sensor errors are those of `device` (device.constants where they are fixed). sway_m, lean_deg: rms an axis and in
    all.
    """
    goals = [_attitude(rng, (0, 0, 1), 2.0), *(_attitude(rng, up, off_deg) for up in ups)]
    moves, now = [], table_s
    for _ in ups:
        length = float(rng.uniform(0.8, 1.6))
        moves.append((now, length))
        now += length + float(rng.uniform(*pose_s))
    t = sample_times(now, device, rng)
    phases = rng.uniform(0, 2 * np.pi, (12, 6))
    speeds = 2 * np.pi * rng.uniform(0.2, 1.6, 12)
    sizes = rng.normal(0, 1, (12, 6)) / speeds[:, None]
    sizes /= np.sqrt(0.5 * np.sum(sizes**2, axis=0))

    def turned(at: Floats) -> Rotation:
        pose = goals[0]
        for (start, length), here, there in zip(moves, goals[:-1], goals[1:], strict=True):
            step = (there * here.inv()).as_rotvec()
            pose = Rotation.from_rotvec(_smooth((at - start) / length)[:, None] * step) * pose
        lean = sum(s[3:] * np.sin(w * at[:, None] + p[3:]) for s, w, p in zip(sizes, speeds, phases, strict=True))
        return Rotation.from_rotvec(_held(at, table_s)[:, None] * lean * np.radians(lean_deg) / np.sqrt(3)) * pose

    half = 0.0005
    rate = (turned(t - half).inv() * turned(t + half)).as_rotvec() / (2 * half)
    sway = sum(-(w**2) * s[:3] * np.sin(w * t[:, None] + p[:3]) for s, w, p in zip(sizes, speeds, phases, strict=True))
    push = _held(t, table_s)[:, None] * sway * sway_m + np.array([0.0, 0.0, GRAVITY])
    constants = device.constants or draw_constants(device, rng)
    root = np.sqrt(device.rate_hz / 2)
    force = turned(t).inv().apply(push) @ constants["accel_matrix"].T + constants["accel_bias"]
    force += rng.normal(0, 1, force.shape) * device.accel_noise * root
    turn = rate @ constants["gyro_matrix"].T + constants["gyro_bias"]
    turn += rng.normal(0, 1, turn.shape) * device.gyro_noise * root
    kept = kept_samples(len(t), device, Unmodelled.off(), rng)
    return ImuSamples(
        np.round((t[kept] - t[kept[0]]) * 1e6) / 1e6,
        quantise(force, device.accel_range)[kept],
        quantise(turn, device.gyro_range)[kept],
    )


def _attitude(rng: np.random.Generator, up: tuple[int, int, int], off_deg: float) -> Rotation:
    level = Rotation.align_vectors([[0, 0, 1]], [np.asarray(up, dtype=float)])[0]
    off = Rotation.from_rotvec(rng.normal(0, np.radians(off_deg) / np.sqrt(2), 3) * [1, 1, 0])
    return off * Rotation.from_rotvec([0, 0, rng.uniform(-np.pi, np.pi)]) * level


def _smooth(u: Floats) -> Floats:
    u = np.clip(u, 0.0, 1.0)
    return np.asarray(u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3))


def _held(t: Floats, table_s: float) -> Floats:
    """0 on the table, 1 in the hands."""
    return _smooth((t - table_s) / 0.5)
