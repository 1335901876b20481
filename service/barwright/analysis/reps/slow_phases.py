"""Phases of squats, presses and rows: lowering, lifting, and the sticking region inside the lifting."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.results import Phase
from barwright.analysis.reps.turning import Rise

STICKING_SHARE = 0.10  # a fall of velocity of this share of the peak is a sticking region (common practice, no source)


def slow_phases(motion: Motion, window: RepWindow, lift: Lift) -> tuple[Phase, ...]:
    """Lowering and lifting in their order, then the sticking region (it lies inside the lifting) where there is one."""
    t, rise = motion.t_s, window.rise
    last = len(t) - 1
    lifting = Phase("lifting", float(t[rise.start]), float(t[min(last, rise.stop)]), 0.95, 0.02, 0.03)
    if lift.pattern is Pattern.DOWN_UP:
        lowering = Phase("lowering", float(t[window.span.start]), float(t[rise.low]), 0.9, 0.05, 0.02)
        found: tuple[Phase, ...] = (lowering, lifting)
    else:
        stop = float(t[min(last, window.span.stop)])
        lowering = Phase("lowering", float(t[rise.high]), max(stop, float(t[rise.high])), 0.8, 0.05, 0.05)
        found = (lifting, lowering)
    sticking = sticking_region(motion, rise)
    if sticking is None:
        return found
    return (*found, Phase("sticking_region", float(t[sticking[0]]), float(t[sticking[1]]), 0.8, 0.02, 0.02))


def sticking_region(motion: Motion, rise: Rise) -> tuple[int, int] | None:
    """Samples of the first peak of velocity in the lifting and of the low after it; None where velocity hardly falls.

    From the first peak of upward velocity to the first local low after it (van den Tillaar and Ettema 2010, from
    memory).
    """
    v = gaussian_filter1d(motion.velocity[rise.start : rise.stop + 1, 2], max(0.02 / motion.dt, 0.3), mode="nearest")
    if len(v) < 10:
        return None
    lows = np.flatnonzero((v[1:-1] <= v[:-2]) & (v[1:-1] < v[2:])) + 1
    best: tuple[float, int, int] | None = None
    for low in lows:
        high = int(np.argmax(v[:low]))
        fall, again = float(v[high] - v[low]), float(v[low:].max() - v[low])
        if fall > STICKING_SHARE * float(v.max()) and again > 0.5 * fall and (best is None or fall > best[0]):
            best = (fall, rise.start + high, rise.start + int(low))
    return None if best is None else (best[1], best[2])
