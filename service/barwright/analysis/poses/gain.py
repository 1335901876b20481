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
PULL_S, FALL_S = 1.1, 0.5  # to the peak; from there to rest overhead
SPIN_RAD = np.radians(100.0)  # the bar turns about itself on its way into the catch
HOW = (
    "Standard uncertainty of the peak velocity of a modelled snatch (1.9 m/s, 1.1 s after the bar leaves the floor; "
    "1 s at rest on the floor before, 1 s held overhead after; the bar spins by 100 degrees), from the covariance "
    "of the fit between rests: before with what the class of the sensor leaves open, after with what the calibration "
    "leaves open and an allowance for drift."
)


def peak_velocity(prior: SensorPrior, calibration: Calibration | None) -> Estimate:
    """The modelled peak, m/s, with the u the analysis would give it for such a sensor."""
    prior = prior_after(prior, calibration)
    rise = _smooth(np.arange(0.0, PULL_S, DT) / PULL_S)
    fall = 1.0 - _smooth(np.arange(0.0, FALL_S, DT) / FALL_S)
    still = np.zeros(round(1.0 / DT))
    velocity = PEAK * np.concatenate((still, rise, fall, still))
    t = np.arange(len(velocity)) * DT
    angle = SPIN_RAD * _smooth(np.clip((t - 1.0) / (PULL_S + FALL_S), 0.0, 1.0))
    world = np.zeros((len(t), 3))
    world[:, 2] = STANDARD_GRAVITY + np.gradient(velocity, DT)
    axis = np.array([0.0, 1.0, 0.0])
    turned = matrices(from_rotation_vector(angle[:, None] * axis))
    accel = np.einsum("tba,tb->ta", turned, world)
    gyro = np.gradient(angle, DT)[:, None] * axis
    none = np.zeros(len(t))
    wander = plan_wandering(accel, gyro, DT, prior, none, none, np.zeros(len(t), dtype=bool))
    rests = (Rest(Span(0, len(still)), True), Rest(Span(len(t) - len(still), len(t)), False))
    params = FitParams()
    nominal = strapdown(accel, gyro, DT, LEVEL)
    steady = tuple(steadiness(rest, nominal, gyro, DT, params.hands) for rest in rests)
    stretch = Stretch(accel, gyro, DT, wander, rests, steady)
    open_sd = np.sqrt(constant_variances(prior, params.tilt_sd, params.velocity_sd))
    at = linearise(stretch, np.zeros(CONSTANTS), LEVEL, prior)
    solution = solve(stretch, at, (0, 1), ConstantPrior(np.zeros(CONSTANTS), np.diag(open_sd)))
    row = at.model.velocity_rows(np.array([1.0 + PULL_S]))[0, 2:3]
    return Estimate(PEAK, float(np.sqrt(solution.variances(row)[0])), "m/s")


def _smooth(u: Floats) -> Floats:
    return np.asarray(u * u * (3.0 - 2.0 * u))
