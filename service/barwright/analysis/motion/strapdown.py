"""Rates to attitude, force to acceleration, velocity and position."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import STANDARD_GRAVITY
from barwright.analysis.quantities.rotations import from_rotation_vector, matrices, prefix_products
from barwright.analysis.quantities.vectors import cross, turned

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Strapdown:
    """Motion as the sensor alone tells it, world frame z up.

    turn (n, 3, 3) sensor to world; force (n, 3) specific force in world axes, m/s2; velocity (n, 3) m/s;
    position (n, 3) m, both zero at the first sample.
    """

    turn: Floats
    force: Floats
    velocity: Floats
    position: Floats

    @property
    def acceleration(self) -> Floats:
        """(n, 3) m/s2: force with gravity taken away."""
        out = self.force.copy()
        out[:, 2] -= STANDARD_GRAVITY
        return out


def integrate_steps(x: Floats, dt: float) -> Floats:
    """(n-1, k) integrals of (n, k) samples over each step, fourth order inside (Adams-type quadrature).

    One step is h/24 (-x[-1] + 13 x[0] + 13 x[1] - x[2]); the two outer steps fall back to the trapezium.
    """
    steps = 0.5 * dt * (x[1:] + x[:-1])
    if len(x) > 3:
        bend = x[:-3] - x[1:-2] - x[2:-1] + x[3:]
        steps[1:-1] -= (dt / 24.0) * bend
    return steps


def running_integral(x: Floats, dt: float) -> Floats:
    """(n, k) integral of (n, k) even samples from the first sample on."""
    out = np.zeros_like(x)
    np.cumsum(integrate_steps(x, dt), axis=0, out=out[1:])
    return out


def attitude(gyro: Floats, dt: float, start: Floats) -> Floats:
    """(n, 4) quaternions from (n, 3) body rates in rad/s, beginning at `start`.

    Two-step coning correction of Savage 1998 (J Guid Control Dyn 21:19-28), on fourth-order rate increments.
    """
    angle = integrate_steps(gyro, dt)
    turn = angle.copy()
    if len(angle) > 1:
        turn[1:] += cross(angle[:-1], angle[1:]) / 12.0
    return prefix_products(from_rotation_vector(turn), start)


def strapdown(accel: Floats, gyro: Floats, dt: float, start: Floats) -> Strapdown:
    """Dead reckoning of (n, 3) specific force in m/s2 and (n, 3) rates in rad/s on an even grid of dt seconds."""
    return reckon(accel, attitude(gyro, dt, start), dt)


def reckon(accel: Floats, q: Floats, dt: float) -> Strapdown:
    """The same with the attitude (n, 4) given."""
    turn = matrices(q)
    force = turned(turn, accel)
    net = force.copy()
    net[:, 2] -= STANDARD_GRAVITY
    velocity = running_integral(net, dt)
    return Strapdown(turn, force, velocity, running_integral(velocity, dt))
