"""String or position encoder samples to vertical bar motion; there is no horizontal in them, and none is made up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter, uniform_filter1d

from barwright.analysis.motion.bar_motion import Motion, MotionRest, Shake
from barwright.analysis.motion.encoder_smooth import Smoothed, smooth_position
from barwright.analysis.motion.samples import EncoderSamples, SensorSetup
from barwright.analysis.motion.strapdown import running_integral
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.quantities.spans import spans_of
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
FASTEST_BAR_M_S = 6.0  # a bar dropped from overhead hits the floor at about this
LEAST_WILD_M, LEAST_WILD_M_S = 0.004, 0.3  # what no bar does in one sample (tried on simulated lifts and drops)
LEAST_SAMPLES = 8
TRAVEL_M = 0.08  # fore-aft travel of a bar over a plumb string, which it lengthens by travel^2 / (2 length)
SIDEWAYS_U_M_S = 0.004  # and its speed with it
AT_FULL_SPEED_M_S = 0.3
SIDEWAYS_M_S = 0.35  # fore-aft bar velocity a slanting string cannot tell from vertical (tried on simulated lifts)
SLANT_TRAVEL_M = 0.06  # and fore-aft travel, the same


@dataclass(frozen=True, slots=True)
class EncoderErrors:
    """Uncertainties of a smoothed height. slant: tangent of the string's angle to the vertical, where it slants.

    grid_s (n,), speed_sd (n,): the uncertainty of velocity, m/s, at these times. sideways_m: what fore-aft travel adds
    to a plumb string's length; slanted_m: fore-aft travel a slanting string takes for height.
    """

    position_sd: float
    grid_s: Floats
    speed_sd: Floats
    slant: float
    sideways_m: float
    slanted_m: float

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s."""
        return np.asarray(np.interp(t_s, self.grid_s, self.speed_sd))

    def displacement_sd(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s)."""
        # the string's length is off by half a count, its slant by a few centimetres of bar path
        spread = np.hypot(np.sqrt(2.0) * self.position_sd, self.slant * self.slanted_m)
        return np.where(np.abs(t_s - from_s) < 1e-9, 0.0, np.hypot(spread, self.sideways_m))

    def mean_velocity_sd(self, from_s: float, to_s: float, leans: Floats, direction: Floats) -> float:
        """m/s of the mean between two moments plus leans (2,) times the velocities there, whose errors are apart."""
        both = np.array([from_s, to_s])
        rise = self.displacement_sd(from_s, both[1:], direction) / (to_s - from_s)
        return float(np.sqrt(np.sum(rise**2) + np.sum((leans * self.velocity_sd(both, direction)) ** 2)))


@dataclass(frozen=True, slots=True)
class EncoderMotion:
    """The motion with what was repaired on the way; height_m (n,): as the sensor has it, nought where it has it."""

    motion: Motion
    height_m: Floats
    even: EvenSamples
    outliers: int
    slips: int
    resolution_m: float
    noise_sd_m: float
    geometry: str  # plumb, corrected, or impossible


def encoder_motion(
    samples: EncoderSamples, setup: SensorSetup, swing_m: tuple[float, float] | None = None
) -> EncoderMotion:
    """Vertical motion of one recording of string length, height or velocity.

    swing_m: mean and sd of the bar's fore-aft way between the top, where the string hangs, and the bottom (m).
    """
    if samples.position_m is None and samples.velocity_m_s is not None:
        even = even_samples(samples.t_s, samples.velocity_m_s[:, None])
        x = running_integral(even.values, even.period_s)[:, 0]
        wild, slips = np.zeros(len(x), dtype=bool), 0
    else:
        assert samples.position_m is not None
        even = even_samples(samples.t_s, samples.position_m[:, None])
        x, wild, slips = _repaired(even.values[:, 0], even.period_s)
    dt = even.period_s
    measured = int(np.sum(~(even.filled | wild)))
    if measured < LEAST_SAMPLES:
        raise UnusableSamples(
            "too-few-samples",
            f"only {measured} samples are left once values no bar can reach are taken out; "
            f"at least {LEAST_SAMPLES} are needed",
        )
    height, geometry, slant = _height(_upright(x, float(np.hypot(*swing_m))) if swing_m else x, setup)
    resolution = _resolution(x)
    speed = np.abs(uniform_filter1d(np.gradient(height, dt), max(1, round(0.05 / dt))))
    moving = uniform_filter1d((speed > 0.1).astype(float), max(1, round(0.2 / dt))) > 0
    # a dropped bar and its bounces need no faithful smoothing, and would set it for the lift too
    moving &= maximum_filter1d((speed > 2.6).astype(np.int8), max(1, round(3.0 / dt))) == 0
    smooth = smooth_position(height, (~(even.filled | wild)).astype(float), dt, moving, resolution / np.sqrt(12.0))
    still = speed < 0.02
    rests = tuple(MotionRest(s, False) for s in spans_of(still) if len(s) * dt > 0.3)
    # what is not known of travel^2: all of it, or what is left of it about the usual
    travel2 = 2 * swing_m[0] * swing_m[1] if swing_m else TRAVEL_M**2
    aside = max(SLANT_TRAVEL_M, swing_m[0]) if swing_m else SLANT_TRAVEL_M
    motion = _motion(even, smooth, rests, slant, resolution, travel2, aside)
    return EncoderMotion(motion, smooth.position, even, int(wild.sum()), slips, resolution, smooth.noise_sd, geometry)


def _motion(
    even: EvenSamples,
    smooth: Smoothed,
    rests: tuple[MotionRest, ...],
    slant: float,
    resolution: float,
    travel2: float,
    aside_m: float,
) -> Motion:
    def vertical(x: Floats) -> Floats:
        return np.column_stack((np.zeros_like(x), np.zeros_like(x), x))

    first = rests[0].span.as_slice() if rests else slice(0, 1)
    length = float(np.clip(np.quantile(smooth.position, 0.3), 0.4, 1.0))
    # a bar that hardly moves up or down hardly moves fore and aft
    moves = np.minimum(1.0, np.abs(smooth.velocity) / AT_FULL_SPEED_M_S) ** 2
    sideways = moves * float(np.hypot(SIDEWAYS_U_M_S, slant * SIDEWAYS_M_S))
    errors = EncoderErrors(
        float(np.hypot(np.median(smooth.position_sd), resolution / np.sqrt(12.0))),
        even.t_s, np.hypot(smooth.velocity_sd, sideways), slant, travel2 / (2 * length), aside_m,
    )  # fmt: skip
    return Motion(
        even.t_s, vertical(smooth.position - float(smooth.position[first].mean())), vertical(smooth.velocity),
        vertical(smooth.acceleration), rests, errors, None, accel_sd=smooth.moving_accel_sd,
        shake=Shake(smooth.velocity_sd, smooth.accel_sd, smooth.position_sd),
    )  # fmt: skip


def _repaired(x: Floats, dt: float) -> tuple[Floats, NDArray[np.bool_], int]:
    """Heights with slipped counts taken out, which samples are wild, and how many slips there were.

    A wild value leaves the way of its neighbours and comes back; a slip is one wild step that stays. A bar that hits
    the floor does neither: its speed changes and stays changed.
    """
    middle = median_filter(x, size=5, mode="nearest")
    wild = np.abs(x - middle) > np.maximum(0.02, FASTEST_BAR_M_S * dt)
    wild |= _lone(x) > max(LEAST_WILD_M, LEAST_WILD_M_S * dt)
    good = np.flatnonzero(~wild)
    x = np.interp(np.arange(len(x)), good, x[good])
    steps = np.diff(x)
    usual = median_filter(steps, size=7, mode="nearest")
    fast = maximum_filter1d(np.abs(usual), 9) > 3.0 * dt
    slip = (_lone(steps) > max(LEAST_WILD_M, LEAST_WILD_M_S * dt)) & ~fast
    near = 0.5 * (np.roll(steps, 1) + np.roll(steps, -1))
    out = x.copy()
    out[1:] -= np.cumsum(np.where(slip, steps - near, 0.0))
    return out, wild, int(slip.sum())


def _lone(y: Floats) -> Floats:
    """(n,) how far each value alone leaves the line of the two before it and of the two after it, to the same side."""
    out = np.zeros(len(y))
    if len(y) >= 5:
        from_before = y[2:-2] - 2 * y[1:-3] + y[:-4]
        from_after = y[2:-2] - 2 * y[3:-1] + y[4:]
        same = from_before * from_after > 0
        out[2:-2] = np.where(same, np.minimum(np.abs(from_before), np.abs(from_after)), 0.0)
    return out


def _upright(x: Floats, swing: float) -> Floats:
    """Length of a string without what a bar adds that swings aside by `swing` on its way down: sqrt(l^2 - swing^2)."""
    top, bottom = float(np.quantile(x, 0.9)), float(x.min())
    if top - bottom < swing or bottom <= 2 * swing:
        return x
    down = np.clip((top - x) / (top - bottom), 0.0, 1.0)
    return np.sqrt(x**2 - (swing * down) ** 2)


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
