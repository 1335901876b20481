"""What a calibration buys: how well a snatch's peak velocity is known before and after, by the analysis's own model."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.calibration import Calibration, prior_after
from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior
from barwright.analysis.motion.error_model import CONSTANTS, constant_variances
from barwright.analysis.motion.rest_fit import FitParams
from barwright.analysis.motion.rest_rows import steadiness
from barwright.analysis.motion.rest_solve import ConstantPrior, Stretch, linearise, solve
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.strapdown import strapdown
from barwright.analysis.motion.wandering import plan_wandering
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.rotations import from_rotation_vector, matrices
from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]
DT = 0.01
LEVEL = np.array([1.0, 0.0, 0.0, 0.0])
PEAK = 1.9  # m/s
FLOOR_S, PULL_S, FALL_S, SQUAT_S, STAND_S, HOLD_S = 1.5, 0.85, 0.75, 0.5, 1.8, 1.0
STAND_M = 0.5
SPIN_RAD = np.radians(100.0)  # the bar turns about itself on its way into the catch


def peak_velocity(prior: SensorPrior, calibration: Calibration | None) -> Estimate:
    """The modelled peak, m/s, with the u the analysis would give it for such a sensor."""
    prior = prior_after(prior, calibration)
    t = np.arange(0.0, FLOOR_S + PULL_S + FALL_S + SQUAT_S + STAND_S + HOLD_S, DT)
    peak = FLOOR_S + PULL_S
    squat = peak + FALL_S
    stand = squat + SQUAT_S
    hold = stand + STAND_S
    velocity = PEAK * (_smooth((t - FLOOR_S) / PULL_S) - _smooth((t - peak) / FALL_S))
    velocity += np.gradient(STAND_M * _smooth((t - stand) / STAND_S), DT)
    angle = SPIN_RAD * _smooth((t - FLOOR_S) / (PULL_S + FALL_S))
    world = np.zeros((len(t), 3))
    world[:, 2] = STANDARD_GRAVITY + np.gradient(velocity, DT)
    axis = np.array([0.0, 1.0, 0.0])
    turned = matrices(from_rotation_vector(angle[:, None] * axis))
    accel = np.einsum("tba,tb->ta", turned, world)
    gyro = np.gradient(angle, DT)[:, None] * axis
    none = np.zeros(len(t))
    wander = plan_wandering(accel, gyro, DT, prior, none, none, np.zeros(len(t), dtype=bool))
    rests = tuple(
        Rest(Span(round(start / DT), round(stop / DT)), firm)
        for start, stop, firm in ((0.0, FLOOR_S, True), (squat, stand, False), (hold, float(t[-1]), False))
    )
    params = FitParams()
    nominal = strapdown(accel, gyro, DT, LEVEL)
    steady = tuple(steadiness(rest, nominal, gyro, DT, params.hands) for rest in rests)
    stretch = Stretch(accel, gyro, DT, wander, rests, steady)
    open_sd = np.sqrt(constant_variances(prior, params.tilt_sd, params.velocity_sd))
    at = linearise(stretch, np.zeros(CONSTANTS), LEVEL, prior)
    solution = solve(stretch, at, (0, 1, 2), ConstantPrior(np.zeros(CONSTANTS), np.diag(open_sd)))
    row = at.model.velocity_rows(np.array([peak]))[0, 2:3]
    return Estimate(PEAK, float(np.sqrt(solution.variances(row)[0])), "m/s")


def _smooth(u: Floats) -> Floats:
    inside = np.clip(u, 0.0, 1.0)
    return np.asarray(inside * inside * (3.0 - 2.0 * inside))
