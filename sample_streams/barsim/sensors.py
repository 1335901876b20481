"""What an inertial sensor on the bar puts out: exact kinematics first, then the sensor's own errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barsim.bar import BarCurves, bar_state, specific_force
from barsim.curves import Curve, KnotLine, Step, Sway
from barsim.devices import DeviceClass, Mounting, Unmodelled

Floats = NDArray[np.float64]
WORD = 32767  # int16


@dataclass(frozen=True, slots=True)
class ImuOutput:
    """Samples as they arrive and what made them.

    t_s (n,): device clock, first sample 0. accel (n, 3) m/s2 and gyro (n, 3) rad/s, sensor frame. true_t_s (n,): when
    each sample was really taken, on the motion's own clock. constants: the errors drawn.
    """

    t_s: Floats
    accel: Floats
    gyro: Floats
    true_t_s: Floats
    constants: dict[str, Floats]


def clean_samples(
    bar: BarCurves, t: Floats, interval: float, mounting: Mounting, turn: float, *,
    averages: int = 1, extra: Curve | None = None, spin: Curve | None = None, along: float = 0.0,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Error-free specific force and rate (n, 3) in the sensor frame at times t (n,).

    averages > 1: each sample is the mean over `interval` seconds centred on its time, by that many midpoints; 1: a
    point sample. extra: acceleration curve added along z. spin: instead of the bar's own.
    """
    lever_bar = np.array([0.0, mounting.along_m + along, mounting.radius_m])
    offsets = (np.arange(averages) + 0.5) / averages * interval - interval / 2
    fine = (t[:, None] + offsets).ravel() if averages > 1 else t
    order = None
    if averages > 1 and np.any(np.diff(fine) < 0):
        order = np.argsort(fine, kind="stable")
    ordered = fine if order is None else fine[order]
    state = bar_state(bar, ordered, spin)
    push = None
    if extra is not None:
        push = np.zeros((len(ordered), 3))
        push[:, 2] = extra.evaluate(ordered)[2]
    both = np.concatenate([specific_force(state, lever_bar, push), state.rate], axis=1)
    if order is not None:
        unordered = np.empty_like(both)
        unordered[order] = both
        both = unordered
    if averages > 1:
        both = both.reshape(len(t), averages, 6).mean(axis=1)
    turned = mounting.sensor_from_bar(turn).T
    return both[:, :3] @ turned, both[:, 3:] @ turned


def sample_times(duration: float, device: DeviceClass, rng: np.random.Generator) -> Floats:
    """When samples are really taken (n,), s: even steps with the class's jitter."""
    t = np.arange(int(duration * device.rate_hz)) / device.rate_hz
    if device.jitter_s:
        shift = np.clip(rng.normal(0, device.jitter_s, len(t)), -0.45 / device.rate_hz, 0.45 / device.rate_hz)
        t = t + shift
    return t


def imu_output(
    bar: BarCurves, duration: float, device: DeviceClass, mounting: Mounting, unmodelled: Unmodelled,
    rng: np.random.Generator, jolts: list[tuple[float, float]],
) -> ImuOutput:  # fmt: skip
    """Everything: motion, mounting, sensor errors, quantisation, clipping, losses."""
    u = unmodelled
    t = sample_times(duration, device, rng)
    n, interval = len(t), 1 / device.rate_hz
    turn = float(rng.uniform(-math.pi, math.pi)) if mounting.turn is None else mounting.turn
    averages = max(4, math.ceil(1600 / device.rate_hz)) if u.anti_alias else 1
    if device.rate_hz >= 1000 and u.anti_alias:
        averages = 2
    extra = whip(u, jolts, rng) if u.whip_m else None
    spin = sleeve_spin(bar, duration, rng) if u.free_sleeve or mounting.place == "sleeve" else None
    accel, gyro = clean_samples(
        bar, t, interval, mounting, turn, averages=averages, extra=extra, spin=spin, along=u.outboard_m
    )
    if u.force_delay_s:
        accel, _ = clean_samples(
            bar, t - u.force_delay_s, interval, mounting, turn,
            averages=averages, extra=extra, spin=spin, along=u.outboard_m,
        )  # fmt: skip
    constants = draw_constants(device, rng)
    felt = accel
    accel = accel @ constants["accel_matrix"].T + constants["accel_bias"]
    gyro = gyro @ constants["gyro_matrix"].T + constants["gyro_bias"]
    if u.g_sensitivity:
        gyro = gyro + felt * (u.g_sensitivity * rng.choice([-1.0, 1.0], 3))
    accel = accel + _drift(n, interval, u.accel_walk, u.accel_ramp, rng)
    gyro = gyro + _drift(n, interval, u.gyro_walk, u.gyro_ramp, rng)
    root = math.sqrt(device.rate_hz / 2)
    accel = accel + rng.normal(0, 1, (n, 3)) * device.accel_noise * root
    gyro = gyro + rng.normal(0, 1, (n, 3)) * device.gyro_noise * root
    accel = quantise(accel, u.accel_range or device.accel_range)
    gyro = quantise(gyro, device.gyro_range)
    kept = kept_samples(n, device, u, rng)
    told = t
    if u.stamp_jitter_s:
        told = np.sort(t + np.clip(rng.normal(0, u.stamp_jitter_s, n), -0.45 * interval, 0.45 * interval))
    clock = np.round((told[kept] - told[kept[0]]) * (1 + u.clock_rate) * 1e6) / 1e6
    return ImuOutput(clock, accel[kept], gyro[kept], t[kept], constants)


