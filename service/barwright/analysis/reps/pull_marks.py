"""Where the phases of a pull part, from the bar alone: the points every phase and path measure of a pull rests on.

The literature bounds the transition by the knee's angle (first maximum of knee extension, then the deepest re-bend); no
bar shows that. The bar's signs for it: a local high of vertical velocity, then a local low. Where velocity never
falls the knee is put where the push of the first pull has ebbed away, with little certainty. The second pull ends where
upward acceleration ceases (Whitehead et al. 2014); the turnover at the apex; the catch where the falling bar stops.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.shaken import with_ring
from barwright.analysis.reps.turning import Rise

Floats = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class MarkParams:
    """What parts the phases of a pull (trade's wide ranges, from memory, and tuning on simulated lifts).

    smooth_s: sd of the smoothing of velocity. least_dip: a smaller fall of velocity (m/s) does not part first pull from
    transition. least_knee_m, most_knee: the knee lies at least so high over lift-off, at most at this share of the
    pull's rise. ebbed: share of the first pull's push above the least push after it, from which the knee is found
    where velocity never falls. stopped: falling speed (m/s) at which a caught bar has stopped. accel_u: doubt of
    smoothed acceleration (m/s2) for the u of a boundary. ringing: how much more a ringing bar is smoothed.
    """

    smooth_s: float = 0.008
    least_dip: float = 0.015
    least_knee_m: float = 0.13
    most_knee: float = 0.62
    ebbed: float = 0.25
    stopped: float = 0.02
    accel_u: float = 0.08
    ringing: float = 2.5


@dataclass(frozen=True, slots=True)
class PullMarks:
    """Samples of a motion. knee: end of the first pull, hip: end of the transition (for lifts from the floor only).

    parted: velocity fell between the two by `dip` m/s; without that they are the best guess and sure says so.
    caught: sample where the falling bar stopped, None when it was not caught. *_u: standard uncertainties in seconds.
    """

    start: int
    knee: int | None
    hip: int | None
    peak: int
    apex: int
    caught: int | None
    parted: bool
    dip: float
    sure: float
    knee_u: float
    hip_u: float
    peak_u: float
    apex_u: float
    caught_u: float


def pull_marks(motion: Motion, window: RepWindow, floor: bool, params: MarkParams | None = None) -> PullMarks:
    """Marks of one pull; floor: it begins on the floor, so that it has a first pull at all."""
    p = params or MarkParams()
    v, dt, rise = motion.velocity[:, 2], motion.dt, window.rise
    knee, hip, dip, parted, sure = None, None, 0.0, False, 0.0
    if floor:
        knee, hip, dip, parted, sure = _knee_and_hip(motion, rise, p)
    slope = max(abs(_slope(v, rise.high, dt)), 1.0)
    caught = _caught(v, rise.high, window, dt, p)
    sd = motion.errors.velocity_sd(motion.t_s[[rise.high, rise.high if caught is None else caught]], UP)
    return PullMarks(
        rise.start, knee, hip, rise.fastest, rise.high, caught, parted, dip, sure,
        _turn_u(motion, knee, p), _turn_u(motion, hip, p), _turn_u(motion, rise.fastest, p),
        float(np.hypot(sd[0] / slope, 0.5 * dt)),
        0.0 if caught is None else float(np.hypot((0.015 + sd[1]) / max(_slope(v, caught, dt), 1.0), dt)),
    )  # fmt: skip


def _knee_and_hip(motion: Motion, rise: Rise, p: MarkParams) -> tuple[int | None, int | None, float, bool, float]:
    z, dt = motion.position[:, 2], motion.dt
    part = slice(rise.start, rise.fastest + 1)
    if rise.fastest - rise.start < max(10, round(0.15 / dt)):
        return None, None, 0.0, False, 0.0
    rung = 1.0 if motion.ring_hz is None else p.ringing
    v = gaussian_filter1d(motion.velocity[part, 2], max(rung * p.smooth_s / dt, 0.3), mode="nearest")
    risen = z[part] - z[rise.start]
    high_enough = risen > p.least_knee_m
    low_enough = risen < p.most_knee * float(z[rise.high] - z[rise.start])
    inner = np.flatnonzero(high_enough & low_enough)
    if len(inner) < 5:
        return None, None, 0.0, False, 0.0
    begin, end = max(int(inner[0]), 1), min(int(inner[-1]) + 1, len(v) - 2)
    if end <= begin + 2:
        return None, None, 0.0, False, 0.0
    best = _dip(v, begin, end)
    if best is not None and best[2] > _least_dip(motion, rise, p):
        high, low, dip = best
        return rise.start + high, rise.start + low, dip, True, float(np.clip(0.55 + dip / 0.1, 0.55, 0.95))
    push = gaussian_filter1d(np.gradient(v, dt), rung * 0.012 / dt, mode="nearest")
    knee, hip = _ebbing(push, begin, end, p)
    if not begin <= knee < hip < len(v) - 2:
        return None, None, 0.0, False, 0.0
    return rise.start + knee, rise.start + hip, 0.0, False, 0.35


def _least_dip(motion: Motion, rise: Rise, p: MarkParams) -> float:
    """A fall of velocity that is a dip: what is left of a ringing bar must not look like one."""
    if motion.ring_hz is None:
        return p.least_dip
    middle = motion.t_s[[(rise.start + rise.fastest) // 2]]
    return max(p.least_dip, 2.0 * float(motion.errors.velocity_sd(middle, UP)[0]))


def _ebbing(push: Floats, begin: int, end: int, p: MarkParams) -> tuple[int, int]:
    """Where the push (n,) of the first pull has ebbed away, and where the next one begins to swell.

    Each by the straight line through its half and its `ebbed` share over the least push between, down to that.
    """
    crest = int(np.argmax(push[:begin]))
    ebb = crest + int(np.argmin(push[crest:end]))
    if ebb < begin:  # a yank off the floor was a crest of its own: the next one counts
        crest = ebb + int(np.argmax(push[ebb:begin]))
        ebb = crest + int(np.argmin(push[crest:end]))
    swell = ebb + int(np.argmax(push[ebb:]))
    if ebb <= crest + 2 or swell <= ebb + 2:
        return 0, 0

    def line(side: Floats) -> float:
        """The sample of `side` (k,), crest first, at which a line through its half and its `ebbed` share is down."""
        height = side[0] - side[-1]
        half, low = (int(np.flatnonzero(side <= side[-1] + share * height)[0]) for share in (0.5, p.ebbed))
        return float(min(low + (low - half) * p.ebbed / (0.5 - p.ebbed), len(side) - 1))

    falling, rising = push[crest : ebb + 1], push[ebb : swell + 1][::-1]
    return crest + round(line(falling)), swell - round(line(rising))


def _dip(v: Floats, begin: int, end: int) -> tuple[int, int, float] | None:
    """The greatest fall of v from a local high between begin and end to the low after it."""
    highs = np.flatnonzero((v[begin:end] >= v[begin - 1 : end - 1]) & (v[begin:end] > v[begin + 1 : end + 1])) + begin
    best: tuple[int, int, float] | None = None
    for high in highs:
        over = np.flatnonzero(v[high:] > v[high])  # the fall ends where the bar is faster than before
        until = high + (int(over[0]) if len(over) else len(v) - high)
        low = int(high + np.argmin(v[high:until]))
        dip = float(v[high] - v[low])
        if best is None or dip > best[2]:
            best = (int(high), low, dip)
    return best


def _caught(v: Floats, apex: int, window: RepWindow, dt: float, p: MarkParams) -> int | None:
    """First sample after the apex at which the fallen bar has stopped; None when it fell on to the end."""
    stop = max(window.span.stop, apex + 1) if window.drive is None else window.drive.low
    fall = v[apex : min(len(v), stop + round(0.3 / dt), apex + round(1.2 / dt))]
    if len(fall) < 5:
        return None
    ended = np.flatnonzero((fall[1:] > -p.stopped) & (fall[:-1] <= -p.stopped))
    if not len(ended):
        return None
    at = apex + int(ended[0]) + 1
    rest = round(p.stopped / max(_slope(v, at, dt), 1.0) / dt)  # from there to nought, as it is slowing
    return min(at + rest, len(v) - 1)


def _slope(x: Floats, at: int, dt: float) -> float:
    a, b = max(0, at - round(0.01 / dt) - 1), min(len(x) - 1, at + round(0.01 / dt) + 1)
    return float((x[b] - x[a]) / ((b - a) * dt)) if b > a else 0.0


def _turn_u(motion: Motion, at: int | None, p: MarkParams) -> float:
    """Seconds by which a local high or low of v moves when its slope is off by accel_u: accel_u over the jerk."""
    if at is None:
        return 0.0
    v, dt = motion.velocity[:, 2], motion.dt
    k = max(1, round(0.02 / dt))
    if at - k < 0 or at + k >= len(v):
        return 0.05
    jerk = abs(float(v[at + k] - 2 * v[at] + v[at - k])) / (k * dt) ** 2
    accel_u = with_ring(motion, p.accel_u, "accel_sd", at)
    return float(np.hypot(min(accel_u / max(jerk, 1.0), 0.08), 0.5 * dt))
