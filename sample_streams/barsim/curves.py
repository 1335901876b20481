"""Scalar functions of time with exact value, first and second derivative: the stuff every bar motion is made of.

A curve is a sum of three kinds of part, each three times continuously differentiable:
velocity knots joined by quintics (`KnotLine`), smooth steps (`Step`) and windowed sines (`Sway`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def quintic_rise(duration: float, v: tuple[float, float], a: tuple[float, float], j: tuple[float, float]) -> float:
    """Displacement of one quintic velocity piece with end velocities v, accelerations a and jerks j (SI)."""
    return duration * (v[0] + v[1]) / 2 + duration**2 * (a[0] - a[1]) / 10 + duration**3 * (j[0] + j[1]) / 120


class KnotLine:
    """Velocity given at knots (time, velocity, acceleration, jerk), quintic in between, position by exact integration.

    Rest before the first knot and straight-line motion after the last one.
    """

    def __init__(self, position: float = 0.0, t: float = 0.0) -> None:
        self.rows: list[tuple[float, float, float, float, float]] = [(t, position, 0.0, 0.0, 0.0)]

    @property
    def t(self) -> float:
        """Time of the last knot, s."""
        return self.rows[-1][0]

    @property
    def position(self) -> float:
        """Position at the last knot."""
        return self.rows[-1][1]

    @property
    def velocity(self) -> float:
        """Velocity at the last knot."""
        return self.rows[-1][2]

    def add(self, duration: float, v: float = 0.0, a: float = 0.0, j: float = 0.0) -> None:
        """Append a knot `duration` seconds after the last one."""
        if duration <= 0:
            raise ValueError(f"a piece must last longer than nothing, not {duration:.6f} s")
        t0, p0, v0, a0, j0 = self.rows[-1]
        self.rows.append((t0 + duration, p0 + quintic_rise(duration, (v0, v), (a0, a), (j0, j)), v, a, j))

    def keep_until(self, t: float) -> None:
        """Carry on at the present velocity until t (no piece when already there)."""
        if t > self.t + 1e-12:
            self.add(t - self.t, self.velocity)

    def snap(self, position: float) -> None:
        """Wipe out rounding: the last knot is exactly at `position` (it must be within a micrometre already)."""
        t, p, v, a, j = self.rows[-1]
        if abs(p - position) > 1e-6:
            raise ValueError(f"the line ends at {p:.6f}, not at {position:.6f}")
        self.rows[-1] = (t, position, v, a, j)

    def coefficients(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Knot times (m,), piece lengths (m,), positions (m,) and quintic coefficients (6, m) in s = (t - t_k) / T."""
        rows = np.array(self.rows)
        t0, p0, v0, a0, j0 = rows.T
        length = np.append(np.diff(t0), 1.0)
        v1, a1, j1 = (np.append(column[1:], column[-1]) for column in (v0, a0, j0))
        a0, a1, j0, j1 = a0 * length, a1 * length, j0 * length**2, j1 * length**2
        dv = v1 - v0
        c = np.array(
            [
                v0,
                a0,
                j0 / 2,
                10 * dv - 6 * a0 - 4 * a1 - 1.5 * j0 + 0.5 * j1,
                -15 * dv + 8 * a0 + 7 * a1 + 1.5 * j0 - j1,
                6 * dv - 3 * (a0 + a1) - 0.5 * (j0 - j1),
            ]
        )
        c[1:, -1] = 0.0  # straight on after the last knot
        return t0, length, p0, c

    def evaluate(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Position, velocity, acceleration at t (n,), rising."""
        t0, length, p0, c = self.coefficients()
        piece = np.maximum(np.searchsorted(t0, t, side="right") - 1, 0)
        s = (t - t0[piece]) / length[piece]
        k = [row[piece] for row in c]
        big = length[piece]
        velocity = k[0] + s * (k[1] + s * (k[2] + s * (k[3] + s * (k[4] + s * k[5]))))
        rise = s * (k[0] + s * (k[1] / 2 + s * (k[2] / 3 + s * (k[3] / 4 + s * (k[4] / 5 + s * k[5] / 6)))))
        slope = k[1] + s * (2 * k[2] + s * (3 * k[3] + s * (4 * k[4] + s * 5 * k[5])))
        early = t < t0[0]
        if early.any():
            rise, velocity, slope = (np.where(early, 0.0, part) for part in (rise, velocity, slope))
        return p0[piece] + big * rise, velocity, slope / big


@dataclass(frozen=True, slots=True)
class Step:
    """A smooth septic step of `size`, `duration` seconds long, with no speed, force or jerk at its ends."""

    start: float
    duration: float
    size: float


def unit_step(s: Floats) -> tuple[Floats, Floats, Floats]:
    """Septic step on 0..1: value, first and second derivative in s."""
    q = 1 - s
    return s**4 * (35 - 84 * s + 70 * s**2 - 20 * s**3), 140 * (s * q) ** 3, 420 * (s * q) ** 2 * (q - s)


@dataclass(frozen=True, slots=True)
class Sway:
    """Sum of sines, faded in over `fade` seconds from `start` and out again before `stop`.

    waves: rows of (amplitude, angular frequency in rad/s, phase in rad).
    """

    start: float
    stop: float
    fade: float
    waves: tuple[tuple[float, float, float], ...]
    fade_out: float | None = None


@dataclass
class Curve:
    """One scalar function of time, the sum of its parts."""

    line: KnotLine = field(default_factory=KnotLine)
    steps: list[Step] = field(default_factory=list)
    sways: list[Sway] = field(default_factory=list)

    def evaluate(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Value, first and second derivative at rising times t (n,)."""
        p, v, a = self.line.evaluate(t)
        for step in self.steps:
            _add_step(step, t, p, v, a)
        for sway in self.sways:
            _add_sway(sway, t, p, v, a)
        return p, v, a

    def end_value(self) -> float:
        """Value after everything (sways gone)."""
        return self.line.position + sum(step.size for step in self.steps)


def _add_step(step: Step, t: Floats, p: Floats, v: Floats, a: Floats) -> None:
    i, k = np.searchsorted(t, [step.start, step.start + step.duration])
    value, slope, bend = unit_step((t[i:k] - step.start) / step.duration)
    p[i:k] += step.size * value
    p[k:] += step.size
    v[i:k] += step.size / step.duration * slope
    a[i:k] += step.size / step.duration**2 * bend


def _add_sway(sway: Sway, t: Floats, p: Floats, v: Floats, a: Floats) -> None:
    fade_out = sway.fade if sway.fade_out is None else sway.fade_out
    if sway.stop - sway.start < sway.fade + fade_out:
        raise ValueError("a sway must last longer than its fading in and out")
    i, k = np.searchsorted(t, [sway.start, sway.stop])
    if i == k:
        return
    here = t[i:k]
    w, dw, ddw = np.ones(k - i), np.zeros(k - i), np.zeros(k - i)
    up = np.searchsorted(here, sway.start + sway.fade)
    w[:up], dw[:up], ddw[:up] = unit_step((here[:up] - sway.start) / sway.fade)
    dw[:up] /= sway.fade
    ddw[:up] /= sway.fade**2
    down = np.searchsorted(here, sway.stop - fade_out)
    w[down:], dw[down:], ddw[down:] = unit_step((sway.stop - here[down:]) / fade_out)
    dw[down:] /= -fade_out
    ddw[down:] /= fade_out**2
    s, ds, dds = np.zeros(k - i), np.zeros(k - i), np.zeros(k - i)
    for amplitude, omega, phase in sway.waves:
        angle = omega * here + phase
        wave = amplitude * np.sin(angle)
        s += wave
        ds += amplitude * omega * np.cos(angle)
        dds -= omega**2 * wave
    p[i:k] += w * s
    v[i:k] += dw * s + w * ds
    a[i:k] += ddw * s + 2 * dw * ds + w * dds


def hand_sway(
    rng: np.random.Generator,
    start: float,
    stop: float,
    size: float,
    *,
    hz: float = 1.0,
    fade: float = 0.3,
    fade_out: float | None = None,
) -> Sway:
    """Unsteadiness of held weight: three waves about `hz`, root-sum-square amplitude near `size`, and a slow drift."""
    out = fade if fade_out is None else fade_out
    room = stop - start
    if fade + out > room:
        fade, out = room * fade / (fade + out), room * out / (fade + out)
        fade, out = 0.999 * fade, 0.999 * out
    rates = hz * rng.uniform([0.65, 0.9, 1.15, 0.1], [0.9, 1.15, 1.6, 0.25])
    shares = rng.uniform(0.5, 1.0, 3)
    shares *= size * rng.uniform(0.7, 1.3) / math.sqrt(float(np.sum(shares**2)))
    sizes = np.append(shares, 0.5 * size)
    phases = rng.uniform(0, 2 * math.pi, 4)
    waves = tuple((float(s), 2 * math.pi * float(f), float(q)) for s, f, q in zip(sizes, rates, phases, strict=True))
    return Sway(start, stop, fade, waves, out)
