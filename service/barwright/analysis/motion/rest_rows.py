"""What each rest says, as rows of a least-squares fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import NOISE_MARGIN, STANDARD_GRAVITY, SensorPrior, integral_var
from barwright.analysis.motion.error_model import GYRO_BIAS, GYRO_MATRIX, ErrorModel
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.strapdown import Strapdown, running_integral

Floats = NDArray[np.float64]
SWAY_HZ = 0.8  # people holding a bar sway by about 3 mm at about 1 Hz (common practice, no source)
FREE_SPIN = 3.0  # rad/s
HELD_TURN = 0.02  # rad/s: a bar held in hands may turn this fast all through a rest
RATE_FLOOR = 1e-4  # rad/s: the Earth turns at 7.3e-5 rad/s, and a gyro's bias wanders by as much
UP = np.array([0.0, 0.0, 1.0])
SAMPLED = 9  # points of a rest at which slow sensitivities are averaged


@dataclass(frozen=True, slots=True)
class HandParams:
    """The least unsteadiness credited to living hands, for a short rest cannot show it: sway_m rms, lean_rad rms."""

    sway_m: float = 0.002
    lean_rad: float = 0.012


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How unsteady a rest was: sway (3,) rms m in world axes, lean rms rad."""

    sway: Floats
    lean: float


@dataclass(frozen=True, slots=True)
class RestRows:
    """What every candidate says, were it a rest: (k candidates, 9 rows of acceleration, rate, velocity).

    jacobian (k, 9, columns), wanted (k, 9), variance (k, 9); height (k,) m, its sensitivities height_rows (k, columns).
    """

    jacobian: Floats
    wanted: Floats
    variance: Floats
    height: Floats
    height_rows: Floats
    length_s: Floats


@lru_cache(maxsize=256)
def parabola(n: int) -> Floats:
    """Weights that make a mean velocity the least-squares slope of position over the rest: sway hurts it least."""
    u = (np.arange(n) + 0.5) / n
    return _shares(u * (1 - u))


@lru_cache(maxsize=256)
def quartic(n: int) -> Floats:
    """Weights that make a mean acceleration the least-squares bend of position over the rest."""
    u = (np.arange(n) + 0.5) / n
    return _shares((u * (1 - u)) ** 2)


def _shares(w: Floats) -> Floats:
    out = w / w.sum()
    out.flags.writeable = False  # lent to every rest of this length
    return np.asarray(out)


def steadiness(rest: Rest, nominal: Strapdown, gyro: Floats, dt: float, hands: HandParams) -> Steadiness:
    """Sway and lean seen in a rest, never less than living hands or a floor are credited with."""
    part = rest.span.as_slice()
    length = len(rest.span) * dt
    sway, lean = _sway(nominal.force[part], dt), _lean(gyro[part], dt)
    if rest.firm:
        return Steadiness(np.maximum(sway, 2e-5), max(lean, 2e-5))
    least_sway, least_lean = hands.sway_m / np.sqrt(1 + (length / 2.0) ** 2), hands.lean_rad / np.sqrt(1 + length**2)
    return Steadiness(np.maximum(sway, least_sway), max(lean, least_lean))