def draw_constants(device: DeviceClass, rng: np.random.Generator) -> dict[str, Floats]:
    """Biases (3,) and error matrices (3, 3) of one recording, Gaussian with the class's standard deviations; the
    device's own where they are fixed.
    """
    if device.constants is not None:
        return device.constants

    def matrix(scale: float) -> Floats:
        m = rng.normal(0, 1, (3, 3)) * device.cross
        m[np.diag_indices(3)] = 1 + rng.normal(0, 1, 3) * scale
        return m

    return {
        "accel_bias": rng.normal(0, 1, 3) * device.accel_bias,
        "gyro_bias": rng.normal(0, 1, 3) * device.gyro_bias,
        "accel_matrix": matrix(device.accel_scale),
        "gyro_matrix": matrix(device.gyro_scale),
    }


def quantise(values: Floats, full_scale: float) -> Floats:
    """Round to the sensor's 16-bit word and clip at full scale."""
    if math.isinf(full_scale):
        return values
    step = full_scale / WORD
    rounded: Floats = np.clip(np.round(values / step), -WORD - 1, WORD) * step
    return rounded


def kept_samples(n: int, device: DeviceClass, u: Unmodelled, rng: np.random.Generator) -> NDArray[np.int64]:
    """Which samples arrive, in order, repeats included. The first always does."""
    keep = rng.random(n) >= max(device.lost, u.lost)
    for _ in range(u.bursts):
        begin = int(rng.integers(1, max(n - 2, 2)))
        keep[begin : begin + max(1, round(u.burst_s * device.rate_hz))] = False
    keep[0] = True
    indices = np.flatnonzero(keep)
    if u.repeated:
        indices = np.repeat(indices, 1 + (rng.random(len(indices)) < u.repeated))
    return indices


def _drift(n: int, dt: float, walk: float, ramp: float, rng: np.random.Generator) -> Floats:
    drift = np.zeros((n, 3))
    if walk:
        drift += np.cumsum(rng.normal(0, 1, (n, 3)), axis=0) * (walk * math.sqrt(dt))
    if ramp:
        way = rng.normal(0, 1, 3)
        drift += np.outer(np.arange(n) * dt, ramp * way / np.linalg.norm(way))
    return drift


def whip(u: Unmodelled, jolts: list[tuple[float, float]], rng: np.random.Generator) -> Curve:
    """The sleeve swings up and down after each jolt: `whip_m` at most, dying away within about half a second."""
    omega = 2 * math.pi * u.whip_hz
    sways = []
    for t, size in jolts:
        amount = u.whip_m * size * float(rng.uniform(0.7, 1.0))
        phase = float(rng.uniform(0, 2 * math.pi))
        sways.append(Sway(t - 0.06, t + 0.5, 0.08, ((amount, omega, phase),), 0.45))
    return Curve(sways=sways)


def sleeve_spin(bar: BarCurves, duration: float, rng: np.random.Generator) -> Curve:
    """Spin of a sleeve: a little is dragged along with the shaft, the rest is its own slow turning."""
    drag = float(rng.uniform(0.05, 0.3))
    curve = Curve(
        KnotLine(bar.spin.line.position),
        [Step(s.start, s.duration * 1.5, drag * s.size) for s in bar.spin.steps],
    )
    t = 0.0
    while t < duration:
        length = float(rng.uniform(0.6, 1.5))
        curve.steps.append(Step(t, length, float(rng.normal(0, 0.5))))
        t += length
    return curve
