"""What calibrating a sensor is told, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.analysis.motion.calibration import Calibration, Vector
from barwright.analysis.quantities.estimate import Estimate

Figures = dict[str, Estimate]
HOW_GAINED = (  # the snatch of gain.py
    "Standard uncertainty of the peak velocity of a modelled snatch (1.9 m/s, 0.85 s after the bar leaves the floor; "
    "1.5 s at rest before, half a second still in the squat, 1 s held overhead; the bar spins by 100 degrees), from "
    "the covariance of the fit between rests: before with what the class of the sensor leaves open, after with what "
    "the calibration leaves open and an allowance for drift."
)


@dataclass(frozen=True, slots=True)
class ToldMeans:
    """Means of one still pose, worked out elsewhere: force (3,) m/s2, rate (3,) rad/s, how many samples they are of."""

    force: Vector
    rate: Vector
    samples: int


@dataclass(frozen=True, slots=True)
class Spread:
    """distinct: attitudes more than 20 degrees apart. opening_rad: the widest angle between two of them.

    more_for_scale, more_for_cross: poses still needed for bias and scale, and for cross-axis errors too. missing: the
    most useful of them, in plain words.
    """

    distinct: int
    opening_rad: float
    more_for_scale: int
    more_for_cross: int
    missing: tuple[str, ...]


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
