"""One linear solve of a stretch: posterior of constants and wandering from the rests believed so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dpotrs, dtrtrs

from barwright.analysis.motion.device_class import SensorPrior
from barwright.analysis.motion.error_model import (
    ACCEL_BIAS,
    ACCEL_MATRIX,
    CONSTANTS,
    GYRO_BIAS,
    GYRO_MATRIX,
    START_VELOCITY,
    TILT,
    ErrorModel,
    build_error_model,
)
from barwright.analysis.motion.lever import at_middle, swing_of
from barwright.analysis.motion.rest_rows import RestRows, Steadiness, rest_rows
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.strapdown import Strapdown, attitude, reckon
from barwright.analysis.motion.wandering import Wandering
from barwright.analysis.quantities.rotations import from_rotation_vector, multiply
from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]
ROWS = 9  # a rest's rows: acceleration, rate, velocity
FLOOR_SD_M = 0.003  # how alike in height rests on one floor are: plates out of round, a platform that gives


@dataclass(frozen=True, slots=True)
class ConstantPrior:
    """Gaussian belief about the constants: mean (30,), covariance factor @ factor.T."""

    mean: Floats
    factor: Floats


@dataclass(frozen=True, slots=True)
class Stretch:
    """Unbroken samples: accel, gyro (n, 3), even dt; how errors wander; candidate rests by local sample number.

    free_axis (3,): about which the sensor may spin while the bar rests. arm (3,): from the bar's middle to the sensor,
    m, sensor frame; the motion is then that of the middle.
    """

    accel: Floats
    gyro: Floats
    dt: float
    wander: Wandering
    candidates: tuple[Rest, ...]
    steady: tuple[Steadiness, ...] = ()
    free_axis: Floats | None = None
    arm: Floats | None = None


@dataclass(frozen=True, slots=True)
class Linearised:
    """A nominal solution at constants theta (30,) and jolts (K, 3), with its sensitivities and what candidates say."""

    theta: Floats
    jolts: Floats
    nominal: Strapdown
    gyro: Floats
    model: ErrorModel
    rests: RestRows


@dataclass(frozen=True, slots=True)
class Solution:
    """Posterior of one stretch. All columns are scaled so that their prior is a unit Gaussian."""

    at: Linearised
    candidates: tuple[Rest, ...]
    believed: tuple[int, ...]
    prior: ConstantPrior
    latent: Floats  # (columns,) posterior mean, unit coordinates
    rows: Floats  # (m, columns)
    wanted: Floats  # (m,)
    factor: tuple[Floats, bool]

    @property
    def theta(self) -> Floats:
        """(30,) posterior mean of the constants."""
        return np.asarray(self.prior.mean + self.prior.factor @ self.latent[:CONSTANTS])

    @property
    def jolts(self) -> Floats:
        """(K, 3) rad: posterior mean of the tilt steps too large to be linear; nought elsewhere."""
        loud = self.at.model.wander.loud
        out = np.zeros_like(self.at.jolts)
        out[loud] = self.at.model.tilt_steps(self.latent)[loud]
        return out

    @property
    def correction(self) -> Floats:
        """(columns,) what to add to the nominal solution, in the error model's own columns."""
        whole = np.concatenate((self.theta - self.at.theta, self.latent[CONSTANTS:]))
        return whole - self.at.model.tilt_columns(self.at.jolts)

    def shared_covariance(self, count: int) -> Floats:
        """(count, count) posterior covariance of the first constants."""
        rows = np.zeros((count, self.rows.shape[1]))
        rows[:, :CONSTANTS] = np.eye(count, CONSTANTS)
        return self.covariance(rows)

    def covariance(self, functionals: Floats) -> Floats:
        """(k, k) posterior covariance of linear figures whose sensitivities are the rows of (k, columns)."""
        mixed = _mixed(functionals, self.prior)
        cross = mixed @ self.rows.T
        out = mixed @ mixed.T - cross @ _solved(self.factor, cross.T)
        return np.asarray(0.5 * (out + out.T))

    def variances(self, functionals: Floats) -> Floats:
        """(k,) posterior variances of the same."""
        mixed = _mixed(functionals, self.prior)
        told = dtrtrs(self.factor[0], self.rows @ mixed.T, lower=1)[0]
        spread = np.einsum("kc,kc->k", mixed, mixed)
        return np.asarray(np.maximum(spread - np.einsum("mk,mk->k", told, told), 0.0))

    def expected_misses(self, numbers: Sequence[int]) -> tuple[Floats, Floats]:
        """What the rows (k, 9) of candidates should miss by, were they rests, and its covariances (k, 9, 9)."""
        rests, chosen = self.at.rests, list(numbers)
        k, rows = len(chosen), rests.jacobian[chosen]
        mixed = _mixed(rows.reshape(k * ROWS, -1), self.prior)
        cross = mixed @ self.rows.T
        own, gained = mixed.reshape(k, ROWS, -1), _solved(self.factor, cross.T).T.reshape(k, ROWS, -1)
        spread = own @ own.transpose(0, 2, 1) - cross.reshape(k, ROWS, -1) @ gained.transpose(0, 2, 1)
        spread = 0.5 * (spread + spread.transpose(0, 2, 1))
        spread[:, np.arange(ROWS), np.arange(ROWS)] += rests.variance[chosen]
        return rests.wanted[chosen] - rows @ self.correction, spread

    def left_out_misses(self) -> tuple[Floats, Floats]:
        """The same for the k believed rests, each as all the other rows expect it (closed form)."""
        k = len(self.believed)
        inverse = _solved(self.factor, np.eye(len(self.rows)))
        pulled = (inverse @ self.wanted)[: k * ROWS].reshape(k, ROWS)
        places = np.arange(k * ROWS).reshape(k, ROWS)
        spread: Floats = np.linalg.inv(inverse[places[:, :, None], places[:, None, :]]).astype(np.float64, copy=False)
        return (spread @ pulled[:, :, None])[:, :, 0], spread


