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
from scipy.linalg import solve_triangular

from barwright.analysis.motion.between import Between, Nodes
from barwright.analysis.motion.device_class import SensorPrior
from barwright.analysis.motion.strapdown import Strapdown
from barwright.analysis.motion.wandering import Wandering
from barwright.analysis.quantities.vectors import cross, turned

Floats = NDArray[np.float64]

GYRO_BIAS = slice(0, 3)
ACCEL_BIAS = slice(3, 6)
ACCEL_MATRIX = slice(6, 15)  # row-major: true = (I - E) measured - bias
GYRO_MATRIX = slice(15, 24)
TILT = slice(24, 27)  # rotation vector in world axes at the first sample
START_VELOCITY = slice(27, 30)
CONSTANTS = 30
SHARED = 24  # constants that belong to the sensor, not to one stretch of the recording
# Sensitivities are smooth: nodes this far apart are enough where every sample between them is summed
NODE_S = 0.027


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
        constants = weights @ self.constants.reshape(-1, s, 3 * CONSTANTS)
        return Sensitivity(
            constants.reshape(-1, 3, CONSTANTS),
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
        white, f, walk = self.white * w.white_sd, self.force @ w.tilt_factor, self.walk * w.walk_sd
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
        x, y, z = direction
        across = np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])  # force to force x direction
        out = np.empty((m, CONSTANTS + 9 * k))
        out[:, :CONSTANTS] = direction @ self.constants
        columns = out[:, CONSTANTS:].reshape(m, 3, 3, k)  # (row, kind, direction, knot)
        np.multiply((self.white * w.white_sd)[:, None], direction[:, None], out=columns[:, 0])
        np.multiply((self.walk * w.walk_sd)[:, None], direction[:, None], out=columns[:, 2])
        columns[:, 1] = (across @ (self.force @ w.tilt_factor).reshape(3, m * k)).reshape(3, m, k).swapaxes(0, 1)
        return out


