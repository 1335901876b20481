"""How samples arrive: rate, jitter, losses, resolution, bandwidth, and the device's clock against another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.devices.found import ClockSeen, StreamSeen
from barwright.analysis.motion.samples import ImuSamples
from barwright.analysis.motion.timeline import EvenSamples
from barwright.analysis.quantities.estimate import Estimate, unknown

Floats = NDArray[np.float64]
LEAST_PAIRS, LEAST_SPAN_S = 3, 20.0
SEGMENT_S = 1.0  # of the averaged spectrum
HALF, ROUNDS = 0.5, 4
STRAY = 4.0  # times the middle miss: a pair of clocks held up by the network


def stream_seen(
    parts: Sequence[ImuSamples], even: Sequence[EvenSamples], nominal_hz: float | None, still: Floats | None
) -> StreamSeen:
    """parts as they came, one per device start, and on their even axes; still (n, 6): samples at rest on a table."""
    longest = max(even, key=lambda one: len(one.t_s))
    count = sum(len(one.t_s) for one in even)
    holes = [len(hole) * one.period_s for one in even for hole in one.gaps]
    length = float(longest.t_s[-1])
    # a line through n stamps of this wobble: u of the period is sqrt(12 / n) jitter / length
    u = longest.rate_hz * np.sqrt(12.0 / len(longest.t_s)) * max(longest.jitter_s, 1e-6) / length
    return StreamSeen(
        samples=sum(len(part.t_s) for part in parts),
        length_s=sum(float(one.t_s[-1]) for one in even),
        rate_hz=Estimate(longest.rate_hz, float(u), "Hz"),
        nominal_rate_hz=nominal_hz,
        jitter_s=longest.jitter_s,
        lost=sum(int(one.filled.sum()) for one in even) / count,
        longest_hole_s=max(holes, default=0.0),
        repeated=sum(one.repeated for one in even),
        starts=len(parts),
        accel_step=_step(np.concatenate([part.accel_m_s2 for part in parts])),
        gyro_step=_step(np.concatenate([part.gyro_rad_s for part in parts])),
        bandwidth_hz=None if still is None else bandwidth(still, longest.rate_hz),
    )


def _step(values: Floats) -> float:
    """The least step between different values of (n, 3): the resolution, where noise covers a few steps or less."""
    steps = [np.diff(np.unique(column)) for column in values[:200_000].T]
    found = [float(step[step > 1e-9].min()) for step in steps if np.any(step > 1e-9)]
    return min(found, default=0.0)


def bandwidth(still: Floats, rate_hz: float) -> float | None:
    """Hz at which the power of the noise (n, 6) falls to half of what it is at a few hertz.

    None where it does not up to half the rate. Averaged periodograms of Hann windows (Welch 1967, IEEE Trans Audio
    Electroacoust 15:70), a second each, both sensors' axes relative to their own low part.
    """
    n = int(SEGMENT_S * rate_hz)
    if len(still) < 8 * n or n < 32:
        return None
    window = np.hanning(n)[:, None]
    pieces = [still[k : k + n] for k in range(0, len(still) - n + 1, n // 2)]
    power = np.mean([np.abs(np.fft.rfft((x - x.mean(axis=0)) * window, axis=0)) ** 2 for x in pieces], axis=0)
    hz = np.fft.rfftfreq(n, 1.0 / rate_hz)
    low = (hz > 0.5) & (hz < max(5.5, 0.03 * rate_hz))
    if not np.all(power[low].mean(axis=0) > 0):
        return None
    relative = np.mean(power / power[low].mean(axis=0), axis=1)
    smooth = np.convolve(relative, np.ones(5) / 5, mode="same")
    under = np.flatnonzero((smooth < HALF) & (hz > 4.0) & (hz < 0.48 * rate_hz))
    return float(hz[under[0]]) if len(under) else None


def clock_seen(pairs: Sequence[tuple[float, float]]) -> ClockSeen | None:
    """Drift of the device's clock from (device seconds, server seconds) pairs; None without any.

    A straight line by least squares, again and again without pairs that the network held up.
    """
    if not pairs:
        return None
    device, server = np.array(sorted(pairs)).T
    span = float(device[-1] - device[0])
    if len(device) < LEAST_PAIRS or span < LEAST_SPAN_S:
        why = f"it takes {LEAST_PAIRS} pairs of times or more over {LEAST_SPAN_S:g} s and more"
        return ClockSeen(unknown("[ppm]", why), len(device), span, 0.0)
    x, late = device - device.mean(), server - device
    half = len(x) // 2  # to begin with the middle slope of pairs half the log apart: delays do not move it
    slope = float(np.median((late[half:] - late[: len(x) - half]) / (x[half:] - x[: len(x) - half])))
    level = float(np.median(late - slope * x))
    for _ in range(ROUNDS):
        miss = late - level - slope * x
        kept = np.abs(miss) <= STRAY * max(float(np.median(np.abs(miss))), 1e-6)
        slope, level = np.polyfit(x[kept], late[kept], 1)
    miss = late - level - slope * x
    spread = float(np.sqrt(np.sum(miss[kept] ** 2) / max(1, int(kept.sum()) - 2)))
    u = spread / float(np.sqrt(np.sum((x[kept] - x[kept].mean()) ** 2)))
    return ClockSeen(Estimate(float(-1e6 * slope), 1e6 * u, "[ppm]"), len(device), span, spread)
