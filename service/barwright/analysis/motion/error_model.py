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
from barwright.analysis.quantities.vectors import cross

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
class Sensitivity:
    """How vectors at m moments depend on all columns, before it is laid out in rows.

    constants (m, 3, 30). Of the wandering, K knots: white, walk (m, K), alike in all axes; force (3, m, K), which a
    tilt step turns: the step e adds e x force.
    """

    constants: Floats
    white: Floats
    force: Floats
    walk: Floats
    wander: Wandering

    def averaged(self, weights: Floats) -> Sensitivity:
        """Weighted means (m / s) of groups of s moments that follow each other, by weights (s,)."""
        s = len(weights)
        return Sensitivity(
            np.tensordot(self.constants.reshape(-1, s, 3, CONSTANTS), weights, (1, 0)),
            weights @ self.white.reshape(-1, s, self.white.shape[1]),
            weights @ self.force.reshape(3, -1, s, self.white.shape[1]),
            weights @ self.walk.reshape(-1, s, self.white.shape[1]),
            self.wander,
        )

    def rows(self) -> Floats:
        """(m, 3, columns), wandering scaled to unit variance."""
        w = self.wander
        m, k = self.white.shape
        out = np.zeros((m, 3, CONSTANTS + 9 * k))
        out[:, :, :CONSTANTS] = self.constants
        columns = out[:, :, CONSTANTS:].reshape(m, 3, 3, 3, k)  # (row, axis, kind, direction, knot)
        white, f, walk = self.white * w.white_sd, self.force * w.tilt_sd, self.walk * w.walk_sd
        for axis in range(3):
            i, j = (axis + 1) % 3, (axis + 2) % 3
            columns[:, axis, 0, axis] = white
            columns[:, axis, 2, axis] = walk
            columns[:, j, 1, axis] = f[i]
            columns[:, i, 1, axis] = -f[j]
        return out

    def along(self, direction: Floats) -> Floats:
        """(m, columns) of the part along a direction (3,)."""
        w = self.wander
        m, k = self.white.shape
        out = np.empty((m, CONSTANTS + 9 * k))
        out[:, :CONSTANTS] = direction @ self.constants
        columns = out[:, CONSTANTS:].reshape(m, 3, 3, k)  # (row, kind, direction, knot)
        white, f, walk = self.white * w.white_sd, self.force * w.tilt_sd, self.walk * w.walk_sd
        for axis in range(3):
            i, j = (axis + 1) % 3, (axis + 2) % 3
            np.multiply(white, direction[axis], out=columns[:, 0, axis])
            np.multiply(walk, direction[axis], out=columns[:, 2, axis])
            np.subtract(f[i] * direction[j], f[j] * direction[i], out=columns[:, 1, axis])
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
        return self.velocity_at(t).rows()

    def position_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of position at t (m,)."""
        return self.position_at(t).rows()

    def velocity_at(self, t: Floats) -> Sensitivity:
        """How velocity at t (m,) depends on all columns."""
        w = self.wander
        white = np.clip(t[:, None] - w.knots_s, 0.0, w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        constants, force_1 = _between(self.t_s, t, self.velocity, self.force_1)
        force = np.where(since > 0, force_1.T[:, :, None] - self.stepped_1.T[:, None, :], 0.0)
        return Sensitivity(constants, white, force, since, w)

    def position_at(self, t: Floats) -> Sensitivity:
        """How position at t (m,) depends on all columns."""
        w = self.wander
        ramp = np.maximum(t[:, None] - w.knots_s, 0.0)
        inside = np.minimum(ramp, w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        constants, force_2 = _between(self.t_s, t, self.position, self.force_2)
        force = force_2.T[:, :, None] - self.stepped_2.T[:, None, :] - self.stepped_1.T[:, None, :] * since
        return Sensitivity(
            constants, inside * (ramp - 0.5 * inside), np.where(since > 0, force, 0.0), 0.5 * since**2, w
        )

    def accel_at(self, t: Floats, force: Floats) -> Sensitivity:
        """How acceleration at t (m,) depends on all columns, with the world-frame force (3,) there."""
        w = self.wander
        inside = (t[:, None] > w.knots_s) & (t[:, None] <= w.knots_s + w.lengths_s)
        after = (t[:, None] > w.steps_s).astype(float)
        (constants,) = _between(self.t_s, t, self.accel)
        return Sensitivity(constants, inside.astype(float), force[:, None, None] * after, after, w)

    def corrections(self, columns: Floats) -> tuple[Floats, Floats, Floats]:
        """Velocity, position and acceleration (G, 3) at the nodes for a weight on every column (columns,)."""
        w = self.wander
        weights = columns[CONSTANTS:].reshape(3, 3, len(w.knots_s))
        knot = np.clip(np.searchsorted(w.knots_s, self.t_s, side="right") - 1, 0, None)
        step = np.searchsorted(w.steps_s, self.t_s, side="right")  # steps already taken
        nothing = np.zeros((1, 3))
        turned = np.concatenate((nothing, np.cumsum((weights[1] * w.tilt_sd).T, axis=0)))[step]
        walked = np.concatenate((nothing, np.cumsum((weights[2] * w.walk_sd).T, axis=0)))[step]
        accel = (weights[0] * w.white_sd).T[knot] + cross(turned, self.force) + walked
        velocity = _integral(accel, self.t_s)
        constants = columns[:CONSTANTS]
        return (
            velocity + self.velocity @ constants,
            _integral(velocity, self.t_s) + self.position @ constants,
            accel + self.accel @ constants,
        )


def _between(nodes: Floats, t: Floats, *tables: Floats) -> tuple[Floats, ...]:
    """Node tables (G, ...) at times t (m,) by linear interpolation."""
    where = np.clip(np.searchsorted(nodes, t, side="right") - 1, 0, len(nodes) - 2)
    part = np.clip((t - nodes[where]) / (nodes[where + 1] - nodes[where]), 0.0, 1.0)
    parts = [part.reshape((-1,) + (1,) * (table.ndim - 1)) for table in tables]
    return tuple(table[where] * (1 - p) + table[where + 1] * p for table, p in zip(tables, parts, strict=True))


def _integral(x: Floats, t: Floats) -> Floats:
    """Running trapezium of (G, ...) over t (G,)."""
    out = np.empty_like(x)
    out[0] = 0.0
    np.add(x[1:], x[:-1], out=out[1:])
    out[1:] *= (0.5 * np.diff(t)).reshape((-1,) + (1,) * (x.ndim - 1))
    return np.cumsum(out, axis=0, out=out)


def build_error_model(nominal: Strapdown, accel: Floats, gyro: Floats, dt: float, wander: Wandering) -> ErrorModel:
    """Sensitivities about a nominal solution; accel and gyro (n, 3) are the corrected sensor-frame samples."""
    n = len(accel)
    node = np.arange(0, n, max(1, round(max(NODE_S, 3 * dt if dt > 0.006 else dt) / dt)))
    if node[-1] != n - 1:
        node = np.append(node, n - 1)
    t: Floats = np.asarray(node * dt, dtype=np.float64)
    back, force = -nominal.turn[node], nominal.force[node]
    g = len(node)
    rate = np.empty((g, 3, 12))
    rate[:, :, :3] = back
    np.multiply(back[:, :, :, None], gyro[node][:, None, None, :], out=rate[:, :, 3:].reshape(g, 3, 3, 3))
    summed = _integral(rate, t)
    tilt = np.zeros((g, 3, CONSTANTS))
    tilt[:, :, GYRO_BIAS] = summed[:, :, :3]
    tilt[:, :, GYRO_MATRIX] = summed[:, :, 3:]
    tilt[:, :, TILT] = np.eye(3)
    sensed = np.zeros((g, 3, CONSTANTS))
    for columns in (GYRO_BIAS, slice(GYRO_MATRIX.start, TILT.stop)):
        for axis in range(3):
            i, j = (axis + 1) % 3, (axis + 2) % 3
            np.subtract(
                tilt[:, i, columns] * force[:, j, None],
                tilt[:, j, columns] * force[:, i, None],
                out=sensed[:, axis, columns],
            )
    sensed[:, :, ACCEL_BIAS] = back
    np.multiply(back[:, :, :, None], accel[node][:, None, None, :], out=sensed[:, :, ACCEL_MATRIX].reshape(g, 3, 3, 3))
    velocity = _integral(sensed, t)
    velocity[:, :, START_VELOCITY] = np.eye(3)
    force_1 = _integral(force, t)
    force_2 = _integral(force_1, t)
    stepped_1, stepped_2 = _between(t, wander.steps_s, force_1, force_2)
    position = _integral(velocity, t)
    return ErrorModel(t, tilt, sensed, velocity, position, force, force_1, force_2, stepped_1, stepped_2, wander)
