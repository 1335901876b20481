"""Bar motion to reps: each pattern of motion has its own signs of a rep and of its outcome."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.reps.turning import Rise, rise_between, rises, turns

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RepParams:
    """What tells a rep, from facts of the trade (common practice, no source).

    lift_off_m: height over the resting bar that counts as off the floor. least_pull_m: a lower pull is partial.
    least_rise_m: a slow lift's least range. whole_share: a rep this share of the set's longest is whole.
    held_s, held_m_s: how long and how still a bar is held to count as caught; held_high_s where it was caught high
    and not stood up with; overhead_s for a jerk.
    """

    lift_off_m: float = 0.04
    least_pull_m: float = 0.45
    least_rise_m: float = 0.12
    whole_share: float = 0.6
    fast_share: float = 0.75  # of the fastest rise: in a set from the hang every rise this fast is a pull of its own
    held_s: float = 0.35
    held_high_s: float = 1.1
    overhead_s: float = 0.6
    held_m_s: float = 0.15


@dataclass(frozen=True, slots=True)
class RepWindow:
    """A rep by sample number of its motion: its span, its rise, the drive of a jerk after a clean, its outcome."""

    span: Span
    rise: Rise
    outcome: str
    drive: Rise | None = None
    floor: int | None = None  # a sample at which the bar still lay where it started


def find_reps(motion: Motion, lift: Lift, params: RepParams | None = None) -> list[RepWindow]:
    """Reps in one unbroken motion, in order."""
    params = params or RepParams()
    z, v = motion.position[:, 2], motion.velocity[:, 2]
    thin = max(1, round(0.01 / motion.dt))
    if lift.pattern in (Pattern.PULL_AND_CATCH, Pattern.PULL, Pattern.PULL_AND_DRIVE):
        return _pulls(motion, z, v, thin, lift, params)
    if lift.pattern is Pattern.DRIVE:
        return _drives(motion, z, v, thin, params)
    if lift.pattern is Pattern.DOWN_UP:
        return _down_up(z, v, thin, motion.dt, params)
    return _up_down(z, v, thin, motion.dt, params)


def _pulls(motion: Motion, z: Floats, v: Floats, thin: int, lift: Lift, params: RepParams) -> list[RepWindow]:
    """Every time the bar leaves its resting height is one attempt; its fastest rise is the pull."""
    out: list[RepWindow] = []
    base = _resting_height(motion, z, v, low=True)
    for off in spans_of(z > base + params.lift_off_m):
        begin = off.start - 1
        while begin > 0 and z[begin - 1] < z[begin]:
            begin -= 1
        begin = max(0, begin - round(0.3 / motion.dt))
        stop = min(len(z), off.stop + 1)
        found = [
            r for r in rises(z[begin:stop], v[begin:stop], 0.03, thin) if _is_pull(motion, _shifted(r, begin), lift)
        ]
        if not found:
            continue
        if lift.start == "floor":  # standing up and a jerk's drive begin higher
            found = [r for r in found if z[begin + r.low] < base + 0.15] or found[:1]
        fastest = max(float(v[begin + r.fastest]) for r in found)
        fast = [r for r in found if v[begin + r.fastest] >= params.fast_share * fastest] if lift.start == "hang" else []
        pulls = fast or [max(found, key=lambda r: float(v[begin + r.fastest]))]
        for number, pull in enumerate(pulls):
            rise = _shifted(pull, begin)
            end = begin + pulls[number + 1].low if number + 1 < len(pulls) else stop
            out.append(_pull_outcome(motion, rise, end, base, lift, params))
    return out


def _is_pull(motion: Motion, rise: Rise, lift: Lift) -> bool:
    """Whether hands made the rise: a dropped bar bounces and rolls before it lies still."""
    z, v, t = motion.position[:, 2], motion.velocity[:, 2], motion.t_s
    height = float(z[rise.high] - z[rise.low])
    if height < 0.1:
        return False
    if motion.begins_after_cut and motion.rests and t[motion.rests[0].span.start] > t[rise.low] + 0.3:
        return False
    lain = any(r.firm and r.span.start <= rise.low for r in motion.rests)
    if motion.begins_after_cut and lift.start == "floor" and not lain:
        return False  # a bar in the air before may still be there: only one that has lain down is pulled anew
    earlier = v[max(0, rise.low - round(2.0 / motion.dt)) : rise.low + 1]
    falls = np.flatnonzero(earlier < -2.5)
    if len(falls):  # dropped, not lowered: wait until it lies still
        calm = spans_of(np.abs(earlier[falls[-1] :]) < 0.05)
        if not any(len(run) * motion.dt > 0.25 for run in calm):
            return False
    u = motion.errors.displacement_sd(float(t[rise.low]), t[[rise.high]], np.array([0.0, 0.0, 1.0]))
    return height > 3.0 * float(u[0])


def _pull_outcome(motion: Motion, rise: Rise, end: int, base: float, lift: Lift, params: RepParams) -> RepWindow:
    z, v, dt = motion.position[:, 2], motion.velocity[:, 2], motion.dt
    height = float(z[rise.high] - min(base, z[rise.low]))
    low = float(z[rise.low])
    if lift.pattern is Pattern.PULL:
        outcome = "made" if z[rise.high] - low >= 0.3 and v[rise.fastest] >= 0.5 else "partial"
        return RepWindow(Span(rise.start, min(end, rise.high + round(0.1 / dt))), rise, outcome, None, rise.low)
    if height < params.least_pull_m or v[rise.fastest] < 0.4:
        return RepWindow(Span(rise.start, min(end, rise.high + 1)), rise, "partial", None, rise.low)
    apex = float(z[rise.high])
    # stood up with the bar, or caught high and held there; hanging on for a moment before losing it is neither
    enough = ((apex + 0.03, params.held_s), (apex - 0.05, 0.6), (apex - 0.15, params.held_high_s))
    held = _held(motion, rise.high, end, enough, params)
    if held is None:
        return RepWindow(Span(rise.start, end), rise, "failed", None, rise.low)
    if lift.pattern is not Pattern.PULL_AND_DRIVE:
        return RepWindow(Span(rise.start, held), rise, "made", None, rise.low)
    drive = _drive_after(z, v, rise.high, end, dt)
    if drive is None:
        return RepWindow(Span(rise.start, held), rise, "failed", None, rise.low)
    overhead = _held(motion, drive.high, end, ((float(z[drive.low]) + 0.25, params.overhead_s),), params)
    return RepWindow(Span(rise.start, overhead or end), rise, "made" if overhead else "failed", drive, rise.low)


def _held(motion: Motion, begin: int, end: int, least: Sequence[tuple[float, float]], params: RepParams) -> int | None:
    """The sample at which the bar comes to its highest hold between begin and end; None when it was never held.

    least: pairs of height and seconds; a hold counts when it is at or above one's height for its time.
    """
    z, v, t = motion.position[begin:end, 2], motion.velocity[begin:end, 2], motion.t_s[begin:end]
    if len(z) < 2:
        return None
    coarse = t[:: max(1, len(t) // 12)]
    sd = np.interp(t, coarse, motion.errors.velocity_sd(coarse, np.array([0.0, 0.0, 1.0])))
    holds: list[tuple[float, int]] = []
    for run in spans_of(np.abs(v) < params.held_m_s + 1.5 * sd):
        height, seconds = float(np.median(z[run.as_slice()])), len(run) * motion.dt
        if any(height >= h and seconds >= s for h, s in least):
            holds.append((height, begin + run.start))
    if not holds:
        return None
    top = max(holds)[0]
    return next(at for height, at in holds if height > top - 0.03)


def _drive_after(z: Floats, v: Floats, apex: int, end: int, dt: float) -> Rise | None:
    """The jerk after a clean: the fastest rise that begins no lower than the clean's apex."""
    thin = max(1, round(0.01 / dt))
    found = [_shifted(r, apex) for r in rises(z[apex:end], v[apex:end], 0.03, thin)]
    fast = [r for r in found if z[r.high] - z[r.low] > 0.12 and v[r.fastest] > 0.6 and z[r.low] > z[apex] - 0.1]
    return max(fast, key=lambda r: float(v[r.fastest])) if fast else None


