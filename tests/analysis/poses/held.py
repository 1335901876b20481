"""A sensor held by hand in one attitude after another, with every constant known."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from barwright.analysis.motion.samples import ImuSamples

Floats = NDArray[np.float64]
G = 9.80665
MG = G / 1000
AXES = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]
EDGES = [(1, 1, 0), (0, 1, -1), (-1, 0, 1)]
NINE = np.array(AXES + EDGES, dtype=float)  # a sensor's six faces up, then three of its edges


@dataclass(frozen=True)
class Sensor:
    """measured = inverse(matrix) true + bias, and white noise of these one-sided densities."""

    accel_bias: Floats
    accel_matrix: Floats  # upper triangular: the axes the calibration can know
    gyro_bias: Floats
    gyro_matrix: Floats
    accel_noise: float
    gyro_noise: float


GOOD = {"ug": 80, "dps": 0.004, "scale": 0.003, "gyro_scale": 0.005, "cross": 0.003, "bias_dps": 0.5}
HOBBY = {"ug": 300, "dps": 0.010, "scale": 0.010, "gyro_scale": 0.015, "cross": 0.010, "bias_dps": 3.0}


def drawn(rng: np.random.Generator, kind: dict[str, float], bias_mg: tuple[float, float] | None = None) -> Sensor:
    """One sensor of a class; bias_mg: each axis's bias lies between these, else Gaussian 20 or 50 mg."""
    if bias_mg is None:
        bias = rng.normal(0, 20 if kind is GOOD else 50, 3) * MG
    else:
        bias = rng.uniform(*bias_mg, 3) * rng.choice([-1, 1], 3) * MG
    square = np.eye(3) + np.diag(rng.normal(0, kind["scale"], 3))
    square[np.triu_indices(3, 1)] = rng.normal(0, np.sqrt(2) * kind["cross"], 3)
    turning = np.eye(3) + rng.normal(0, np.sqrt(2) * kind["cross"], (3, 3))
    turning[np.diag_indices(3)] = 1 + rng.normal(0, kind["gyro_scale"], 3)
    return Sensor(
        bias,
        square,
        np.radians(rng.normal(0, kind["bias_dps"], 3)),
        turning,
        kind["ug"] * 1e-6 * G,
        np.radians(kind["dps"]),
    )


def held(
    rng: np.random.Generator,
    sensor: Sensor,
    ups: Floats = NINE,
    rate_hz: float = 200.0,
    sway_m: float = 0.003,
    lean_deg: float = 0.5,
    off_deg: float = 8.0,
    gravity: float = G,
    seconds: tuple[float, float] = (2.0, 4.0),
    tremor_m: float = 0.00002,
) -> ImuSamples:
    """Each of ups (k, 3) points up for 2-4 s in swaying hands, as well as hands find it, with turns of about a second.

    sway_m, lean_deg: rms of position per axis and of angle in all.
    """
    fine = 2
    dt = 1 / (rate_hz * fine)
    times, turns, now = [0.0], [], 0.5
    goals = [_attitude(rng, up, off_deg) for up in ups]
    turns.append(goals[0])
    for here, there in zip(goals, goals[1:] + goals[-1:], strict=True):
        now += rng.uniform(*seconds)
        times.append(now)
        turns.append(here)
        now += rng.uniform(0.8, 1.6)
        times.append(now)
        turns.append(there)
    t = np.arange(0, times[-2], dt)
    way = smooth(np.clip((t[:, None] - np.array(times[1:-1:2])) / np.diff(times[1:])[::2], 0, 1))
    steps = [(b * a.inv()).as_rotvec() for a, b in pairwise(goals)]
    pose = goals[0]
    for k, step in enumerate(steps):
        pose = Rotation.from_rotvec(way[:, k, None] * step) * pose
    lean = wander(rng, t)[0] * np.radians(lean_deg) / np.sqrt(3)
    pose = Rotation.from_rotvec(lean) * pose  # sensor to world
    rate = (pose[:-1].inv() * pose[1:]).as_rotvec() / dt  # between the fine samples
    accel = wander(rng, t)[1] * sway_m
    tremor = rng.uniform(8, 12, 3) * 2 * np.pi
    accel += tremor_m * tremor**2 * np.sin(tremor * t[:, None] + rng.uniform(0, 6, 3))
    carry = np.diff(way, 2, axis=0) / dt**2
    accel[1:-1] += carry @ rng.normal(0, 0.15, (carry.shape[1], 3))
    force = pose.inv().apply(accel + np.array([0, 0, gravity]))
    at = np.arange(fine, len(t) - 1, fine)
    true_force, true_rate = force[at], 0.5 * (rate[at] + rate[at - 1])
    root = np.sqrt(rate_hz / 2)
    measured = true_force @ np.linalg.inv(sensor.accel_matrix).T + sensor.accel_bias
    turning = true_rate @ np.linalg.inv(sensor.gyro_matrix).T + sensor.gyro_bias
    n = (len(at), 3)
    return ImuSamples(
        t[at] - t[at[0]],
        measured + rng.normal(0, 1, n) * sensor.accel_noise * root,
        turning + rng.normal(0, 1, n) * sensor.gyro_noise * root,
    )


def _attitude(rng: np.random.Generator, up: Floats, off_deg: float) -> Rotation:
    """Sensor to world with `up` (3,) pointing up, off by a few degrees, at any heading."""
    level = Rotation.align_vectors([[0, 0, 1]], [np.asarray(up, dtype=float)])[0]
    off = Rotation.from_rotvec(rng.normal(0, np.radians(off_deg) / np.sqrt(2), 3) * [1, 1, 0])
    return off * Rotation.from_rotvec([0, 0, rng.uniform(-np.pi, np.pi)]) * level


def smooth(u: Floats) -> Floats:
    """From 0 to 1 with three derivatives nought at both ends."""
    return u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)


def wander(rng: np.random.Generator, t: Floats) -> tuple[Floats, Floats]:
    """A swaying of unit rms and its second derivative, (n, 3): twelve sines of 0.2-1.6 Hz, the slower the larger."""
    x, bend = np.zeros((len(t), 3)), np.zeros((len(t), 3))
    for _ in range(12):
        omega = 2 * np.pi * rng.uniform(0.2, 1.6)
        size, phase = rng.normal(0, 1, 3) / omega, rng.uniform(0, 2 * np.pi, 3)
        x += size * np.sin(omega * t[:, None] + phase)
        bend -= omega**2 * size * np.sin(omega * t[:, None] + phase)
    rms = np.sqrt(np.mean(x**2, axis=0))
    return x / rms, bend / rms
