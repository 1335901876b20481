"""Bias of a gyroscope from still poses, its scale and cross-axis errors from the turns between them.

Second step of Tedaldi, Pretto and Menegatti 2014 (ICRA, 3042-3049): the rate, integrated from one pose to the next, has
to carry the first pose's vertical into the second's, as the calibrated accelerometer saw both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincc

from barwright.analysis.motion.device_class import SensorPrior, integral_var
from barwright.analysis.motion.strapdown import attitude
from barwright.analysis.motion.timeline import EvenSamples
from barwright.analysis.motion.wandering import RATE_SHARE
from barwright.analysis.poses.accel_fit import UNLIKELY, AccelFit, corrected, derivatives
from barwright.analysis.poses.still_poses import Pose
from barwright.analysis.quantities.rotations import matrices
from barwright.analysis.quantities.spans import spans_of
from barwright.analysis.quantities.vectors import angle_between

Floats = NDArray[np.float64]
COUNT = 12
BIAS, MATRIX = slice(0, 3), slice(3, 12)  # matrix row-major, less the identity
LONGEST_TURN_S = 20.0  # over a longer one the gyro's wander says more than its scale
LEAST_TURN_RAD = np.radians(15.0)
BRIDGED_S = 0.025  # a hole this short is bridged by the spline of the even axis
TURN_HZ = 3.0  # how fast a hand changes its turning at most
STEPS = 6


@dataclass(frozen=True, slots=True)
class Turn:
    """From the middle of one pose to the middle of the next: rates (n, 3) as measured; bridged rad2: variance of the
    angle for the short holes in it.
    """

    first: int
    last: int
    gyro: Floats
    dt: float
    bridged: float = 0.0


@dataclass(frozen=True, slots=True)
class GyroFit:
    """theta (12,): bias rad/s, then G - I row by row of true = G (measured - bias); covariance (12, 12).

    turns: how many were used; at 0 the matrix is what was believed before.
    """

    theta: Floats
    covariance: Floats
    turns: int
    widened: float

    @property
    def sd(self) -> Floats:
        """(12,) standard uncertainties."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def turns_between(
    poses: Sequence[Pose], parts: Sequence[EvenSamples], gyro_range: float | None, used: frozenset[int]
) -> list[Turn]:
    """The turns that can be integrated: no more than single samples missing, none at full scale, not too long, and a
    turn indeed.
    """
    out = []
    order = [i for i in range(len(poses)) if i in used and poses[i].span is not None]
    for i, j in pairwise(order):
        here, there = poses[i], poses[j]
        if here.part != there.part or angle_between(here.force, there.force) < LEAST_TURN_RAD:
            continue
        even = parts[here.part]
        at = slice(here.middle, there.middle + 1)
        gyro = even.values[at, 3:]
        limit = 0.98 * (gyro_range or np.inf)
        holes = [len(hole) * even.period_s for hole in spans_of(even.filled[at])]
        if len(gyro) * even.period_s > LONGEST_TURN_S or max(holes, default=0.0) > BRIDGED_S:
            continue
        if np.abs(gyro).max() > limit:
            continue
        out.append(Turn(i, j, gyro, even.period_s, _bridged(gyro, holes, even.period_s)))
    return out


def _bridged(gyro: Floats, holes: Sequence[float], dt: float) -> float:
    """Error of the trapezium rule across each hole for a sine of the turn's greatest rate (docs/method.md, 2)."""
    size = float(np.abs(gyro - np.median(gyro, axis=0)).max())
    return sum(
        (size * (length + dt) * min(1.0, (2 * np.pi * TURN_HZ * (length + dt)) ** 2 / 12)) ** 2 for length in holes
    )


