"""Known motions as an ideal or a wrong sensor would record them, from the laws of mechanics."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from barwright.analysis.motion.samples import ImuSamples

Floats = NDArray[np.float64]
G = 9.80665


def recorded(
    rng: np.random.Generator, rate_hz: float, force: Floats, rate: Floats, bias: Floats | None = None,
    gyro_scale: float = 1.0, clock: float = 1.0,
) -> ImuSamples:  # fmt: skip
    """Noise of a good sensor on force (n, 3) and rate (n, 3). clock: of the device over the true one."""
    root = np.sqrt(rate_hz / 2)
    force = force + rng.normal(0, 80e-6 * G * root, force.shape) + (0 if bias is None else bias)
    rate = rate * gyro_scale + rng.normal(0, np.radians(0.004) * root, rate.shape)
    return ImuSamples(clock * np.arange(len(force)) / rate_hz, force, rate)


def dropped(
    rng: np.random.Generator, height: float, rate_hz: float = 400.0, opens_s: float = 0.01, **more
) -> ImuSamples:
    """Held, let go over opens_s seconds, falling by `height` in all, landing on something soft."""
    start = 1.0 + rng.uniform(0, 0.01)
    first, speed = G * opens_s**2 / 6, G * opens_s / 2
    fall = (-speed + np.sqrt(speed**2 + 2 * G * (height - first))) / G
    stop = start + opens_s + fall
    t = np.arange(0, stop + 1.5, 1 / rate_hz)
    held = np.interp(t, [start, start + opens_s], [G, 0.0])
    lands = G + 15 * G * np.exp(-(((t - stop - 0.02) / 0.01) ** 2))
    force = np.zeros((len(t), 3))
    force[:, 2] = np.where(t < stop, held, np.where(t < stop + 0.005, lands * (t - stop) / 0.005, lands))
    return recorded(rng, rate_hz, force, np.zeros((len(t), 3)), **more)


def swinging(
    rng: np.random.Generator, length: float, swing_deg: float, seconds: float = 15.0, rate_hz: float = 200.0, **more
) -> ImuSamples:
    """A pendulum of `length` from pivot to sensor, let go at swing_deg, slowly dying away."""
    t = np.arange(0, seconds, 1 / rate_hz)

    def law(_t: float, y: Floats) -> list[float]:
        return [y[1], -G / length * np.sin(y[0]) - 0.01 * y[1]]

    y = solve_ivp(law, (0, seconds), [np.radians(swing_deg), 0.0], t_eval=t, rtol=1e-9, atol=1e-10).y
    change = -G / length * np.sin(y[0]) - 0.01 * y[1]
    zero = np.zeros(len(t))
    force = np.stack([length * change + G * np.sin(y[0]), zero, G * np.cos(y[0]) + length * y[1] ** 2], axis=1)
    return recorded(rng, rate_hz, force, np.stack([zero, -y[1], zero], axis=1), **more)


def spun(
    rng: np.random.Generator, turns: float, radius: float, level: bool = True, rate_hz: float = 200.0, **more
) -> ImuSamples:
    """A wheel turned by `turns`, smoothly, still before and after. level: its axis is upright, so it turns level."""
    long = 0.9 * turns + 2.0
    t = np.arange(0, long + 4.0, 1 / rate_hz)
    u = np.clip((t - 2.0) / long, 0, 1)
    angle = 2 * np.pi * turns * (u**3 * (10 - 15 * u + 6 * u**2))
    omega = np.gradient(angle, 1 / rate_hz)
    change = np.gradient(omega, 1 / rate_hz)
    zero = np.zeros(len(t))
    if level:
        force = np.stack([-(omega**2) * radius, change * radius, zero + G], axis=1)
    else:
        force = np.stack([-(omega**2) * radius + G * np.sin(angle), change * radius + G * np.cos(angle), zero], axis=1)
    return recorded(rng, rate_hz, force, np.stack([zero, zero, omega], axis=1), **more)


def lifted(rng: np.random.Generator, height: float, rate_hz: float = 200.0, **more) -> ImuSamples:
    """Lying, lifted by `height` in a second and a half, lying again."""
    t = np.arange(0, 6.0, 1 / rate_hz)
    u = np.clip((t - 2.2) / 1.5, 0, 1)
    z = height * u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)
    force = np.zeros((len(t), 3))
    force[:, 2] = G + np.gradient(np.gradient(z, 1 / rate_hz), 1 / rate_hz)
    return recorded(rng, rate_hz, force, np.zeros((len(t), 3)), **more)
