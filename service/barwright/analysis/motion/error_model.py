"""How velocity and position depend on everything the sensor may have got wrong.

To first order every error of a strapdown solution is linear in a few constants (tilt at the start, gyro bias,
accelerometer bias, scale and cross-axis errors, start velocity; Titterton and Weston 2004, ch. 12) and in the
slow wandering no constant describes. The constants are columns 0..29, the wandering follows: white force noise, tilt
steps, steps of the accelerometer's bias, each for three world axes and every knot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import SensorPrior
from barwright.analysis.motion.strapdown import Strapdown
from barwright.analysis.motion.wandering import Wandering

Floats = NDArray[np.float64]

GYRO_BIAS = slice(0, 3)
ACCEL_BIAS = slice(3, 6)
ACCEL_MATRIX = slice(6, 15)  # row-major: true = (I - E) measured - bias
GYRO_MATRIX = slice(15, 24)
TILT = slice(24, 27)  # rotation vector in world axes at the first sample
START_VELOCITY = slice(27, 30)
CONSTANTS = 30
SHARED = 24  # constants that belong to the sensor, not to one stretch of the recording
NODE_S = 0.01  # sensitivities are smooth: one node in 10 ms is plenty


def constant_variances(prior: SensorPrior, tilt_sd: float, velocity_sd: float) -> Floats:
    """(30,) prior variances; the heading is pinned because nothing observes it."""
    out = np.empty(CONSTANTS)
    out[GYRO_BIAS] = prior.gyro_bias**2
    out[ACCEL_BIAS] = prior.accel_bias**2
    out[ACCEL_MATRIX] = np.where(np.eye(3).ravel() > 0, prior.accel_scale, prior.cross) ** 2
    out[GYRO_MATRIX] = np.where(np.eye(3).ravel() > 0, prior.gyro_scale, prior.cross) ** 2
    out[TILT] = (tilt_sd**2, tilt_sd**2, 1e-12)
    out[START_VELOCITY] = velocity_sd**2
    return out


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """Sensitivities on nodes t_s (G,): tilt, acceleration, velocity and position (G, 3, 30) of the constants.

    force (G, 3) in world axes with its first and second integrals, from which the wandering columns are built; the
    integrals at the wandering's steps (K, 3) as well.
    """

    t_s: Floats
    tilt: Floats  # attitude error as a rotation vector in world axes
    accel: Floats
    velocity: Floats
    position: Floats
    force: Floats
    force_1: Floats
    force_2: Floats
    stepped_1: Floats
    stepped_2: Floats
    wander: Wandering

    @property
    def columns(self) -> int:
        """Constants plus nine wandering columns a knot."""
        return CONSTANTS + 9 * len(self.wander.knots_s)

    def tilt_columns(self, steps: Floats) -> Floats:
        """(columns,) weights for tilt steps (K, 3) in rad."""
        out = np.zeros(self.columns)
        k = len(self.wander.knots_s)
        out[CONSTANTS + 3 * k : CONSTANTS + 6 * k] = (steps / self.wander.tilt_sd[:, None]).T.ravel()
        return out

    def tilt_steps(self, columns: Floats) -> Floats:
        """(K, 3) tilt steps in rad for weights (columns,)."""
        k = len(self.wander.knots_s)
        return np.asarray(columns[CONSTANTS + 3 * k : CONSTANTS + 6 * k].reshape(3, k).T * self.wander.tilt_sd[:, None])

    def velocity_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of velocity at t (m,), wandering scaled to unit variance."""
        w = self.wander
        white = np.clip(t[:, None] - w.knots_s, 0.0, w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        velocity, force_1 = _between(self.t_s, t, self.velocity, self.force_1)
        return self._rows(velocity, white, force_1[:, None, :] - self.stepped_1, since, since > 0)

    def position_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of position at t (m,)."""
        w = self.wander
        ramp = np.maximum(t[:, None] - w.knots_s, 0.0)
        inside = np.minimum(ramp, w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        position, force_2 = _between(self.t_s, t, self.position, self.force_2)
        force = force_2[:, None, :] - self.stepped_2 - self.stepped_1 * since[:, :, None]
        return self._rows(position, inside * (ramp - 0.5 * inside), force, 0.5 * since**2, since > 0)

    def accel_rows(self, t: Floats, force: Floats) -> Floats:
        """(m, 3, columns) sensitivity of acceleration at t (m,), with the world-frame force (m, 3) there."""
        w = self.wander
        inside = (t[:, None] > w.knots_s) & (t[:, None] <= w.knots_s + w.lengths_s)
        after = t[:, None] > w.steps_s
        f = np.broadcast_to(force[:, None, :], (len(t), len(w.knots_s), 3))
        (accel,) = _between(self.t_s, t, self.accel)
        return self._rows(accel, inside.astype(float), f, after.astype(float), after)

    def corrections(self, columns: Floats) -> tuple[Floats, Floats, Floats]:
        """Velocity, position and acceleration (G, 3) at the nodes for a weight on every column (columns,)."""
        w = self.wander
        weights = columns[CONSTANTS:].reshape(3, 3, len(w.knots_s))
        knot = np.clip(np.searchsorted(w.knots_s, self.t_s, side="right") - 1, 0, None)
        step = np.searchsorted(w.steps_s, self.t_s, side="right")  # steps already taken
        nothing = np.zeros((1, 3))
        turned = np.concatenate((nothing, np.cumsum((weights[1] * w.tilt_sd).T, axis=0)))[step]
        walked = np.concatenate((nothing, np.cumsum((weights[2] * w.walk_sd).T, axis=0)))[step]
        accel = (weights[0] * w.white_sd).T[knot] + np.cross(turned, self.force) + walked
        velocity = _integral(accel, self.t_s)
        constants = columns[:CONSTANTS]
        return (
            velocity + self.velocity @ constants,
            _integral(velocity, self.t_s) + self.position @ constants,
            accel + self.accel @ constants,
        )

    def _rows(self, constants: Floats, white: Floats, force: Floats, walk: Floats, after: NDArray[np.bool_]) -> Floats:
        w = self.wander
        m, k = white.shape
        out = np.zeros((m, 3, CONSTANTS + 9 * k))
        out[:, :, :CONSTANTS] = constants
        columns = out[:, :, CONSTANTS:].reshape(m, 3, 3, 3, k)  # (row, axis, kind, direction, knot)
        f = np.where(after[:, :, None], force, 0.0) * w.tilt_sd[None, :, None]
        for axis in range(3):
            columns[:, axis, 0, axis] = white * w.white_sd
            columns[:, axis, 2, axis] = walk * w.walk_sd
        # a tilt step e_d adds e_d x force
        columns[:, 1, 1, 0], columns[:, 2, 1, 0] = -f[:, :, 2], f[:, :, 1]
        columns[:, 0, 1, 1], columns[:, 2, 1, 1] = f[:, :, 2], -f[:, :, 0]
        columns[:, 0, 1, 2], columns[:, 1, 1, 2] = -f[:, :, 1], f[:, :, 0]
        return out


def _between(nodes: Floats, t: Floats, *tables: Floats) -> tuple[Floats, ...]:
    """Node tables (G, ...) at times t (m,) by linear interpolation."""
    where = np.clip(np.searchsorted(nodes, t, side="right") - 1, 0, len(nodes) - 2)
    part = np.clip((t - nodes[where]) / (nodes[where + 1] - nodes[where]), 0.0, 1.0)
    parts = [part.reshape((-1,) + (1,) * (table.ndim - 1)) for table in tables]
    return tuple(table[where] * (1 - p) + table[where + 1] * p for table, p in zip(tables, parts, strict=True))


def _integral(x: Floats, t: Floats) -> Floats:
    """Running trapezium of (G, ...) over t (G,)."""
    h = np.diff(t).reshape((-1,) + (1,) * (x.ndim - 1))
    out = np.zeros_like(x)
    np.cumsum(0.5 * h * (x[1:] + x[:-1]), axis=0, out=out[1:])
    return out


def build_error_model(nominal: Strapdown, accel: Floats, gyro: Floats, dt: float, wander: Wandering) -> ErrorModel:
    """Sensitivities about a nominal solution; accel and gyro (n, 3) are the corrected sensor-frame samples."""
    n = len(accel)
    node = np.arange(0, n, max(1, round(max(NODE_S, 3 * dt if dt > 0.006 else dt) / dt)))
    if node[-1] != n - 1:
        node = np.append(node, n - 1)
    t: Floats = np.asarray(node * dt, dtype=np.float64)
    turn, force = nominal.turn[node], nominal.force[node]
    g = len(node)
    tilt = np.zeros((g, 3, CONSTANTS))
    rate = np.concatenate((turn, (turn[:, :, :, None] * gyro[node][:, None, None, :]).reshape(g, 3, 9)), axis=2)
    summed = -_integral(rate, t)
    tilt[:, :, GYRO_BIAS] = summed[:, :, :3]
    tilt[:, :, GYRO_MATRIX] = summed[:, :, 3:]
    tilt[:, :, TILT] = np.eye(3)
    sensed = np.empty((g, 3, CONSTANTS))
    fx, fy, fz = force[:, 0, None], force[:, 1, None], force[:, 2, None]
    sensed[:, 0] = tilt[:, 1] * fz - tilt[:, 2] * fy
    sensed[:, 1] = tilt[:, 2] * fx - tilt[:, 0] * fz
    sensed[:, 2] = tilt[:, 0] * fy - tilt[:, 1] * fx
    sensed[:, :, ACCEL_BIAS] -= turn
    sensed[:, :, ACCEL_MATRIX] -= (turn[:, :, :, None] * accel[node][:, None, None, :]).reshape(g, 3, 9)
    velocity = _integral(sensed, t)
    velocity[:, :, START_VELOCITY] += np.eye(3)
    force_1 = _integral(force, t)
    force_2 = _integral(force_1, t)
    stepped_1, stepped_2 = _between(t, wander.steps_s, force_1, force_2)
    position = _integral(velocity, t)
    return ErrorModel(t, tilt, sensed, velocity, position, force, force_1, force_2, stepped_1, stepped_2, wander)
