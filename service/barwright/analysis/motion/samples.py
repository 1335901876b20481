"""Samples as they come out of a sensor, in SI units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from barwright.analysis.motion.calibration import Calibration

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ImuSamples:
    """t_s (n,) device clock in seconds; accel_m_s2 (n, 3) specific force; gyro_rad_s (n, 3); both sensor frame.

    position_m (n,): string length or height, where a string on the same bar was recorded too.
    The times may still hold gaps, repeats and jitter: `timeline` repairs them.
    """

    t_s: Floats
    accel_m_s2: Floats
    gyro_rad_s: Floats
    position_m: Floats | None = None


@dataclass(frozen=True, slots=True)
class EncoderSamples:
    """t_s (n,) device clock in seconds; position_m (n,) string length or height, OR velocity_m_s (n,), not both."""

    t_s: Floats
    position_m: Floats | None = None
    velocity_m_s: Floats | None = None


@dataclass(frozen=True, slots=True)
class SensorSetup:
    """How the sensor sits on the bar and what is known of it beforehand.

    bar_axis: unit vector (3,), sensor frame, along the bar to the lifter's left; None when unknown.
    place: shaft, or sleeve (which spins on its own).
    along_m: how far the sensor sits from the middle of the bar, to the lifter's left; None when not told.
    device_class: calibrated, good, fast, hobby or poor (docs/method.md); None takes a middling one.
    nominal_rate_hz: the rate the device believes it samples at; only compared with the stamps.
    accel_range_m_s2, gyro_range_rad_s: full scale, when known; clipping is also found without it.
    anchor_offset_m: horizontal distance from the encoder's anchor to the bar's path; None when the string is plumb.
    calibration: the sensor's constants, when they have been measured.
    """

    bar_axis: Floats | None = None
    place: str = "shaft"
    along_m: float | None = None
    device_class: str | None = None
    accel_range_m_s2: float | None = None
    gyro_range_rad_s: float | None = None
    anchor_offset_m: float | None = None
    anchor_height_m: float = 0.0
    nominal_rate_hz: float | None = None
    calibration: Calibration | None = None


@dataclass(frozen=True, slots=True)
class Recording:
    """All samples of one stream, one part per device start (`boot`), in order."""

    parts: tuple[ImuSamples, ...] | tuple[EncoderSamples, ...]
    setup: SensorSetup = field(default_factory=SensorSetup)
