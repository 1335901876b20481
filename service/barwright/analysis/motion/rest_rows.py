"""What each rest says, as rows of a least-squares fit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.error_model import GYRO_BIAS, GYRO_MATRIX, ErrorModel
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.strapdown import Strapdown, running_integral

Floats = NDArray[np.float64]
SWAY_HZ = 0.8  # people holding a bar sway by about 3 mm at about 1 Hz (common practice, no source)
HELD_SWAY_M = 0.0025  # least sway credited to living hands: short rests cannot show it
HELD_LEAN_RAD = 0.006


@dataclass(frozen=True, slots=True)
class RestFacts:
    """Weighted means over one rest. sd: of velocity, acceleration (3,) and rate, from the sway seen in it."""

    centre_s: float
    length_s: float
    velocity: Floats
    accel: Floats
    rate: Floats
    velocity_sd: Floats
    accel_sd: Floats
    rate_sd: float
    position: Floats


def parabola(n: int) -> Floats:
    """Weights that make a mean velocity the least-squares slope of position over the rest: sway hurts it least."""
    u = (np.arange(n) + 0.5) / n
    w = u * (1 - u)
    return np.asarray(w / w.sum())


def quartic(n: int) -> Floats:
    """Weights that make a mean acceleration the least-squares bend of position over the rest."""
    u = (np.arange(n) + 0.5) / n
    w = (u * (1 - u)) ** 2
    return np.asarray(w / w.sum())


def rest_facts(rest: Rest, nominal: Strapdown, gyro: Floats, dt: float, accel_noise: float, gyro_noise: float) -> RestFacts:
    """The rest's rows and how far each can be trusted."""
    part = rest.span.as_slice()
    n = len(rest.span)
    length = n * dt
    w, w2 = parabola(n), quartic(n)
    accel = nominal.acceleration[part]
    sway = _sway(accel, dt)
    lean = _lean(gyro[part], dt)
    if rest.firm:
        sway, lean = np.maximum(sway, 2e-5), max(lean, 2e-5)
    else:
        sway, lean = np.maximum(sway, HELD_SWAY_M / np.sqrt(1 + (length / 2.0) ** 2)), max(lean, HELD_LEAN_RAD / 2)
    cycles = max(1.0, SWAY_HZ * length)
    velocity_sd = np.hypot(2.2 * sway / (length * cycles), 0.6 * sway / length)
    accel_sd = np.hypot(20.0 * sway / (length * cycles) ** 2, 2.0 * sway / length**2)
    return RestFacts(
        centre_s=(rest.span.start + 0.5 * (n - 1)) * dt,
        length_s=length,
        velocity=w @ nominal.velocity[part],
        accel=w2 @ accel,
        rate=w @ gyro[part],
        velocity_sd=np.hypot(velocity_sd, 0.0005 if rest.firm else 0.002),
        accel_sd=np.sqrt(accel_sd**2 + accel_noise**2 * 1.4 / length + 0.001**2),
        rate_sd=float(np.sqrt((2.2 * lean / (length * cycles)) ** 2 + (0.6 * lean / length) ** 2 + gyro_noise**2 * 1.2 / length + 1e-10)),
        position=w @ nominal.position[part],
    )


def _sway(accel: Floats, dt: float) -> Floats:
    """(3,) rms of position about a cubic over the rest: what moves there beyond drift."""
    net = accel - accel.mean(axis=0)
    position = running_integral(running_integral(net, dt), dt)
    u = np.linspace(-1, 1, len(net))
    basis = np.linalg.qr(np.vander(u, 4))[0]
    left = position - basis @ (basis.T @ position)
    return np.asarray(np.sqrt(np.mean(left**2, axis=0)))


def _lean(gyro: Floats, dt: float) -> float:
    """Rms angle about a straight line over the rest."""
    angle = running_integral(gyro - gyro.mean(axis=0), dt)
    return float(np.sqrt(np.mean(angle**2)))


def rest_rows(facts: RestFacts, model: ErrorModel, force: Floats) -> tuple[Floats, Floats, Floats]:
    """What a rest says: mean force is gravity, mean rate and mean velocity are nought.

    Returns sensitivities (9, columns), what they should explain (9,), and variances (9,): acceleration, rate, velocity.
    """
    t = _sample_times(facts)
    accel = np.einsum("t,tac->ac", quartic(len(t)), model.accel_rows(t, np.broadcast_to(force, (len(t), 3))))
    rate = np.zeros((3, model.columns))
    rate[:, GYRO_BIAS] = -np.eye(3)
    rate[:, GYRO_MATRIX] = -np.kron(np.eye(3), facts.rate)
    velocity = np.einsum("t,tac->ac", parabola(len(t)), model.velocity_rows(t))
    rows = np.concatenate((accel, rate, velocity))
    wanted = -np.concatenate((facts.accel, facts.rate, facts.velocity))
    return rows, wanted, np.concatenate((facts.accel_sd**2, np.full(3, facts.rate_sd**2), facts.velocity_sd**2))


def height_row(facts: RestFacts, model: ErrorModel) -> tuple[Floats, float]:
    """Sensitivity (columns,) and nominal value of the mean height of a rest."""
    t = _sample_times(facts)
    rows = np.einsum("t,tc->c", parabola(len(t)), model.position_rows(t)[:, 2])
    return rows, float(facts.position[2])


def _sample_times(facts: RestFacts) -> Floats:
    count = int(np.clip(round(facts.length_s / 0.05), 5, 25))
    return facts.centre_s + facts.length_s * ((np.arange(count) + 0.5) / count - 0.5)


