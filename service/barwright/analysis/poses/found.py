"""What calibrating a sensor answers."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.motion.calibration import Calibration, Vector
from barwright.analysis.poses.spread import Spread
from barwright.analysis.quantities.estimate import Estimate

Figures = dict[str, Estimate]


@dataclass(frozen=True, slots=True)
class PoseSeen:
    """One pose. up: the sensor-frame direction that pointed up; miss m/s2: corrected force less gravity.

    start_s, stop_s: seconds since the recording's first sample, None when only means were told.
    """

    start_s: float | None
    stop_s: float | None
    samples: int
    up: Vector
    miss: float
    used: bool


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the poses agree: their chi-square with its degrees of freedom and the probability of a larger one.

    widened: factor put on every u because they do not; 1 when they do.
    """

    chi_square: float
    freedom: float
    probability: float
    widened: float


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise density and bias instability of both sensors from one pose, and its place in the recording.

    The pose is the longest that was laid down, else the longest in hands, which shows the density alone.
    """

    accel_density: Estimate
    accel_instability: Estimate
    gyro_density: Estimate
    gyro_instability: Estimate
    start_s: float
    stop_s: float


@dataclass(frozen=True, slots=True)
class SensorFound:
    """accel, gyro: bias, scale and cross_axis, each by axis or pair of axes, of true = matrix (measured - bias).

    turns: how many turns between poses showed the gyroscope. peak_before, peak_after: a modelled snatch's peak velocity
    with the u it would have. words: plain sentences. noise: None when only means were told.
    """

    calibration: Calibration
    accel: dict[str, Figures]
    gyro: dict[str, Figures]
    turns: int
    poses: tuple[PoseSeen, ...]
    spread: Spread
    agreement: Agreement
    noise: Noise | None
    peak_before: Estimate
    peak_after: Estimate
    gravity_told: bool
    words: tuple[str, ...]
