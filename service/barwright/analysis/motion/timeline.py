"""One rising, even time axis from whatever stamps a device sent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
LONGEST_FILLED_S = 0.05  # a hole up to this long is filled without breaking the motion estimate


@dataclass(frozen=True, slots=True)
class EvenSamples:
    """Samples on an even grid.

    t_s (n,) seconds since the first sample; values (n, k); filled (n,) True where nothing was measured;
    jitter_s: rms of the stamps about the even grid.
    """

    t_s: Floats
    values: Floats
    filled: NDArray[np.bool_]
    period_s: float
    jitter_s: float
    repeated: int
    gaps: tuple[Span, ...]

    @property
    def rate_hz(self) -> float:
        """Samples a second."""
        return 1.0 / self.period_s


def even_samples(t_s: Floats, values: Floats, lowest_rate_hz: float = 20.0) -> EvenSamples:
    """Repair the time axis: t_s (n,) seconds in any order of honesty, values (n, k) with it.

    Repeats are dropped, bursts spread, lost samples found by counting periods, jitter judged: where the values
    themselves follow the stamps' wobble the sensor really sampled unevenly and is resampled; where they do not,
    only the stamps wobbled and are smoothed. Raises UnusableSamples below 8 usable samples.
    """
    rising, repeated = _drop_repeats(t_s, values)
    t, x = t_s[rising], values[rising]
    if len(t) < 8:
        raise UnusableSamples("too-few-samples", f"only {len(t)} distinct samples; at least 8 are needed")
    t = t - t[0]
    if t[-1] <= 0.0:
        raise UnusableSamples("no-time", "every sample carries the same time; stamps must rise from sample to sample")
    steps = np.diff(t)
    period = float(np.median(steps))
    usual = float(np.mean(np.minimum(steps, np.quantile(steps, 0.98))))  # a few long holes are not a habit
    if np.mean(steps < 0.3 * usual) > 0.2:  # stamped in bursts: only the count is to be trusted
        count = np.arange(len(t), dtype=np.int64)
        period = float(np.polyfit(count, t, 1)[0])
        stamps = count * period
        follow = 0.0
    else:
        count, period = _count_periods(t, period)
        stamps = t
        follow = _stamps_followed(count, t, x, period)
    if period <= 0 or 1.0 / period < 0.5 * lowest_rate_hz:
        raise UnusableSamples(
            "rate-too-low", f"about {1 / max(period, 1e-9):.1f} samples a second; at least 20 are needed"
        )
    offset = float(np.median(stamps - count * period))
    wobble = stamps - count * period - offset
    jitter = float(np.sqrt(np.mean(wobble**2)))
    times = count * period + follow * wobble
    return _on_grid(times, count, x, period, jitter, repeated)


def _drop_repeats(t: Floats, x: Floats) -> tuple[NDArray[np.intp], int]:
    """Indices of samples worth keeping: the same values at the same or an earlier stamp are a repeat."""
    later = np.concatenate(([True], t[1:] > np.maximum.accumulate(t)[:-1]))
    changed = np.concatenate(([True], np.any(np.diff(x, axis=0) != 0, axis=1)))
    burst = (~later) & changed & (np.concatenate(([True], np.diff(t) >= 0)))
    if np.mean(burst) < 0.05:  # a handful of doubled stamps is an error, a steady habit is a burst
        burst[:] = False
    keep = np.flatnonzero(later | burst)
    return keep, len(t) - len(keep)


def _count_periods(t: Floats, period: float) -> tuple[NDArray[np.int64], float]:
    """Whole sample numbers for stamps with holes and wobble, and the period that fits them best.

    A stamp's lag behind an unbroken count jumps by whole periods at a hole and only wobbles elsewhere, so its running
    median tells holes even where single stamps wobble by half a period.
    """
    plain = float(t[-1] - t[0]) / (len(t) - 1)
    wander = np.abs(t - t[0] - np.arange(len(t)) * plain)
    if float(wander.max()) < 0.1 * plain:  # unbroken and steady: nothing to find
        return np.arange(len(t)), plain
    far = min(10, len(t) - 1)
    spans = np.sort(t[far:] - t[:-far])
    reach = 0.35 * period
    held = np.searchsorted(spans, spans + reach) - np.searchsorted(spans, spans - reach)
    whole = spans[np.abs(spans - spans[int(np.argmax(held))]) < reach]  # runs of ten without a hole
    period = float(whole.mean()) / far
    wobble = float(np.median(np.abs(np.diff(t) - period)))
    count = np.arange(len(t)) + _lost_before(t, period, 1 if wobble < 0.15 * period else 31)
    for _ in range(2):
        period = float(np.polyfit(count, t, 1)[0])
        count = np.arange(len(t)) + _lost_before(t, period, 1 if wobble < 0.15 * period else 31)
    for _ in range(2):  # a straight line through all stamps, then through those that do not stray
        slope, start = np.polyfit(count, t, 1)
        stray = np.abs(t - start - slope * count)
        good = stray <= max(3.0 * float(np.median(stray)), 1e-9)
        slope = float(np.polyfit(count[good], t[good], 1)[0]) if good.sum() > 4 else float(slope)
    return count, float(slope)


def _lost_before(t: Floats, period: float, window: int) -> NDArray[np.int64]:
    """Samples lost before each stamp (n,), from how far stamps lag behind an unbroken count (running median)."""
    lag = t - np.arange(len(t)) * period
    if window > 1:
        lag = median_filter(lag, size=window, mode="nearest")
    lost = np.zeros(len(t), dtype=np.int64)
    base, piece = float(np.median(lag[:20])), 100
    for a in range(0, len(t), piece):  # in short pieces, so that an error of the period does not add up
        here = lag[a : a + piece] - base
        lost[a : a + piece] = np.rint(here / period).astype(np.int64)
        base += 0.5 * float(np.median(here - lost[a : a + piece] * period))
    return np.maximum.accumulate(np.maximum(lost, 0))


def _stamps_followed(count: NDArray[np.int64], t: Floats, x: Floats, period: float) -> float:
    """0 when only the stamps wobble, 1 when the sampling itself does: how far values follow the wobble."""
    wobble = t - count * period
    wobble = wobble - np.median(wobble)
    if np.sqrt(np.mean(wobble**2)) < 0.002 * period:  # stamps in whole microseconds wobble like that
        return 0.0
    even = (count[4:] - count[:-4]) == 4
    guess = (-x[:-4] + 4 * x[1:-3] + 4 * x[3:-1] - x[4:]) / 6  # cubic through the four neighbours
    slope = (8 * (x[3:-1] - x[1:-3]) - (x[4:] - x[:-4])) / 12
    w = wobble / period
    inner = w[2:-2] - (-w[:-4] + 4 * w[1:-3] + 4 * w[3:-1] - w[4:]) / 6
    drive = slope * inner[:, None]
    left = x[2:-2] - guess
    scale = np.maximum(np.median(np.abs(left), axis=0), 1e-9)
    drive, left = drive[even] / scale, left[even] / scale
    weight = 1.0 / (1.0 + (left / 5.0) ** 2)
    power = float(np.sum(weight * drive**2))
    if power <= 0:
        return 1.0
    share = float(np.sum(weight * drive * left)) / power
    return 1.0 if share > 0.5 else 0.0


def _on_grid(
    times: Floats, count: NDArray[np.int64], x: Floats, period: float, jitter: float, repeated: int
) -> EvenSamples:
    n = int(count[-1]) + 1
    grid = np.arange(n, dtype=np.float64) * period
    filled = np.ones(n, dtype=bool)
    filled[count] = False
    exact = np.abs(times - count * period) < 1e-6 * period
    if exact.all() and not filled.any():
        values = x
    else:
        from scipy.interpolate import CubicSpline  # half a second to load, and even clocks do without

        rising = np.concatenate(([True], times[1:] > np.maximum.accumulate(times)[:-1]))
        values = CubicSpline(times[rising], x[rising], axis=0)(grid)
        values[count[exact]] = x[exact]
        holes = spans_of(filled)
        for hole in holes:
            if len(hole) * period > LONGEST_FILLED_S:  # a cubic would swing wildly over a long hole
                inside = grid[hole.as_slice()]
                a, b = hole.start - 1, min(hole.stop, n - 1)
                part = (inside - grid[a]) / (grid[b] - grid[a])
                values[hole.as_slice()] = values[a] + part[:, None] * (values[b] - values[a])
    gaps = tuple(spans_of(filled))
    return EvenSamples(grid, values, filled, period, jitter, repeated, gaps)