def rest_rows(
    rests: Sequence[Rest], steady: Sequence[Steadiness], nominal: Strapdown, gyro: Floats, dt: float, model: ErrorModel,
    prior: SensorPrior, free_axis: Floats | None = None,
) -> RestRows:  # fmt: skip
    """Rows of all candidates at once: mean force is gravity, mean rate and mean velocity are nought."""
    k = len(rests)
    jacobian = np.zeros((k, 9, model.columns))
    wanted, height = np.empty((k, 9)), np.empty(k)
    length = np.array([len(rest.span) * dt for rest in rests])
    u = (np.arange(SAMPLED) + 0.5) / SAMPLED
    times = np.array([rest.span.start * dt for rest in rests])[:, None] + length[:, None] * u
    w, w2 = parabola(SAMPLED), quartic(SAMPLED)
    flat = times.ravel()
    near = model.nodes.about(flat)
    gravity = np.array([0.0, 0.0, STANDARD_GRAVITY])
    jacobian[:, 0:3] = model.accel_at(flat, gravity, near).averaged(w2).rows()
    jacobian[:, 6:9] = model.velocity_at(flat, near).averaged(w).rows()
    height_rows = model.position_at(flat, near).averaged(w).along(UP)
    for i, rest in enumerate(rests):
        part = rest.span.as_slice()
        full = parabola(len(rest.span))
        wanted[i, 0:3] = gravity - quartic(len(rest.span)) @ nominal.force[part]
        wanted[i, 3:6] = -(full @ gyro[part])
        wanted[i, 6:9] = -(full @ nominal.velocity[part])
        height[i] = float(full @ nominal.position[part, 2])
    variance = _row_variances(length, [rest.firm for rest in rests], steady, prior)
    variance[:, 3:6] += (model.wander.gyro_walk**2 * np.abs(times.mean(axis=1) - model.wander.middle_s))[:, None]
    for axis in range(3):
        jacobian[:, 3 + axis, GYRO_BIAS.start + axis] = -1.0
        jacobian[:, 3 + axis, GYRO_MATRIX][:, 3 * axis : 3 * axis + 3] = wanted[:, 3:6]
    if free_axis is not None:  # a sleeve's own spin says nothing of the gyro
        variance[:, 3:6] += (FREE_SPIN * free_axis) ** 2
    return RestRows(jacobian, wanted, variance, height, height_rows, length)


def _row_variances(length: Floats, firm: Sequence[bool], how: Sequence[Steadiness], prior: SensorPrior) -> Floats:
    """(k, 9) variances of rests' mean acceleration, rate and velocity, from the sway the means do not cancel."""
    out = np.empty((len(length), 9))
    sway, lean = np.array([one.sway for one in how]), np.array([one.lean for one in how])
    flat, floor = length, np.array(firm)
    length, cycles = flat[:, None], np.maximum(1.0, SWAY_HZ * flat)[:, None]
    out[:, 6:] = (1.9 * sway / (length * cycles)) ** 2 + (0.5 * sway / length) ** 2
    out[:, 6:] += np.where(floor, 0.0005, 0.002)[:, None] ** 2
    out[:, :3] = (15.0 * sway / (length * cycles) ** 2) ** 2 + (1.5 * sway / length**2) ** 2
    out[:, :3] += NOISE_MARGIN * integral_var(prior.accel_noise) * 1.4 / length + 0.001**2
    rate = (
        (2.2 * lean / (flat * cycles[:, 0])) ** 2
        + (0.6 * lean / flat) ** 2
        + NOISE_MARGIN * integral_var(prior.gyro_noise) * 1.2 / flat
        + np.where(floor, RATE_FLOOR, HELD_TURN) ** 2
    )
    out[:, 3:6] = rate[:, None]
    return out


def _sway(force: Floats, dt: float) -> Floats:
    """(3,) rms of position about a cubic over the rest: what moves there beyond drift."""
    position = running_integral(running_integral(force - force.mean(axis=0), dt), dt)
    basis = _cubics(len(force))
    left = position - basis @ (basis.T @ position)
    return np.asarray(np.sqrt(np.mean(left**2, axis=0)))


def _cubics(n: int) -> Floats:
    """(n, 4) orthonormal columns that span the cubics over n even samples: even and odd powers part by symmetry."""
    u = np.linspace(-1.0, 1.0, n)
    square = u * u
    mean = square.mean()
    columns = np.stack((np.ones(n), u, square - mean, u * (square - (square @ square) / (n * mean))), axis=1)
    return np.asarray(columns / np.maximum(np.sqrt(np.einsum("ij,ij->j", columns, columns)), 1e-9))


def _lean(gyro: Floats, dt: float) -> float:
    """Rms angle about a straight line over the rest."""
    angle = running_integral(gyro - gyro.mean(axis=0), dt)
    return float(np.sqrt(np.mean(angle**2)))