@dataclass(frozen=True, slots=True)
class ErrorModel:
    """Sensitivities on nodes (G of them): velocity and position (G, 3, 30) of the constants.

    turning (G, 3, 12): the attitude error, a rotation vector in world axes, that the gyro's constants make. turn
    (G, 3, 3) and sensed (G, 3): the attitude and the sensor's own force. force (G, 3) in world axes with its first and
    second integrals, from which the wandering columns are built; the integrals at the wandering's steps (K, 3) as well.
    """

    nodes: Nodes
    turning: Floats
    velocity: Floats
    position: Floats
    turn: Floats
    sensed: Floats
    force: Floats
    force_1: Floats
    force_2: Floats
    stepped_1: Floats
    stepped_2: Floats
    wander: Wandering

    @property
    def t_s(self) -> Floats:
        """(G,) s: when the nodes are."""
        return self.nodes.t_s

    @property
    def columns(self) -> int:
        """Constants plus nine wandering columns a knot."""
        return CONSTANTS + 9 * len(self.wander.knots_s)

    def tilt_columns(self, steps: Floats) -> Floats:
        """(columns,) weights for tilt steps (K, 3) in rad."""
        out = np.zeros(self.columns)
        k = len(self.wander.knots_s)
        if np.any(steps):
            weights = solve_triangular(self.wander.tilt_factor, steps, lower=True)
            out[CONSTANTS + 3 * k : CONSTANTS + 6 * k] = weights.T.ravel()
        return out

    def tilt_steps(self, columns: Floats) -> Floats:
        """(K, 3) tilt steps in rad for weights (columns,)."""
        k = len(self.wander.knots_s)
        return np.asarray(self.wander.tilt_factor @ columns[CONSTANTS + 3 * k : CONSTANTS + 6 * k].reshape(3, k).T)

    def turned_by(self, constants: Floats) -> Floats:
        """(G, 3) rad: the attitude error that a weight on every constant (30,) makes."""
        gyro = np.concatenate((constants[GYRO_BIAS], constants[GYRO_MATRIX]))
        return np.asarray(self.turning @ gyro + constants[TILT])

    def pushed_by(self, constants: Floats) -> Floats:
        """(G, 3) m/s2: the error of acceleration that it makes."""
        off = constants[ACCEL_BIAS] + self.sensed @ constants[ACCEL_MATRIX].reshape(3, 3).T
        return cross(self.turned_by(constants), self.force) - turned(self.turn, off)

    def velocity_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of velocity at t (m,), wandering scaled to unit variance."""
        return self.velocity_at(t).rows()

    def position_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of position at t (m,)."""
        return self.position_at(t).rows()

    def velocity_at(self, t: Floats, near: Between | None = None) -> Sensitivity:
        """How velocity at t (m,) depends on all columns; near: where t lies among the nodes, if that is known."""
        w, near = self.wander, near or self.nodes.about(t)
        white = np.minimum(np.maximum(t[:, None] - w.knots_s, 0.0), w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        constants, force_1 = near.values(self.velocity), near.values(self.force_1)
        force = np.where(since > 0, force_1.T[:, :, None] - self.stepped_1.T[:, None, :], 0.0)
        return Sensitivity(constants, white, force, since, w)

    def position_at(self, t: Floats, near: Between | None = None) -> Sensitivity:
        """How position at t (m,) depends on all columns."""
        w, near = self.wander, near or self.nodes.about(t)
        ramp = np.maximum(t[:, None] - w.knots_s, 0.0)
        inside = np.minimum(ramp, w.lengths_s)
        since = np.maximum(t[:, None] - w.steps_s, 0.0)
        constants, force_2 = near.values(self.position), near.values(self.force_2)
        force = force_2.T[:, :, None] - self.stepped_2.T[:, None, :] - self.stepped_1.T[:, None, :] * since
        return Sensitivity(
            constants, inside * (ramp - 0.5 * inside), np.where(since > 0, force, 0.0), 0.5 * since**2, w
        )

    def accel_at(self, t: Floats, force: Floats, near: Between | None = None) -> Sensitivity:
        """How acceleration at t (m,) depends on all columns, with the world-frame force (3,) there."""
        w, near = self.wander, near or self.nodes.about(t)
        inside = (t[:, None] > w.knots_s) & (t[:, None] <= w.knots_s + w.lengths_s)
        after = (t[:, None] > w.steps_s).astype(float)
        turning, back = near.values(self.turning), -near.values(self.turn)
        constants = np.zeros((len(t), 3, CONSTANTS))
        constants[:, :, GYRO_BIAS], constants[:, :, GYRO_MATRIX] = np.split(
            _crossed(turning, near.values(self.force)), [3], 2
        )
        constants[:, :, TILT] = _crossed(np.eye(3)[None], near.values(self.force))
        constants[:, :, ACCEL_BIAS] = back
        constants[:, :, ACCEL_MATRIX] = (back[:, :, :, None] * near.values(self.sensed)[:, None, None]).reshape(
            -1, 3, 9
        )
        return Sensitivity(constants, inside.astype(float), force[:, None, None] * after, after, w)

    def swing_rows(self, t: Floats, place: Floats, direction: Floats, steps: bool = True) -> Floats:
        """(m, columns) how an arm's end moves along a direction (3,) with the attitude error: phi x place, at t (m,).

        place (m, 3): m, world axes. Without steps, the 30 constants' columns alone.
        """
        w = self.wander
        across = cross(place, direction)  # (phi x place) . direction = phi . across
        out = np.zeros((len(t), self.columns if steps else CONSTANTS))
        # attitude errors run nearly straight from node to node
        k = np.clip(np.searchsorted(self.t_s, t) - 1, 0, len(self.t_s) - 2)
        x = np.clip((t - self.t_s[k]) / (self.t_s[k + 1] - self.t_s[k]), 0.0, 1.0)[:, None]
        gyro = ((1 - x) * across)[:, None] @ self.turning[k] + (x * across)[:, None] @ self.turning[k + 1]
        gyro = gyro[:, 0]
        out[:, GYRO_BIAS], out[:, GYRO_MATRIX], out[:, TILT] = gyro[:, :3], gyro[:, 3:], across
        if steps:
            knots = len(w.knots_s)
            after = (t[:, None] > w.steps_s) @ w.tilt_factor
            turned_by = (across[:, :, None] * after[:, None]).reshape(len(t), 3 * knots)
            out[:, CONSTANTS + 3 * knots : CONSTANTS + 6 * knots] = turned_by
        return out

    def corrections(self, columns: Floats) -> tuple[Floats, Floats, Floats]:
        """Velocity, position and acceleration (G, 3) at the nodes for a weight on every column (columns,)."""
        w, t = self.wander, self.t_s
        weights = columns[CONSTANTS:].reshape(3, 3, len(w.knots_s))
        white, walk = (weights[0] * w.white_sd).T, (weights[2] * w.walk_sd).T
        tilt = w.tilt_factor @ weights[1].T
        pushed = _pushed_from(w.knots_s, np.diff(white, axis=0, prepend=0.0), t)
        walked = _pushed_from(w.steps_s, walk, t)
        taken = np.searchsorted(w.steps_s, t, side="right")  # steps already taken
        tilted = _so_far(tilt)[taken]
        # a step e at s adds e x force from then on: e x (force_1(t) - force_1(s)) of velocity, and so on
        before_1, before_2 = cross(tilt, self.stepped_1), cross(tilt, self.stepped_2)
        velocity = cross(tilted, self.force_1) - _so_far(before_1)[taken]
        since = t[:, None] * _so_far(before_1)[taken] - _so_far(w.steps_s[:, None] * before_1)[taken]
        position = cross(tilted, self.force_2) - _so_far(before_2)[taken] - since
        constants = columns[:CONSTANTS]
        return (
            velocity + pushed[1] + walked[1] + self.velocity @ constants,
            position + pushed[2] + walked[2] + self.position @ constants,
            cross(tilted, self.force) + pushed[0] + walked[0] + self.pushed_by(constants),
        )


def _so_far(x: Floats) -> Floats:
    """(K + 1, 3) sums of the first 0, 1, ... of (K, 3)."""
    return np.concatenate((np.zeros((1, x.shape[1])), np.cumsum(x, axis=0)))


def _pushed_from(moments: Floats, push: Floats, t: Floats) -> tuple[Floats, Floats, Floats]:
    """Acceleration, velocity, position (G, 3) at t (G,) of forces (K, 3) that act from moments (K,) on."""
    taken, at = np.searchsorted(moments, t, side="right"), moments[:, None]
    total, first, second = (_so_far(x)[taken] for x in (push, at * push, at**2 * push))
    t = t[:, None]
    return total, t * total - first, 0.5 * t**2 * total - t * first + 0.5 * second


def _integral(x: Floats, t: Floats) -> Floats:
    """Running trapezium of (G, ...) over t (G,)."""
    out = np.empty_like(x)
    out[0] = 0.0
    np.add(x[1:], x[:-1], out=out[1:])
    out[1:] *= (0.5 * np.diff(t)).reshape((-1,) + (1,) * (x.ndim - 1))
    return _summed(out)


def _summed(x: Floats) -> Floats:
    """Running sum of (G, ...), in place.

    Each addition of a running sum waits for the one before: two columns as one complex number wait half as long.
    """
    flat = x.reshape(len(x), -1)
    if flat.shape[1] % 2 == 0:
        np.cumsum(flat.view(np.complex128), axis=0, out=flat.view(np.complex128))
    else:
        np.cumsum(flat, axis=0, out=flat)
    return x


def _crossed(columns: Floats, force: Floats) -> Floats:
    """(m, 3, k) vector products of columns (m, 3, k) with forces (m, 3)."""
    out = np.empty((len(force), *columns.shape[1:]))
    for axis in range(3):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        np.subtract(columns[:, i] * force[:, j, None], columns[:, j] * force[:, i, None], out=out[:, axis])
    return out


def build_error_model(nominal: Strapdown, accel: Floats, gyro: Floats, dt: float, wander: Wandering) -> ErrorModel:
    """Sensitivities about a nominal solution; accel and gyro (n, 3) are the corrected sensor-frame samples."""
    n = len(accel)
    node = np.arange(0, n, max(1, min(round(NODE_S / dt), (n - 1) // 3)))
    if node[-1] != n - 1:
        node = np.append(node, n - 1)
    g, t = len(node), np.asarray(node * dt, dtype=np.float64)
    gyro_part, accel_part = _turned_sums(nominal.turn, gyro, accel, node, dt)
    every: Floats = np.arange(n, dtype=np.float64) * dt
    force_1 = _integral(nominal.force, every)
    force_2 = _integral(force_1, every)[node]
    force_1 = force_1[node]
    # between two nodes the attitude error hardly bends, but force may swing: its own integral takes that in
    pushed = np.zeros((g, 3, 12))
    pushed[1:] = _crossed(0.5 * (gyro_part[1:] + gyro_part[:-1]), np.diff(force_1, axis=0))
    _summed(pushed)
    velocity = np.zeros((g, 3, CONSTANTS))
    velocity[:, :, GYRO_BIAS], velocity[:, :, GYRO_MATRIX] = pushed[:, :, :3], pushed[:, :, 3:]
    velocity[:, :, ACCEL_BIAS], velocity[:, :, ACCEL_MATRIX] = accel_part[:, :, :3], accel_part[:, :, 3:]
    velocity[:, :, TILT] = _crossed(np.eye(3)[None], force_1)
    velocity[:, :, START_VELOCITY] = np.eye(3)
    nodes = Nodes.at(t)
    steps = nodes.about(wander.steps_s)
    return ErrorModel(
        nodes, gyro_part, velocity, _integral(velocity, t), nominal.turn[node], accel[node], nominal.force[node],
        force_1, force_2, steps.values(force_1), steps.values(force_2), wander,
    )  # fmt: skip


def _turned_sums(turn: Floats, gyro: Floats, accel: Floats, node: NDArray[np.intp], dt: float) -> tuple[Floats, Floats]:
    """Integrals of -C (bias, row by row of the matrix) for gyro and accelerometer, (G, 3, 12) each, at samples `node`.

    Trapezium over every sample: sums of products between two nodes are small matrix products.
    """
    n, g, k = len(turn), len(node), int(node[1] - node[0])
    told = np.zeros((n, 8))  # both sensors' samples with the one of their biases, and a nought that makes columns even
    told[:, 0], told[:, 1:4], told[:, 4:7] = 1.0, gyro, accel
    flat = turn.reshape(n, 9)
    whole = (n - 1) // k
    sums = np.empty((g, 9, 8))
    sums[0] = 0.0
    blocks = flat[: whole * k].reshape(whole, k, 9), told[: whole * k].reshape(whole, k, 8)
    np.matmul(blocks[0].transpose(0, 2, 1), blocks[1], out=sums[1 : whole + 1])
    if whole < g - 1:
        sums[-1] = flat[whole * k : n - 1].T @ told[whole * k : n - 1]
    _summed(sums)
    ends = flat[node][:, :, None] * told[node][:, None, :]
    sums += 0.5 * (ends - ends[0])
    sums *= -dt
    parts = sums.reshape(g, 3, 3, 8)
    out = np.empty((2, g, 3, 12))
    for at, first in ((0, 1), (1, 4)):
        out[at, :, :, :3] = parts[..., 0]
        out[at, :, :, 3:].reshape(g, 3, 3, 3)[...] = parts[..., first : first + 3]
    return out[0], out[1]