def _factor(spread: Floats) -> tuple[Floats, bool]:
    """Cholesky factor; long stillness says the same thing many times over, and rounding may then need a little room."""
    for room in (0.0, 1e-9):
        spread[np.diag_indices_from(spread)] *= 1.0 + room
        lower, failed = dpotrf(spread.T, lower=1)
        if not failed:
            return lower, True
    raise np.linalg.LinAlgError("the rows of the rests contradict each other")


def _solved(factor: tuple[Floats, bool], right: Floats) -> Floats:
    """What the factored matrix turns into `right`, (m,) or (m, k)."""
    return np.asarray(dpotrs(factor[0], right, lower=1)[0])


def _mixed(rows: Floats, prior: ConstantPrior) -> Floats:
    out = rows.copy()
    out[:, :CONSTANTS] = rows[:, :CONSTANTS] @ prior.factor
    return out


def linearise(
    stretch: Stretch, theta: Floats, start: Floats, prior: SensorPrior, jolts: Floats | None = None
) -> Linearised:
    """Dead reckoning with the constants theta and the jolts taken out, and the sensitivities there."""
    jolts = np.zeros((len(stretch.wander.knots_s), 3)) if jolts is None else jolts
    nominal, accel, gyro = dead_reckon(stretch, theta, start, jolts)
    model = build_error_model(nominal, accel, gyro, stretch.dt, stretch.wander)
    rests = rest_rows(stretch.candidates, stretch.steady, nominal, gyro, stretch.dt, model, prior, stretch.free_axis)
    return Linearised(theta, jolts, nominal, gyro, model, rests)


def with_rests(at: Linearised, stretch: Stretch, prior: SensorPrior) -> Linearised:
    """The same nominal solution with other candidates."""
    rests = rest_rows(
        stretch.candidates, stretch.steady, at.nominal, at.gyro, stretch.dt, at.model, prior, stretch.free_axis
    )
    return replace(at, rests=rests)


