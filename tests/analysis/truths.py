"""Motions known exactly, as sensor samples and as bar motion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from barwright.analysis.motion.bar_motion import Motion, MotionRest
from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]
G = 9.80665


@dataclass(frozen=True, slots=True)
class KnownErrors:
    """The same uncertainty everywhere: u_v m/s, u_z m."""

    u_v: float = 0.004
    u_z: float = 0.003

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s."""
        return np.full(len(t_s), self.u_v)

    def displacement_sd(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m."""
        return np.full(len(t_s), self.u_z)

    def mean_velocity_sd(self, from_s: float, to_s: float, leans: Floats, direction: Floats) -> float:
        """m/s; all errors apart."""
        return float(np.sqrt((self.u_z / (to_s - from_s)) ** 2 + np.sum((leans * self.u_v) ** 2)))


def vertical_motion(
    t: Floats, z: Floats, v: Floats, a: Floats, rests: tuple[tuple[float, float], ...] = (), x: Floats | None = None
) -> Motion:
    """A bar motion from arrays (n,) on an even axis; rests as (start_s, stop_s), the first one firm."""

    def three(across: Floats, up: Floats) -> Floats:
        return np.stack((across, np.zeros_like(up), up), axis=1)

    none = np.zeros_like(z)
    spans = tuple(MotionRest(Span(*(int(k) for k in np.searchsorted(t, rest))), n == 0) for n, rest in enumerate(rests))
    place = three(none if x is None else x, z)
    return Motion(t, place, three(none, v), three(none, a), spans, KnownErrors(), np.array([1.0, 0.0, 0.0]))


def reckoned_by_ode(
    rate: Callable[[float], Floats], force: Callable[[float], Floats], t: Floats, start: Floats
) -> tuple[Floats, Floats, Floats]:
    """Attitude (n, 4), velocity and position (n, 3) by an adaptive Runge-Kutta solver (scipy.integrate, DOP853).

    rate and force: body rates and specific force, sensor frame, as functions of time.
    """

    def change(now: float, y: Floats) -> Floats:
        w, q = rate(now), y[:4] / np.linalg.norm(y[:4])
        spin = 0.5 * np.array(
            [
                -q[1] * w[0] - q[2] * w[1] - q[3] * w[2],
                q[0] * w[0] + q[2] * w[2] - q[3] * w[1],
                q[0] * w[1] - q[1] * w[2] + q[3] * w[0],
                q[0] * w[2] + q[1] * w[1] - q[2] * w[0],
            ]
        )
        f = force(now)
        across = 2 * np.cross(q[1:], f)
        world = f + q[0] * across + np.cross(q[1:], across)
        return np.concatenate((spin, world - [0, 0, G], y[4:7]))

    found = solve_ivp(
        change, (t[0], t[-1]), np.concatenate((start, np.zeros(6))), "DOP853", t_eval=t, rtol=1e-11, atol=1e-12
    )
    q = found.y[:4].T
    return q / np.linalg.norm(q, axis=1)[:, None], found.y[4:7].T, found.y[7:].T
