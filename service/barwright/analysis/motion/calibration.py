"""What is known of one sensor's constants, and how it changes samples and what is believed of them beforehand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior

Floats = NDArray[np.float64]
Vector = tuple[float, float, float]
Matrix = tuple[Vector, Vector, Vector]
SAME: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

# What constants change by from the day of the calibration to the day of the set: a few kelvin at 0.2-1 mg/K,
# 0.01-0.03 %/K and 0.01-0.05 dps/K, figures typical of data sheets of low-cost MEMS parts (common practice, no source).
DRIFT_BIAS = 0.003 * STANDARD_GRAVITY  # m/s2
DRIFT_SCALE = 0.001
DRIFT_CROSS = 0.0005
DRIFT_GYRO_BIAS = np.radians(0.3)  # rad/s


@dataclass(frozen=True, slots=True)
class Calibration:
    """Constants of one sensor: true = matrix @ (measured - bias), SI units, sensor frame.

    accel_matrix is upper triangular: it makes the axes square and the sensor's z axis the one that stays.
    gyro_matrix brings the rates into the same axes; all ones where the turns did not show it.
    *_sd: the worst axis's standard uncertainty; gyro_scale_sd and gyro_cross_sd are None with the matrix unknown.
    gravity: m/s2 where the poses were held.
    """

    accel_bias: Vector
    accel_matrix: Matrix
    gyro_bias: Vector
    gyro_matrix: Matrix
    accel_bias_sd: float
    accel_scale_sd: float
    accel_cross_sd: float
    gyro_bias_sd: float
    gyro_scale_sd: float | None
    gyro_cross_sd: float | None
    gravity: float = STANDARD_GRAVITY


def apply_calibration(samples: Floats, calibration: Calibration | None) -> Floats:
    """(n, 6) force in m/s2 and rate in rad/s as the sensor would have measured them without its constant errors.

    Clipped samples have to be found before: a sample at full scale does not stay there. Without a calibration nothing
    changes. Force is scaled so that gravity reads 9.80665 m/s2, which is what the analysis takes away.
    """
    if calibration is None:
        return samples
    square = np.array(calibration.accel_matrix) * (STANDARD_GRAVITY / calibration.gravity)
    force = (samples[:, :3] - np.array(calibration.accel_bias)) @ square.T
    rate = (samples[:, 3:] - np.array(calibration.gyro_bias)) @ np.array(calibration.gyro_matrix).T
    return np.hstack((force, rate))


def prior_after(prior: SensorPrior, calibration: Calibration | None) -> SensorPrior:
    """What is left to be believed of calibrated samples: the calibration's own doubt and drift since, never more than
    before.

    One figure serves both sensors' axes, so cross-axis errors keep their prior until the turns have shown the gyro's.
    """
    if calibration is None:
        return prior
    known = calibration
    here = abs(STANDARD_GRAVITY / known.gravity - 1.0)
    after = replace(
        prior,
        accel_bias=_least(prior.accel_bias, known.accel_bias_sd, DRIFT_BIAS),
        accel_scale=_least(prior.accel_scale, float(np.hypot(known.accel_scale_sd, here)), DRIFT_SCALE),
        gyro_bias=_least(prior.gyro_bias, known.gyro_bias_sd, DRIFT_GYRO_BIAS),
    )
    if known.gyro_scale_sd is None or known.gyro_cross_sd is None:
        return after
    return replace(
        after,
        gyro_scale=_least(prior.gyro_scale, known.gyro_scale_sd, DRIFT_SCALE),
        cross=_least(prior.cross, max(known.accel_cross_sd, known.gyro_cross_sd), DRIFT_CROSS),
    )


def _least(prior: float, found: float, drift: float) -> float:
    return min(prior, float(np.hypot(found, drift)))
