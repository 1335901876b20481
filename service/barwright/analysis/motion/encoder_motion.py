"""String or position encoder samples to vertical bar motion; there is no horizontal in them, and none is made up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter, uniform_filter1d

from barwright.analysis.motion.bar_motion import Motion, MotionRest
from barwright.analysis.motion.encoder_smooth import Smoothed, smooth_position
from barwright.analysis.motion.samples import EncoderSamples, SensorSetup
from barwright.analysis.motion.strapdown import running_integral
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.quantities.spans import spans_of

Floats = NDArray[np.float64]
FASTEST_BAR_M_S = 6.0  # a bar dropped from overhead hits the floor at about this
SIDEWAYS_U_M = 0.004  # a plumb string still lengthens by up to 5 mm when the bar moves 8 cm fore and aft
SIDEWAYS_U_M_S = 0.004  # and its speed with it
SIDEWAYS_M_S = 0.25  # fore-aft bar velocity a slanting string cannot tell from vertical (rms over a pull)


@dataclass(frozen=True, slots=True)
class EncoderErrors:
    """Uncertainties of a smoothed height. slant: tangent of the string's angle to the vertical, where it slants."""

    position_sd: float
    velocity_floor: float
    slant: float

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s."""
        return np.full(
            len(t_s), float(np.sqrt(self.velocity_floor**2 + (self.slant * SIDEWAYS_M_S) ** 2 + SIDEWAYS_U_M_S**2))
        )

    def displacement_sd(self, from_s: float, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s)."""
        # the string's length is off by half a count, its slant by a few centimetres of bar path
        spread = np.hypot(np.sqrt(2.0) * self.position_sd, self.slant * 0.03)
        return np.where(np.abs(t_s - from_s) < 1e-9, 0.0, np.hypot(spread, SIDEWAYS_U_M))


@dataclass(frozen=True, slots=True)
class EncoderMotion:
    """The motion with what was repaired on the way."""

    motion: Motion
    even: EvenSamples
    outliers: int
    slips: int
    resolution_m: float
    noise_sd_m: float
    geometry: str  # plumb, corrected, or impossible


def encoder_motion(samples: EncoderSamples, setup: SensorSetup) -> EncoderMotion:
    """Vertical motion of one recording of string length, height or velocity."""
    if samples.position_m is None and samples.velocity_m_s is not None:
        even = even_samples(samples.t_s, samples.velocity_m_s[:, None])
        x = running_integral(even.values, even.period_s)[:, 0]
        outliers, slips = 0, 0
    else:
        assert samples.position_m is not None
        even = even_samples(samples.t_s, samples.position_m[:, None])
        x, outliers, slips = _repaired(even.values[:, 0], even.period_s)
    dt = even.period_s
    height, geometry, slant = _height(x, setup)
    resolution = _resolution(x)
    speed = np.abs(uniform_filter1d(np.gradient(height, dt), max(1, round(0.05 / dt))))
    moving = uniform_filter1d((speed > 0.1).astype(float), max(1, round(0.2 / dt))) > 0
    # a dropped bar and its bounces need no faithful smoothing, and would set it for the lift too
    moving &= maximum_filter1d((speed > 2.6).astype(np.int8), max(1, round(3.0 / dt))) == 0
    smooth = smooth_position(height, (~even.filled).astype(float), dt, moving, resolution / np.sqrt(12.0))
    still = speed < 0.02
    rests = tuple(MotionRest(s, False) for s in spans_of(still) if len(s) * dt > 0.3)
    motion = _motion(even, smooth, rests, slant, resolution)
    return EncoderMotion(motion, even, outliers, slips, resolution, smooth.noise_sd, geometry)


def _motion(
    even: EvenSamples, smooth: Smoothed, rests: tuple[MotionRest, ...], slant: float, resolution: float
) -> Motion:
    def vertical(x: Floats) -> Floats:
        return np.column_stack((np.zeros_like(x), np.zeros_like(x), x))

    first = rests[0].span.as_slice() if rests else slice(0, 1)
    errors = EncoderErrors(float(np.hypot(smooth.position_sd, resolution / np.sqrt(12.0))), smooth.velocity_sd, slant)
    return Motion(
        even.t_s, vertical(smooth.position - float(smooth.position[first].mean())), vertical(smooth.velocity),
        vertical(smooth.acceleration), rests, errors, None, accel_sd=smooth.accel_sd,
    )  # fmt: skip


def _repaired(x: Floats, dt: float) -> tuple[Floats, int, int]:
    """Single wild values replaced by their neighbours' middle, lasting jumps (slipped counts) taken out.

    A jump counts as slipped when the bar moved alike before and after it: a bar that hits the floor turns round.
    """
    middle = median_filter(x, size=5, mode="nearest")
    wild = np.abs(x - middle) > np.maximum(0.02, FASTEST_BAR_M_S * dt)
    x = np.where(wild, middle, x)
    steps = np.diff(x)
    usual = median_filter(steps, size=7, mode="nearest")
    before, after = np.roll(steps, 2), np.roll(steps, -2)
    fast = maximum_filter1d(np.abs(usual), 9) > 3.0 * dt
    alike = (np.abs(before - after) < np.maximum(0.005, 0.5 * dt)) & ~fast
    slip = alike & (np.abs(steps - usual) > np.maximum(0.004, 2.0 * dt))
    out = x.copy()
    out[1:] -= np.cumsum(np.where(slip, steps - usual, 0.0))
    return out, int(wild.sum()), int(slip.sum())


def _height(x: Floats, setup: SensorSetup) -> tuple[Floats, str, float]:
    """Height from string length where the anchor lies off the bar's path: sqrt(length^2 - offset^2)."""
    offset = abs(setup.anchor_offset_m or 0.0)
    if offset == 0.0:
        return x, "plumb", 0.0
    if float(x.min()) <= offset:
        return x, "impossible", offset / max(float(np.median(x)), offset)
    height = np.sqrt(x**2 - offset**2)
    return setup.anchor_height_m + height, "corrected", offset / float(np.quantile(height, 0.7))


def _resolution(x: Floats) -> float:
    """The sensor's count in metres: the smallest step that is not rounding dust."""
    steps = np.abs(np.diff(x))
    steps = steps[steps > 1e-6]
    return float(np.quantile(steps, 0.02)) if len(steps) else 1e-4
