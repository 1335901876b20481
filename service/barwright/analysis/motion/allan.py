"""How noisy a sensor is at rest: overlapping Allan deviation, noise density and bias instability.

Sources: IEEE Std 952-1997, annex C (what the slopes of the curve mean); W. J. Riley, Handbook of Frequency Stability
Analysis, NIST Special Publication 1065, 2008, 5.2.4 (overlapping estimator) and 5.4.1 (degrees of freedom).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.estimate import Estimate, unknown

Floats = NDArray[np.float64]
FLAT = 0.6643  # sqrt(2 ln 2 / pi): deviation over bias instability where the curve lies flat (IEEE Std 952, annex C)
FEWEST_MEANS = 9  # a point of the curve stands on at least so many means side by side
QUIET_FROM = 0.35  # of half the sample rate: living hands are still above it at 100 samples a second and more
HANN = 35.0 / 18.0  # what a Hann window costs in independent lines of a spectrum
WELL_KNOWN = 20.0  # degrees of freedom below which a point may dip by chance
SLOPE_TOLERANCE = 0.12  # how far from -1/2 a step of the curve may fall and still be white noise


@dataclass(frozen=True, slots=True)
class AllanCurve:
    """tau_s (k,) averaging times; deviation (k,) in the signal's unit; freedom (k,) equivalent degrees of freedom."""

    tau_s: Floats
    deviation: Floats
    freedom: Floats

    @property
    def sd(self) -> Floats:
        """(k,) standard uncertainty of each deviation."""
        return np.asarray(self.deviation / np.sqrt(2.0 * self.freedom))


def allan_deviation(x: Floats, rate_hz: float, averages: NDArray[np.int64] | None = None) -> AllanCurve:
    """Overlapping Allan deviation of (n,) even samples of a rate or a force.

    averages: samples in one mean, rising; by default every power of two that leaves nine means side by side.
    An empty curve when n allows none. Degrees of freedom are those of white noise (NIST SP 1065, table 5).
    """
    n = len(x)
    if averages is None:
        most = n // FEWEST_MEANS
        averages = 2 ** np.arange(int(np.log2(most)) + 1) if most >= 1 else np.zeros(0, np.int64)
    summed = np.concatenate(([0.0], np.cumsum(x - np.mean(x)))) if n else np.zeros(1)
    deviation, freedom = np.empty(len(averages)), np.empty(len(averages))
    for k, m in enumerate(averages):
        second = summed[2 * m :] - 2.0 * summed[m:-m] + summed[: -2 * m]
        deviation[k] = np.sqrt(np.mean(second**2) / 2.0) / m
        points = n + 1
        share = 3.0 * (points - 1) / (2.0 * m) - 2.0 * (points - 2) / points
        freedom[k] = max(1.0, share * 4.0 * m**2 / (4.0 * m**2 + 5.0))
    return AllanCurve(np.asarray(averages / rate_hz, dtype=np.float64), deviation, freedom)


def together(curves: list[AllanCurve]) -> AllanCurve:
    """One curve of several axes of one kind, over the same averaging times: mean variances, freedoms added."""
    variance = np.mean([curve.deviation**2 for curve in curves], axis=0)
    freedom = np.sum([curve.freedom for curve in curves], axis=0)
    return AllanCurve(curves[0].tau_s, np.sqrt(variance), freedom)


def noise_density(curve: AllanCurve, unit: str) -> Estimate:
    """White noise as data sheets give it, one-sided, unit / sqrt(Hz): sqrt(2) times the random walk N of IEEE Std 952.

    N is deviation times sqrt(tau) where the curve falls with slope -1/2; not known where no stretch of it does.
    """
    unit = f"{unit}/sqrt(Hz)"
    run = _white(curve)
    if run is None:
        return unknown(unit, "no stretch of the Allan deviation falls like white noise: lay the sensor down, longer")
    tau, freedom = curve.tau_s[run], curve.freedom[run]
    squared = float(np.average(curve.deviation[run] ** 2 * tau, weights=freedom))
    density = float(np.sqrt(2.0 * squared))
    # longer averages are made of the shorter ones: the shortest carries nearly all there is to know
    return Estimate(density, density / float(np.sqrt(2.0 * freedom.max())), unit)


def density_in_hands(x: Floats, rate_hz: float, unit: str) -> Estimate:
    """White noise of (n, k) samples of a sensor held in living hands, from their spectrum above sway and tremor.

    The Allan deviation of such a log is all sway. One-sided density, mean of a Hann-windowed periodogram (Welch 1967,
    IEEE Trans Audio Electroacoust 15:70) above QUIET_FROM of half the sample rate; not known where its two halves
    differ, for then the noise is filtered or hidden.
    """
    unit = f"{unit}/sqrt(Hz)"
    n = len(x)
    if n < 64 or not np.all(np.ptp(x, axis=0) > 0):
        return unknown(unit, "the still log is too short, or does not move at all")
    window = np.hanning(n)[:, None]
    power = np.abs(np.fft.rfft((x - x.mean(axis=0)) * window, axis=0)) ** 2 * 2.0 / (rate_hz * np.sum(window**2))
    first = round(QUIET_FROM * len(power))
    middle = (first + len(power)) // 2
    lower, upper = float(power[first:middle].mean()), float(power[middle:-1].mean())
    relative = float(np.sqrt(HANN / power[first:-1].size))
    if abs(lower / upper - 1.0) > 0.1 + 6.0 * relative:
        return unknown(unit, "in hands the noise is filtered, or hidden below tremor: lay the sensor down for a pose")
    density = float(np.sqrt(power[first:-1].mean()))
    return Estimate(density, 0.5 * density * relative, unit)


def bias_instability(curve: AllanCurve, unit: str) -> Estimate:
    """The flat bottom of the curve over 0.664 (IEEE Std 952); not known while the curve still falls at its end."""
    known = int(np.count_nonzero(curve.freedom >= WELL_KNOWN))
    if known < 4 or not np.all(curve.deviation > 0):
        return unknown(unit, "the still log is too short, or does not move at all")
    deviation, tau = curve.deviation[:known], curve.tau_s[:known]
    low = int(np.argmin(deviation))
    slope = np.diff(np.log(deviation)) / np.diff(np.log(tau))
    if low == known - 1 and np.any(slope[-2:] < -0.25):
        return unknown(
            unit, f"the Allan deviation still falls at {tau[-1]:.3g} s: it takes a longer log of a sensor at rest"
        )
    return Estimate(float(deviation[low]) / FLAT, float(curve.sd[low]) / FLAT, unit)


def _white(curve: AllanCurve) -> slice | None:
    """The stretch of three points and more that falls with slope -1/2, the one that knows most; None without one."""
    if not np.all(curve.deviation > 0):
        return None
    slope = np.diff(np.log(curve.deviation)) / np.diff(np.log(curve.tau_s))
    relative = 1.0 / np.sqrt(2.0 * curve.freedom)
    blur = np.array([np.hypot(a, b) for a, b in pairwise(relative)]) / np.diff(np.log(curve.tau_s))
    fits = (np.abs(slope + 0.5) < SLOPE_TOLERANCE + blur) & (blur < 0.3)
    best: slice | None = None
    most, start = 0.0, 0
    for k in range(len(fits) + 1):
        if k < len(fits) and fits[k]:
            continue
        if k - start >= 2:
            known = float(curve.freedom[start : k + 1].sum())
            if known > most:
                best, most = slice(start, k + 1), known
        start = k + 1
    return best
