"""Bias, scale and cross-axis errors of an accelerometer from still poses in any order and attitude.

Multi-position calibration (Tedaldi, Pretto and Menegatti 2014, A robust and easy to implement method for IMU
calibration without external equipments, ICRA, 3042-3049): at rest the corrected force is as long as gravity whatever
the attitude. Their least squares are whitened here and joined by what is known of the class of sensor, so that a
constant the poses do not show keeps the uncertainty it had.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincc

from barwright.analysis.motion.device_class import SensorPrior
from barwright.analysis.poses.still_poses import Pose

Floats = NDArray[np.float64]
COUNT = 9
BIAS, SCALE, CROSS = slice(0, 3), slice(3, 6), slice(6, 9)
UPPER = ((0, 1), (0, 2), (1, 2))
STRAY, BLAME = 4.0, 0.9  # a pose so many sigmas off that it makes up this share of the chi-square was not still
FEWEST = 6  # poses are dropped only while so many stay
MOST_DROPPED = 4  # one pose in so many
UNLIKELY = 0.01


@dataclass(frozen=True, slots=True)
class AccelFit:
    """theta (9,): bias m/s2, scale and cross (xy, xz, yz) as in matrix(theta); covariance (9, 9), already widened.

    misses: (k,) corrected force less gravity of every pose, m/s2. dropped: numbers of poses left out.
    chi_square of the poses used, with its freedom and the probability of more; widened: factor on all u, 1 when the
    poses agree.
    """

    theta: Floats
    covariance: Floats
    misses: Floats
    dropped: tuple[int, ...]
    chi_square: float
    freedom: float
    probability: float
    widened: float

    @property
    def sd(self) -> Floats:
        """(9,) standard uncertainties."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    @property
    def information(self) -> Floats:
        """(9, 9) what poses and prior together know."""
        return np.asarray(np.linalg.inv(self.covariance))


def matrix(theta: Floats) -> Floats:
    """The upper-triangular (3, 3) C of true = C (measured - bias)."""
    out = np.eye(3) + np.diag(theta[SCALE])
    for value, place in zip(theta[CROSS], UPPER, strict=True):
        out[place] = value
    return out


def corrected(theta: Floats, force: Floats) -> Floats:
    """(k, 3) true force for readings (k, 3)."""
    return np.asarray((force - theta[BIAS]) @ matrix(theta).T)


def derivatives(theta: Floats, force: Floats) -> Floats:
    """(k, 3, 9): how corrected force depends on the constants."""
    net = force - theta[BIAS]
    out = np.zeros((len(force), 3, COUNT))
    out[:, :, BIAS] = -matrix(theta)
    for axis in range(3):
        out[:, axis, 3 + axis] = net[:, axis]
    for column, (row, source) in enumerate(UPPER):
        out[:, row, 6 + column] = net[:, source]
    return out


def prior_sd(prior: SensorPrior, gravity_sd: float) -> Floats:
    """(9,) what the class of sensor leaves open; gravity_sd, relative, looks like scale.

    A triangular matrix holds the sum of two opposite cross-axis errors, hence sqrt(2).
    """
    scale = float(np.hypot(prior.accel_scale, gravity_sd))
    return np.repeat([prior.accel_bias, scale, np.sqrt(2.0) * prior.cross], 3)


def fit_accel(poses: Sequence[Pose], gravity: float, prior: SensorPrior, gravity_sd: float) -> AccelFit:
    """Maximum-a-posteriori constants; gravity m/s2, gravity_sd its relative uncertainty."""
    force = np.array([pose.force for pose in poses])
    sd = np.array([pose.force_sd for pose in poses])
    belief = prior_sd(prior, 0.0)
    kept = list(range(len(poses)))
    while True:
        theta, rows = _solve(force[kept], sd[kept], gravity, belief)
        data = rows[: len(kept)]
        covariance: Floats = np.asarray(np.linalg.inv(rows.T @ rows))
        share = np.einsum("kc,cd,kd->k", data, covariance, data)
        miss = _misses(theta, force[kept], gravity) / sd[kept]
        worst = _worst(miss, share)
        if worst is None or len(kept) <= FEWEST or (len(poses) - len(kept) + 1) * MOST_DROPPED > len(poses):
            break
        del kept[worst]
    chi_square, freedom = float(miss @ miss), float(len(kept) - share.sum())
    probability = float(gammaincc(0.5 * freedom, 0.5 * chi_square)) if freedom > 0.5 else 1.0
    widened = float(np.sqrt(chi_square / freedom)) if probability < UNLIKELY else 1.0
    covariance = np.asarray(covariance * widened**2)
    covariance[SCALE, SCALE] += gravity_sd**2
    dropped = tuple(i for i in range(len(poses)) if i not in kept)
    misses = _misses(theta, force, gravity)
    return AccelFit(theta, covariance, misses, dropped, chi_square, freedom, probability, widened)


def _solve(force: Floats, sd: Floats, gravity: float, belief: Floats) -> tuple[Floats, Floats]:
    """theta and the whitened rows (k + 9, 9) at the minimum: poses, then prior."""

    def residuals(x: Floats) -> Floats:
        theta = x * belief
        return np.concatenate((_misses(theta, force, gravity) / sd, x))

    def slopes(x: Floats) -> Floats:
        return np.concatenate((_rows(x * belief, force) / sd[:, None] * belief, np.eye(COUNT)))

    from scipy.optimize import least_squares  # a second to load, and most processes never calibrate

    found = least_squares(residuals, np.zeros(COUNT), jac=slopes, method="lm", xtol=1e-12, ftol=1e-12, gtol=1e-12)
    return found.x * belief, slopes(found.x) / belief


def _misses(theta: Floats, force: Floats, gravity: float) -> Floats:
    return np.asarray(np.linalg.norm(corrected(theta, force), axis=1) - gravity)


def _rows(theta: Floats, force: Floats) -> Floats:
    """(k, 9): how the length of corrected force depends on the constants."""
    true = corrected(theta, force)
    along = true / np.linalg.norm(true, axis=1)[:, None]
    return np.asarray(np.einsum("ka,kac->kc", along, derivatives(theta, force)))


def _worst(miss: Floats, share: Floats) -> int | None:
    """The pose the others deny, by its left-out miss in sigmas (share: its leverage); None when all agree."""
    left = np.where(1.0 - share > 0.02, np.abs(miss) / np.sqrt(np.maximum(1.0 - share, 0.02)), 0.0)
    worst = int(np.argmax(left))
    alone = left[worst] ** 2 > BLAME * float(miss @ miss)  # its square is what dropping it takes off the chi-square
    return worst if left[worst] > STRAY and alone else None