def dead_reckon(
    stretch: Stretch, theta: Floats, start: Floats, jolts: Floats | None = None
) -> tuple[Strapdown, Floats, Floats]:
    """Strapdown with the constants theta taken out; also the corrected force and rates (n, 3)."""
    accel = stretch.accel - stretch.accel @ theta[ACCEL_MATRIX].reshape(3, 3).T - theta[ACCEL_BIAS]
    gyro = stretch.gyro - stretch.gyro @ theta[GYRO_MATRIX].reshape(3, 3).T - theta[GYRO_BIAS]
    q = attitude(gyro, stretch.dt, multiply(from_rotation_vector(theta[TILT]), start))
    if jolts is not None:
        for k in np.flatnonzero(jolts.any(axis=1)):
            after = int(np.ceil(stretch.wander.steps_s[k] / stretch.dt))
            q[after:] = multiply(from_rotation_vector(jolts[k]), q[after:])
    nominal = reckon(accel, q, stretch.dt)
    if stretch.arm is not None:
        nominal = at_middle(nominal, swing_of(nominal, gyro, stretch.arm, stretch.dt), stretch.arm, stretch.dt)
    t = np.arange(len(accel))[:, None] * stretch.dt
    v0 = theta[START_VELOCITY]
    return replace(nominal, velocity=nominal.velocity + v0, position=nominal.position + v0 * t), accel, gyro


def thinned(stretch: Stretch, rate_hz: float) -> tuple[Stretch, int]:
    """The stretch with runs of samples averaged down to about rate_hz, and how many went into one."""
    k = max(1, int(1.0 / (stretch.dt * rate_hz)))
    if k == 1:
        return stretch, 1
    n = len(stretch.accel) // k

    def mean(x: Floats) -> Floats:
        return np.asarray(x[: n * k].reshape(n, k, -1).mean(axis=1).reshape((n, *x.shape[1:])))

    candidates = tuple(Rest(Span(-(-r.span.start // k), min(n, r.span.stop // k)), r.firm) for r in stretch.candidates)
    thin = Stretch(mean(stretch.accel), mean(stretch.gyro), stretch.dt * k, stretch.wander, candidates)
    return replace(thin, free_axis=stretch.free_axis, arm=stretch.arm), k


def solve(stretch: Stretch, at: Linearised, believed: tuple[int, ...], prior: ConstantPrior) -> Solution:
    """Rows of the believed rests, floor rests at one height; closed-form posterior."""
    rests = at.rests
    chosen = list(believed)
    rows = [rests.jacobian[chosen].reshape(-1, at.model.columns)]
    wanted, noise = [rests.wanted[chosen].ravel()], [rests.variance[chosen].ravel()]
    firm = [i for i in believed if stretch.candidates[i].firm]
    if len(firm) > 1:
        rows.append(rests.height_rows[firm[1:]] - rests.height_rows[firm[0]])
        wanted.append(rests.height[firm[0]] - rests.height[firm[1:]])
        noise.append(np.full(len(firm) - 1, FLOOR_SD_M**2))
    raw = np.concatenate(rows)
    target = (
        np.concatenate(wanted) + raw[:, :CONSTANTS] @ (at.theta - prior.mean) + raw @ at.model.tilt_columns(at.jolts)
    )
    jacobian = _mixed(raw, prior)
    spread = jacobian @ jacobian.T
    spread[np.diag_indices_from(spread)] += np.concatenate(noise)
    factor = _factor(spread)
    latent = jacobian.T @ _solved(factor, target)
    return Solution(at, stretch.candidates, believed, prior, latent, jacobian, target, factor)


def more_rows(solution: Solution, raw: Floats, wanted: Floats, variance: Floats) -> Solution:
    """The posterior with more rows (m, columns) about the same nominal solution, what they want (m,) and how surely."""
    at, prior = solution.at, solution.prior
    shifted = wanted + raw[:, :CONSTANTS] @ (at.theta - prior.mean) + raw @ at.model.tilt_columns(at.jolts)
    rows = np.concatenate((solution.rows, _mixed(raw, prior)))
    known = np.tril(solution.factor[0])
    spread = rows @ rows.T
    old = len(solution.rows)
    spread[:old, :old] = known @ known.T
    spread[np.arange(old, len(rows)), np.arange(old, len(rows))] += variance
    target = np.concatenate((solution.wanted, shifted))
    factor = _factor(spread)
    return replace(solution, rows=rows, wanted=target, factor=factor, latent=rows.T @ _solved(factor, target))