def fit_gyro(poses: Sequence[Pose], turns: Sequence[Turn], accel: AccelFit, prior: SensorPrior) -> GyroFit:
    """Gauss-Newton, maximum a posteriori; doubt left in the accelerometer's constants widens the turns' covariance."""
    belief = _prior_sd(prior)
    force = np.array([pose.force for pose in poses])
    true = corrected(accel.theta, force)
    up = true / np.linalg.norm(true, axis=1)[:, None]
    leaning = _up_slopes(accel.theta, force, up)
    middle = np.array([np.eye(3) if pose.to_middle is None else pose.to_middle for pose in poses])
    up, leaning = np.einsum("kab,kb->ka", middle, up), middle @ leaning
    used = [i for i in range(len(poses)) if i not in accel.dropped]
    rates = np.array([poses[i].rate for i in used])
    rate_sd = np.array([poses[i].rate_sd for i in used])
    theta = np.zeros(COUNT)
    theta[BIAS] = np.average(rates, axis=0, weights=rate_sd**-2)
    for _ in range(STEPS):
        miss = [((rates - theta[BIAS]) / rate_sd[:, None]).ravel()]
        slopes = [np.hstack((np.kron(1.0 / rate_sd[:, None], np.eye(3)), np.zeros((3 * len(used), 9))))]
        if turns:
            turn_miss, turn_slopes = _turn_rows(poses, turns, theta, up, leaning, accel.covariance, prior)
            miss.append(turn_miss)
            slopes.append(turn_slopes)
        data = np.concatenate(slopes)
        information = data.T @ data + np.diag(belief**-2)
        step = np.linalg.solve(information, data.T @ np.concatenate(miss) - theta / belief**2)
        theta = theta + step
        if float(np.max(np.abs(step) / belief)) < 1e-4:
            break
    covariance = np.linalg.inv(information)
    chi_square = float(np.sum(np.concatenate(miss) ** 2))
    freedom = 3.0 * len(used) + 2.0 * len(turns) - float(np.trace(data @ covariance @ data.T))
    unlikely = freedom > 0.5 and float(gammaincc(0.5 * freedom, 0.5 * chi_square)) < UNLIKELY
    widened = float(np.sqrt(chi_square / freedom)) if unlikely else 1.0
    return GyroFit(theta, covariance * widened**2, len(turns), widened)


def _prior_sd(prior: SensorPrior) -> Floats:
    """(12,): axes squared to the accelerometer's differ by both sensors' cross-axis errors, hence sqrt(2)."""
    square = np.where(np.eye(3).ravel() > 0, prior.gyro_scale, np.sqrt(2.0) * prior.cross)
    return np.concatenate((np.full(3, prior.gyro_bias), square))


def _up_slopes(theta: Floats, force: Floats, up: Floats) -> Floats:
    """(k, 3, 9): how each pose's vertical depends on the accelerometer's constants."""
    across = np.eye(3) - up[:, :, None] * up[:, None, :]
    size = np.linalg.norm(corrected(theta, force), axis=1)
    return np.asarray(np.einsum("kab,kbc->kac", across, derivatives(theta, force)) / size[:, None, None])


def _turn_rows(
    poses: Sequence[Pose], turns: Sequence[Turn], theta: Floats, up: Floats, leaning: Floats, doubt: Floats,
    prior: SensorPrior,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Whitened misses (3 t,) of the verticals after each turn, and their slopes (3 t, 12)."""
    miss, slopes = np.empty((len(turns), 3)), np.empty((len(turns), 3, COUNT))
    through = np.empty((len(turns), 3, 9))
    level = np.zeros((len(turns), 3, len(poses), 3))  # two turns share the pose between them
    own = np.empty(len(turns))
    square = np.eye(3) + theta[MATRIX].reshape(3, 3)
    for k, turn in enumerate(turns):
        net = turn.gyro - theta[BIAS]
        rate = net @ square.T
        turned = matrices(attitude(rate, turn.dt, np.array([1.0, 0.0, 0.0, 0.0])))
        back = turned[-1].T
        first, last = up[turn.first], up[turn.last]
        miss[k] = last - back @ first
        weight = np.full(len(net), turn.dt)
        weight[[0, -1]] *= 0.5
        whole = np.empty((3, COUNT))  # turn in the first pose's axes for each constant
        whole[:, BIAS] = -np.einsum("t,tab->ab", weight, turned) @ square
        whole[:, MATRIX] = np.einsum("t,tab,tc->abc", weight, turned, net).reshape(3, 9)
        slopes[k] = back @ _cross(first) @ whole
        through[k] = leaning[turn.last] - back @ leaning[turn.first]
        length = len(net) * turn.dt
        own[k] = (integral_var(prior.gyro_noise) + prior.tilt_walk**2) * length
        own[k] += turn.bridged + RATE_SHARE**2 * turn.dt * float(np.sum(rate**2))
        level[k, :, turn.last] = poses[turn.last].level_sd * np.eye(3)
        level[k, :, turn.first] = -poses[turn.first].level_sd * back
    flat, both = through.reshape(-1, 9), level.reshape(3 * len(turns), -1)
    factor = np.linalg.cholesky(np.diag(np.repeat(own, 3)) + both @ both.T + flat @ doubt @ flat.T)
    return np.linalg.solve(factor, miss.ravel()), np.linalg.solve(factor, slopes.reshape(-1, COUNT))


def _cross(a: Floats) -> Floats:
    """The (3, 3) matrix of a x."""
    return np.array([[0.0, -a[2], a[1]], [a[2], 0.0, -a[0]], [-a[1], a[0], 0.0]])
