"""What is known of a sensor before its data are seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STANDARD_GRAVITY = 9.80665  # m/s2, CGPM 1901
_DEG = np.pi / 180
# The fit counts noise twice, for small slow errors that no density and no constant tells of. Once only is right for a
# sensor that has none, and too sure for others: with typical unmodelled errors (`make bench`, table mismatch) 2u then
# held 90 % of heights in cleans of the class hobby instead of 96 %, 75 % of fore-aft figures instead of 82 %.
NOISE_MARGIN = 2.0


@dataclass(frozen=True, slots=True)
class SensorPrior:
    """Standard deviations of a sensor's constants and its noise densities.

    accel_noise m/s2/sqrt(Hz) and gyro_noise rad/s/sqrt(Hz), both one-sided (see integral_var); accel_bias m/s2;
    gyro_bias rad/s; scale, cross: fractions.
    accel_walk m/s2/sqrt(s), tilt_walk rad/sqrt(s) and gyro_walk rad/s/sqrt(s) stand for slow changes that no constant
    describes: zeros that wander, as a part does that warms up by some kelvin a minute (0.1 m[g] and 0.02 deg/s a kelvin
    are usual in data sheets).
    """

    accel_noise: float
    gyro_noise: float
    accel_bias: float
    gyro_bias: float
    accel_scale: float
    gyro_scale: float
    cross: float
    accel_walk: float = 0.0001 * STANDARD_GRAVITY
    tilt_walk: float = 0.01 * _DEG
    gyro_walk: float = 0.005 * _DEG


def integral_var(density: float) -> float:
    """Variance that white noise of one-sided density n, unit/sqrt(Hz), adds to its integral in each second: n^2 / 2.

    Data sheets and every density here are one-sided: at f samples a second a sample has the variance n^2 f / 2, and f
    of them, each over 1/f s, sum to n^2 / 2. Its root is the random walk N of IEEE Std 952-1997, annex C.
    """
    return 0.5 * density**2


def _prior(
    ug: float, dps: float, mg: float, bias_dps: float, scale: float, gyro_scale: float, cross: float
) -> SensorPrior:
    g = STANDARD_GRAVITY
    return SensorPrior(
        ug * 1e-6 * g, dps * _DEG, mg * 1e-3 * g, bias_dps * _DEG, scale / 100, gyro_scale / 100, cross / 100
    )


# Typical data-sheet figures of low-cost MEMS parts: noise 60-180 ug/sqrt(Hz) and 0.003-0.014 dps/sqrt(Hz),
# zero offset 40-60 mg and 0.5-3 dps before calibration; the classes span them.
DEVICE_CLASSES: dict[str, SensorPrior] = {
    "calibrated": _prior(80, 0.006, 5, 0.5, 0.2, 0.2, 0.1),  # constants already taken out, by maker or owner
    "good": _prior(80, 0.004, 20, 0.5, 0.3, 0.5, 0.3),
    "fast": _prior(120, 0.006, 20, 1.0, 0.5, 0.7, 0.4),
    "hobby": _prior(300, 0.010, 50, 3.0, 1.0, 1.5, 1.0),
    "poor": _prior(400, 0.020, 60, 5.0, 2.0, 2.0, 1.5),
}
UNKNOWN_CLASS = _prior(200, 0.010, 40, 3.0, 1.0, 1.0, 0.7)


def prior_for(device_class: str | None) -> SensorPrior:
    """The prior of a named class; a middling one when the class is not known."""
    return DEVICE_CLASSES.get(device_class or "", UNKNOWN_CLASS)
