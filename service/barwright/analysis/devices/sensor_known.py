"""From what was found of a sensor to what the error model wants to know of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.devices.expected import SensorKnown
from barwright.analysis.motion.allan import allan_deviation, together
from barwright.analysis.motion.calibration import (
    DRIFT_BIAS,
    DRIFT_CROSS,
    DRIFT_GYRO_BIAS,
    DRIFT_SCALE,
    Calibration,
    prior_after,
)
from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior
from barwright.analysis.motion.error_model import (
    ACCEL_BIAS,
    ACCEL_MATRIX,
    GYRO_BIAS,
    GYRO_MATRIX,
    SHARED,
    constant_variances,
)

Floats = NDArray[np.float64]
DIAGONAL = np.eye(3, dtype=bool).ravel()
UPPER = np.triu(np.ones((3, 3), dtype=bool), 1).ravel()


def as_it_is(known: SensorKnown, found: Calibration, before: Calibration | None) -> SensorKnown:
    """The sensor with the constants that were found in it, less those an earlier calibration takes out.

    known: noise, rate and what the analysis believes of it.
    """
    square, bias = _accel(found)
    turning, zero = np.array(found.gyro_matrix), np.array(found.gyro_bias)
    if before is not None:
        square_1, bias_1 = _accel(before)
        square, bias = square @ np.linalg.inv(square_1), square_1 @ (bias - bias_1)
        turning_1 = np.array(before.gyro_matrix)
        turning, zero = turning @ np.linalg.inv(turning_1), turning_1 @ (zero - np.array(before.gyro_bias))
    constants = np.zeros(SHARED)  # of true = (I - E) measured - b
    constants[ACCEL_BIAS], constants[ACCEL_MATRIX] = square @ bias, (np.eye(3) - square).ravel()
    constants[GYRO_BIAS], constants[GYRO_MATRIX] = turning @ zero, (np.eye(3) - turning).ravel()
    return replace(
        known,
        believed=prior_after(known.believed, before),
        constants=constants,
        spread=np.diag(_sd(found, known.believed) ** 2),
    )


def calibrated(known: SensorKnown, found: Calibration) -> SensorKnown:
    """The sensor with these constants taken out: their own doubt is left, and drift until the day of the set."""
    drift = np.zeros(SHARED)
    drift[GYRO_BIAS], drift[ACCEL_BIAS] = DRIFT_GYRO_BIAS, DRIFT_BIAS
    drift[ACCEL_MATRIX] = drift[GYRO_MATRIX] = np.where(DIAGONAL, DRIFT_SCALE, DRIFT_CROSS)
    spread = np.diag(_sd(found, known.believed) ** 2 + drift**2)
    return replace(known, believed=prior_after(known.believed, found), constants=np.zeros(SHARED), spread=spread)


def of_class(known: SensorKnown) -> SensorKnown:
    """The sensor when no constants were found: its class's."""
    return replace(
        known, constants=np.zeros(SHARED), spread=np.diag(constant_variances(known.believed, 1.0, 1.0)[:SHARED])
    )


def walks(still: Floats, rate_hz: float) -> tuple[float, float]:
    """(accel_walk m/s2/sqrt(s), tilt_walk rad/sqrt(s)) that a log at rest (n, 6) shows beyond white noise.

    Random walk of rate K from the Allan variance at long averaging times: K^2 tau / 3 (IEEE Std 952-1997, annex C),
    less what white noise leaves there. The gyroscope's is told as the white rate noise that turns as far in a second.
    """
    out = []
    for columns in (still[:, :3], still[:, 3:]):
        curve = together([allan_deviation(column, rate_hz) for column in columns.T])
        long = (curve.freedom > 10) & (curve.tau_s > 1.0)
        if not long.any() or not np.all(curve.deviation > 0):
            out.append(0.0)
            continue
        white = float(np.median(curve.deviation[curve.tau_s < 1.0] ** 2 * curve.tau_s[curve.tau_s < 1.0]))
        beyond = np.clip(curve.deviation[long] ** 2 - white / curve.tau_s[long], 0.0, None)
        out.append(float(np.sqrt(np.average(3.0 * beyond / curve.tau_s[long], weights=curve.tau_s[long]))))
    return out[0], out[1] / float(np.sqrt(3.0))


def _accel(one: Calibration) -> tuple[Floats, Floats]:
    """Matrix, scaled so that gravity reads 9.80665 m/s2 as the analysis takes it away, and bias."""
    return np.array(one.accel_matrix) * (STANDARD_GRAVITY / one.gravity), np.array(one.accel_bias)


def _sd(found: Calibration, prior: SensorPrior) -> Floats:
    """(24,) what the poses leave open; the class's where they did not show it. Triangular: the lower half is nought."""
    out = np.empty(SHARED)
    out[GYRO_BIAS], out[ACCEL_BIAS] = found.gyro_bias_sd, found.accel_bias_sd
    out[ACCEL_MATRIX] = np.where(DIAGONAL, found.accel_scale_sd, np.where(UPPER, found.accel_cross_sd, 0.0))
    scale = prior.gyro_scale if found.gyro_scale_sd is None else found.gyro_scale_sd
    cross = prior.cross if found.gyro_cross_sd is None else found.gyro_cross_sd
    out[GYRO_MATRIX] = np.where(DIAGONAL, scale, cross)
    return out
