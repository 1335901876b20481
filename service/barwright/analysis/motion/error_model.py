"""How velocity and position depend on everything the sensor may have got wrong.

To first order every error of a strapdown solution is linear in a few constants (tilt at the start, gyro bias,
accelerometer bias, scale and cross-axis errors, start velocity; Titterton and Weston 2004, ch. 12) and in the
slow wandering no constant describes. The constants are columns 0..29, the wandering follows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import SensorPrior
from barwright.analysis.motion.strapdown import Strapdown

Floats = NDArray[np.float64]

GYRO_BIAS = slice(0, 3)
ACCEL_BIAS = slice(3, 6)
ACCEL_MATRIX = slice(6, 15)  # row-major: true = (I - E) measured - bias
GYRO_MATRIX = slice(15, 24)
TILT = slice(24, 27)  # rotation vector in world axes at the first sample
START_VELOCITY = slice(27, 30)
CONSTANTS = 30
# What fast motion adds that no constant describes (timing, bandwidth, non-linearity), found on recordings with optical
# truth: noise densities in proportion to rate (rad/sqrt(s) per rad/s) and to net force (m/s/sqrt(s) per m/s2)
RATE_SHARE, FORCE_SHARE = 0.0003, 0.001
SHARED = 24  # constants that belong to the sensor, not to one stretch of the recording


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
    """Sensitivities on nodes t_s (G,): velocity and position (G, 3, 30), and what the wandering columns need.

    force_1, force_2: first and second integrals of the world-frame force at the nodes; knots_s (K,) where
    wandering may step; scale: square roots of the wandering's prior variances, (K,) each.
    """

    t_s: Floats
    tilt: Floats  # (G, 3, 30) attitude error, rotation vector in world axes
    accel: Floats
    velocity: Floats
    position: Floats
    force: Floats  # (G, 3) world frame
    force_1: Floats
    force_2: Floats
    knots_s: Floats
    white_sd: Floats  # m/s2 over one knot interval
    tilt_sd: Floats  # rad a step
    walk_sd: Floats  # m/s2 a step

    @property
    def columns(self) -> int:
        """Constants plus nine wandering columns a knot."""
        return CONSTANTS + 9 * len(self.knots_s)

    def velocity_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of velocity at t (m,), wandering scaled to unit variance."""
        ramp = np.maximum(t[:, None] - self.knots_s, 0.0)
        white = np.minimum(ramp, self._lengths())
        force = self._at(self.force_1, t)[:, None, :] - self._at(self.force_1, self.knots_s)[None]
        return self._rows(self._at(self.velocity, t), white, force, ramp, ramp > 0)

    def position_rows(self, t: Floats) -> Floats:
        """(m, 3, columns) sensitivity of position at t (m,)."""
        ramp = np.maximum(t[:, None] - self.knots_s, 0.0)
        inside = np.minimum(ramp, self._lengths())
        white = inside * (ramp - 0.5 * inside)
        f1, f2 = self._at(self.force_1, self.knots_s), self._at(self.force_2, self.knots_s)
        force = self._at(self.force_2, t)[:, None, :] - f2[None] - f1[None] * ramp[:, :, None]
        return self._rows(self._at(self.position, t), white, force, 0.5 * ramp**2, ramp > 0)

    def accel_rows(self, t: Floats, force: Floats) -> Floats:
        """(m, 3, columns) sensitivity of acceleration at t (m,), with the world-frame force (m, 3) there."""
        after = t[:, None] > self.knots_s
        inside = after & (t[:, None] <= self.knots_s + self._lengths())
        f = np.broadcast_to(force[:, None, :], (len(t), len(self.knots_s), 3))
        return self._rows(self._at(self.accel, t), inside.astype(float), f, after.astype(float), after)

    def corrections(self, columns: Floats) -> tuple[Floats, Floats, Floats]:
        """Velocity, position and acceleration (G, 3) at the nodes for a weight on every column (columns,)."""
        wander = columns[CONSTANTS:].reshape(3, 3, len(self.knots_s))
        knot = np.clip(np.searchsorted(self.knots_s, self.t_s, side="right") - 1, 0, None)
        white, steps, walk = (wander[0] * self.white_sd).T, (wander[1] * self.tilt_sd).T, (wander[2] * self.walk_sd).T
        turned = np.cumsum(steps, axis=0)[knot]
        accel = white[knot] + np.cross(turned, self.force) + np.cumsum(walk, axis=0)[knot]
        velocity, h = np.zeros_like(accel), np.diff(self.t_s)[:, None]
        np.cumsum(0.5 * h * (accel[1:] + accel[:-1]), axis=0, out=velocity[1:])
        position = np.zeros_like(accel)
        np.cumsum(0.5 * h * (velocity[1:] + velocity[:-1]), axis=0, out=position[1:])
        constants = columns[:CONSTANTS]
        return (
            velocity + self.velocity @ constants,
            position + self.position @ constants,
            accel + self.accel @ constants,
        )

    def _lengths(self) -> Floats:
        step = self.knots_s[1] - self.knots_s[0] if len(self.knots_s) > 1 else self.t_s[-1] - self.t_s[0]
        return np.full(len(self.knots_s), step)

    def _at(self, table: Floats, t: Floats) -> Floats:
        """Linear interpolation of a node table (G, ...) at t."""
        where = np.clip(np.searchsorted(self.t_s, t, side="right") - 1, 0, len(self.t_s) - 2)
        part = np.clip((t - self.t_s[where]) / (self.t_s[where + 1] - self.t_s[where]), 0.0, 1.0)
        part = part.reshape((-1,) + (1,) * (table.ndim - 1))
        return np.asarray(table[where] * (1 - part) + table[where + 1] * part)

    def _rows(self, constants: Floats, white: Floats, force: Floats, walk: Floats, after: NDArray[np.bool_]) -> Floats:
        m, k = white.shape
        out = np.zeros((m, 3, CONSTANTS + 9 * k))
        out[:, :, :CONSTANTS] = constants
        wander = out[:, :, CONSTANTS:].reshape(m, 3, 3, 3, k)  # (row, axis, kind, direction, knot)
        f = np.where(after[:, :, None], force, 0.0) * self.tilt_sd[None, :, None]
        for axis in range(3):
            wander[:, axis, 0, axis] = white * self.white_sd
            wander[:, axis, 2, axis] = walk * self.walk_sd
        # a tilt step e_d adds e_d x force
        wander[:, 1, 1, 0], wander[:, 2, 1, 0] = -f[:, :, 2], f[:, :, 1]
        wander[:, 0, 1, 1], wander[:, 2, 1, 1] = f[:, :, 2], -f[:, :, 0]
        wander[:, 0, 1, 2], wander[:, 1, 1, 2] = -f[:, :, 1], f[:, :, 0]
        return out