def _drives(motion: Motion, z: Floats, v: Floats, thin: int, params: RepParams) -> list[RepWindow]:
    """A dip from a held bar, then a fast rise: a jerk or push press; held higher than it started, it is good."""
    out: list[RepWindow] = []
    found = [r for r in rises(z, v, 0.03, thin) if v[r.fastest] > 0.6]
    for rise in found:
        level = _level_before(z, v, rise.low, motion.dt)
        dipped = 0.04 <= level - z[rise.low] <= 0.45 and z[rise.high] >= level + 0.05
        begin = _dip_start(v, rise.low, motion.dt)
        if not dipped or (rise.low - begin) * motion.dt > 1.5 or (out and rise.low < out[-1].span.stop):
            continue
        back = np.flatnonzero(z[rise.high :] < level + 0.05 - 1.5 * _height_sd(motion, rise.low, rise.high))
        end = rise.high + int(back[0]) if len(back) else len(z)
        held = _held(motion, rise.high, end, ((level + 0.2, params.overhead_s),), params)
        stop = held if held is not None else end
        out.append(
            RepWindow(
                Span(begin, max(stop, rise.high + 1)), rise, "made" if held is not None else "failed", None, begin
            )
        )
    return out


def _height_sd(motion: Motion, low: int, begin: int) -> Floats:
    """(m,) u of the height over that at sample `low`, m, from sample `begin` to the end."""
    t = motion.t_s[begin:]
    coarse = t[:: max(1, len(t) // 12)]
    up = np.array([0.0, 0.0, 1.0])
    return np.interp(t, coarse, motion.errors.displacement_sd(float(motion.t_s[low]), coarse, up))


def _level_before(z: Floats, v: Floats, low: int, dt: float) -> float:
    """Height at which the bar was last held before the dip that ends at sample `low`; else its highest just before."""
    begin = max(0, low - round(4.0 / dt))
    calm = [run for run in spans_of(np.abs(v[begin:low]) < 0.08) if len(run) * dt > 0.15]
    if calm:
        return float(np.median(z[begin:low][calm[-1].as_slice()]))
    return float(z[max(0, low - round(1.0 / dt)) : low + 1].max())


def _dip_start(v: Floats, bottom: int, dt: float) -> int:
    """The sample at which the bar began to sink: the last one slower than 5 cm/s downward before the dip's bottom."""
    sinking = v[:bottom] < -0.05
    runs = [run for run in spans_of(sinking) if run.stop > bottom - round(0.4 / dt)]
    return runs[-1].start if runs else bottom


def _down_up(z: Floats, v: Floats, thin: int, dt: float, params: RepParams) -> list[RepWindow]:
    """Lowered and lifted again: squats and bench press."""
    points = turns(z, 0.05, thin)
    depths = [
        (a, b, c)
        for a, b, c in zip(points[:-2], points[1:-1], points[2:], strict=True)
        if a.high and c.high and not b.high
    ]
    lows = [(a, b) for a, b in pairwise(points) if a.high and not b.high]
    deepest = max((min(a.height, c.height) - b.height for a, b, c in depths), default=0.0)
    if deepest < params.least_rise_m:
        return []
    out = []
    for a, b in lows:
        down = a.height - b.height
        after = next((p for p in points if p.at > b.at and p.high), None)
        up = after.height - b.height if after else 0.0
        if max(min(down, up), 0.0) < 0.35 * deepest or after is None:
            continue
        rise = rise_between(z, v, b.at, after.at, thin)
        if rise is None:
            continue
        if min(down, up) >= params.whole_share * deepest:
            outcome = "made" if up >= 0.7 * down else "failed"
        else:
            outcome = "partial" if up >= 0.7 * down else "failed"
        out.append(RepWindow(Span(_lowering_start(v, a.at, b.at), rise.stop + 1), rise, outcome, None, None))
    return out


def _up_down(z: Floats, v: Floats, thin: int, dt: float, params: RepParams) -> list[RepWindow]:
    """Lifted and lowered again: deadlift, press, row."""
    found = [r for r in rises(z, v, 0.05, thin) if z[r.high] - z[r.low] >= params.least_rise_m]
    if not found:
        return []
    longest = max(float(z[r.high] - z[r.low]) for r in found)
    out = []
    for number, rise in enumerate(found):
        share = float(z[rise.high] - z[rise.low]) / longest
        if share < 0.35:
            continue
        nxt = found[number + 1].low if number + 1 < len(found) else len(z)
        out.append(
            RepWindow(
                Span(rise.start, _lowering_stop(v, rise.high, nxt)),
                rise,
                "made" if share >= params.whole_share else "partial",
            )
        )
    return out


def _lowering_start(v: Floats, high: int, low: int) -> int:
    """Where the bar begins to sink, before it sinks fastest: at the bottom, and in a pause there, it is slow again."""
    if low <= high:
        return high
    fastest = high + int(np.argmin(v[high:low]))
    slow = np.flatnonzero(v[high : fastest + 1] > -0.03)
    return high + int(slow[-1]) if len(slow) else high


def _lowering_stop(v: Floats, high: int, end: int) -> int:
    falling = np.flatnonzero(v[high:end] < -0.03)
    return min(end, high + int(falling[-1]) + 1) if len(falling) else end


def _resting_height(motion: Motion, z: Floats, v: Floats, low: bool) -> float:
    """Height of the bar where it lies or hangs before it is pulled: the lowest rest, or the lowest calm height."""
    heights = [float(np.median(z[r.span.as_slice()])) for r in motion.rests]
    if heights:
        earlier = z[: motion.rests[0].span.start]
        # a recording that begins in mid-pull shows the floor only as where the bar came from
        if len(earlier) and not motion.begins_after_cut and float(earlier.min()) < min(heights) - 0.25:
            return float(earlier.min())
        return min(heights)
    calm = np.abs(v) < 0.05
    return float(np.quantile(z[calm], 0.05)) if calm.any() else float(z.min())


def _shifted(rise: Rise, by: int) -> Rise:
    within = (rise.within[0] + by, rise.within[1] + by)
    return Rise(rise.low + by, rise.high + by, rise.start + by, rise.stop + by, rise.fastest + by, within)
