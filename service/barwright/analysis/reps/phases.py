"""Phases of a rep from the bar alone, each with how sure its boundaries are."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.results import Phase
from barwright.analysis.reps.turning import Rise

Floats = NDArray[np.float64]
LEAST_DIP = 0.02  # m/s: a smaller fall of velocity does not part first pull from transition


def find_phases(motion: Motion, window: RepWindow, lift: Lift) -> tuple[Phase, ...]:
    """Phases in order. Pull: end of the second pull is where upward acceleration ceases (Whitehead et al. 2014)."""
    if lift.pattern in (Pattern.PULL_AND_CATCH, Pattern.PULL, Pattern.PULL_AND_DRIVE):
        pull = _pull(motion, window, caught=lift.pattern is not Pattern.PULL and window.outcome != "partial")
        return pull + (_drive(motion, window.drive, window.span.stop) if window.drive else ())
    if lift.pattern is Pattern.DRIVE:
        return _drive(motion, window.rise, window.span.stop, window.span.start)
    t, rise = motion.t_s, window.rise
    last = len(t) - 1
    if lift.pattern is Pattern.DOWN_UP:
        return (
            Phase("lowering", float(t[window.span.start]), float(t[rise.low]), 0.9),
            Phase("lifting", float(t[rise.start]), float(t[min(last, rise.stop)]), 0.95),
        )
    return (
        Phase("lifting", float(t[rise.start]), float(t[min(last, rise.stop)]), 0.95),
        Phase("lowering", float(t[rise.high]), float(t[min(last, window.span.stop)]), 0.8),
    )


def _pull(motion: Motion, window: RepWindow, caught: bool) -> tuple[Phase, ...]:
    t, z, v = motion.t_s, motion.position[:, 2], motion.velocity[:, 2]
    rise = window.rise
    first, second, sure = pull_parts(v, rise, motion.dt)
    out = []
    if first is not None and second is not None:
        out.append(Phase("first_pull", float(t[rise.start]), float(t[first]), sure))
        out.append(Phase("transition", float(t[first]), float(t[second]), sure))
        out.append(Phase("second_pull", float(t[second]), float(t[rise.fastest]), min(1.0, sure + 0.1)))
    else:  # no dip: the bar alone does not tell where one ends and the next begins
        out.append(
            Phase("first_pull_and_transition_and_second_pull", float(t[rise.start]), float(t[rise.fastest]), 0.9)
        )
    out.append(Phase("turnover", float(t[rise.fastest]), float(t[rise.high]), 0.9))
    if caught and window.span.stop > rise.high + 2:
        low = catch_low(z, v, rise.high, window.span.stop, motion.dt)
        out.append(Phase("catch", float(t[rise.high]), float(t[low]), 0.8 if window.outcome == "made" else 0.4))
        if window.outcome == "made":
            stop = min(len(t) - 1, window.span.stop)
            if window.drive is not None:
                stop = max(low, window.drive.low - round(0.5 / motion.dt))
            out.append(Phase("recovery", float(t[low]), float(t[min(len(t) - 1, stop)]), 0.8))
    return tuple(out)


def pull_parts(v: Floats, rise: Rise, dt: float) -> tuple[int | None, int | None, float]:
    """Samples where first pull and transition end, and how sure: the local high and low of velocity before its peak."""
    width = max(1, round(0.02 / dt))
    part = uniform_filter1d(v[rise.start : rise.fastest + 1], width, mode="nearest")
    if len(part) < 10:
        return None, None, 0.0
    edge = max(2, width)
    inner = part[edge:-edge]
    highs = np.flatnonzero((inner[1:-1] >= inner[:-2]) & (inner[1:-1] > inner[2:])) + 1 + edge
    best: tuple[int, int, float] | None = None
    for high in highs:
        low = int(high + np.argmin(part[high:]))
        dip = float(part[high] - part[low])
        if dip > LEAST_DIP and (best is None or dip > best[2]):
            best = (int(high), low, dip)
    if best is None:
        return None, None, 0.0
    return rise.start + best[0], rise.start + best[1], float(np.clip(0.5 + best[2] / 0.1, 0.5, 0.95))


def catch_low(z: Floats, v: Floats, apex: int, stop: int, dt: float) -> int:
    """The lowest sample after the apex before the bar rises again for good."""
    part = z[apex:stop]
    reach = min(len(part), round(3.0 / dt))
    return apex + int(np.argmin(part[:reach]))


def _drive(motion: Motion, rise: Rise, stop: int, begin: int | None = None) -> tuple[Phase, ...]:
    t, z, v = motion.t_s, motion.position[:, 2], motion.velocity[:, 2]
    if begin is None:
        sinking = np.flatnonzero(v[: rise.low] > -0.05)
        begin = int(sinking[-1]) if len(sinking) else rise.low
    low = catch_low(z, v, rise.high, max(stop, rise.high + 1), motion.dt)
    return (
        Phase("dip", float(t[begin]), float(t[rise.low]), 0.9),
        Phase("drive", float(t[rise.low]), float(t[rise.fastest]), 0.95),
        Phase("rise_to_apex", float(t[rise.fastest]), float(t[rise.high]), 0.9),
        Phase("receive", float(t[rise.high]), float(t[low]), 0.6),
        Phase("recovery", float(t[low]), float(t[min(len(t) - 1, stop)]), 0.6),
    )