def build_error_model(
    nominal: Strapdown,
    accel: Floats,
    gyro: Floats,
    dt: float,
    prior: SensorPrior,
    extra_velocity_var: Floats,
    extra_tilt_var: Floats,
    knot_s: float = 0.4,
) -> ErrorModel:
    """Sensitivities about a nominal solution; accel and gyro (n, 3) are the corrected sensor-frame samples.

    extra_velocity_var, extra_tilt_var (n,): variance each step adds on top of the noise densities, where samples
    were filled, clipped or changed faster than the sampling follows.
    """
    n = len(accel)
    thin = max(1, round(0.01 / dt))
    node = np.arange(0, n, thin)
    if node[-1] != n - 1:
        node = np.append(node, n - 1)
    t: Floats = np.asarray(node * dt, dtype=np.float64)
    h = np.diff(t)[:, None, None]
    turn, force = nominal.turn[node], nominal.force[node]

    def integral(x: Floats) -> Floats:
        out = np.zeros_like(x)
        np.cumsum(0.5 * h.reshape((-1,) + (1,) * (x.ndim - 1)) * (x[1:] + x[:-1]), axis=0, out=out[1:])
        return out

    g = len(node)
    tilt = np.zeros((g, 3, CONSTANTS))
    rate = np.concatenate((turn, (turn[:, :, :, None] * gyro[node][:, None, None, :]).reshape(g, 3, 9)), axis=2)
    summed = -integral(rate)
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
    velocity = integral(sensed)
    velocity[:, :, START_VELOCITY] += np.eye(3)
    position = integral(velocity)
    force_1 = integral(force)
    length = (n - 1) * dt
    count = max(1, int(np.ceil(length / knot_s)))
    knots: Floats = np.asarray(np.arange(count) * (length / count), dtype=np.float64)
    step = length / count
    which = np.minimum((np.arange(n) * dt / step).astype(int), count - 1)
    rough_turn = (RATE_SHARE * np.linalg.norm(gyro, axis=1)) ** 2 * dt
    net = np.linalg.norm(nominal.acceleration, axis=1)
    rough_force = (FORCE_SHARE * net) ** 2 * dt
    velocity_var = prior.accel_noise**2 * step + np.bincount(which, extra_velocity_var + rough_force, count)
    tilt_var = (prior.gyro_noise**2 + prior.tilt_walk**2) * step + np.bincount(
        which, extra_tilt_var + rough_turn, count
    )
    return ErrorModel(
        t,
        tilt,
        sensed,
        velocity,
        position,
        force,
        force_1,
        integral(force_1),
        knots,
        np.sqrt(velocity_var) / step,
        np.sqrt(tilt_var),
        np.full(count, prior.accel_walk * np.sqrt(step)),
    )
