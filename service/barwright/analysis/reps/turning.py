"""Where the bar turned: highs and lows of its height, and the rises between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SWAY_M, SWAY_S = 0.010, 0.6  # a bar held in hands wanders less than this in that time (common practice, no source)
STOPPED_M = 0.025
MAYBE_SWAY_M = 0.018  # hands that are not steady may take a bar as far; a lift's end that gains no more is one of two
EDGE_VELOCITY = 0.03  # m/s: a concentric phase lies between the two crossings of it that bracket the rise


@dataclass(frozen=True, slots=True)
class Turn:
    """A high or low of height by sample number."""

    at: int
    height: float
    high: bool


@dataclass(frozen=True, slots=True)
class Rise:
    """One rise by sample number: low and high points, concentric start and stop, the fastest sample between them.

    within: the samples (first, last) the low and high points were looked for in.
    """

    low: int
    high: int
    start: int
    stop: int
    fastest: int
    within: tuple[int, int]


def turns(z: Floats, least: float, thin: int) -> list[Turn]:
    """Alternating lows and highs of z (n,), each at least `least` metres from the last; on every thin-th sample."""
    if len(z) < 2:
        return []
    step = z[::thin]
    out: list[Turn] = []
    low = high = 0
    going = 0  # 0 not known yet, +1 rising, -1 falling
    for i in range(1, len(step)):
        x = step[i]
        if x > step[high]:
            high = i
        if x < step[low]:
            low = i
        if going <= 0 and x - step[low] >= least:
            out.append(Turn(low * thin, float(step[low]), False))
            going, high = 1, i
        elif going >= 0 and step[high] - x >= least:
            out.append(Turn(high * thin, float(step[high]), True))
            going, low = -1, i
        if going > 0 and x >= step[high]:
            high = i
        if going < 0 and x <= step[low]:
            low = i
    last = high if going > 0 else low
    if going != 0 and last * thin > out[-1].at:
        out.append(Turn(last * thin, float(step[last]), going > 0))
    return [_sharpened(turn, z, thin) for turn in out]


def _sharpened(turn: Turn, z: Floats, thin: int) -> Turn:
    a, b = max(0, turn.at - thin), min(len(z), turn.at + thin + 1)
    at = a + int(np.argmax(z[a:b]) if turn.high else np.argmin(z[a:b]))
    return Turn(at, float(z[at]), turn.high)


def rise_between(z: Floats, v: Floats, low: int, high: int, thin: int) -> Rise | None:
    """The concentric phase of the rise from sample low to sample high; None when the bar never passed 0.03 m/s.

    thin samples last about 10 ms.
    """
    if high <= low:  # two turns a sample apart in wild data
        return None
    fastest = low + int(np.argmax(v[low : high + 1]))
    if v[fastest] < EDGE_VELOCITY:
        return None
    start = start_edge(z, v, low, fastest, thin)
    stop = stop_edge(z, v, fastest, high, thin)
    if stop <= start:
        return None
    near = 15 * thin
    bottom = max(low, start - near) + int(np.argmin(z[max(low, start - near) : start + 1]))
    top = stop + int(np.argmax(z[stop : min(high, stop + near) + 1]))
    return Rise(bottom, top, start, stop, fastest, (low, high))


def start_edge(z: Floats, v: Floats, low: int, fastest: int, thin: int) -> int:
    """First sample of the concentric phase: the first upward crossing of 0.03 m/s after the lowest point."""
    back = slice(low, fastest + 1)
    return fastest - _edge(-z[back][::-1], v[back][::-1], thin) + 1


def stop_edge(z: Floats, v: Floats, fastest: int, high: int, thin: int) -> int:
    """Last sample of the concentric phase: the last downward crossing of 0.03 m/s before the highest point."""
    ahead = slice(fastest, high + 1)
    return fastest + _edge(z[ahead], v[ahead], thin) - 1


def possible_starts(z: Floats, drift: Floats, v: Floats, fastest: int, thin: int) -> tuple[int, int]:
    """The first sample of the phase if it begins as late as it may, and as early: one where no sway nears 0.03 m/s.

    z, v (n,) from the rise's lowest point on, v with an error of velocity, drift (n,) m what that error does to height.
    """
    back = slice(fastest, None, -1)
    near, far = _possible_edges(-z[back], -drift[back], v[back], thin)
    return fastest - near + 1, fastest - far + 1


def possible_stops(z: Floats, drift: Floats, v: Floats, fastest: int, thin: int) -> tuple[int, int]:
    """The last sample of the phase if it ends as early as it may, and as late; arrays up to the highest point."""
    near, far = _possible_edges(z[fastest:], drift[fastest:], v[fastest:], thin)
    return fastest + near - 1, fastest + far - 1


def _edge(z: Floats, v: Floats, thin: int) -> int:
    """First sample slower than 0.03 m/s at which the rise is done; the last one otherwise.

    Done: what height is still gained is no more than sway, or little while the bar has already stopped or turned. So a
    slow sticking region inside does not end the phase, and the sway of a bar held before or after does not lengthen it.
    """
    ahead = max(1, round(SWAY_S * 100) * thin)
    for k in np.flatnonzero(v < EDGE_VELOCITY):
        if float(z[k : k + ahead].max() - z[k]) < SWAY_M or _stops(z, v, int(k), ahead):
            return int(k)
    return len(v)


def _possible_edges(z: Floats, drift: Floats, v: Floats, thin: int) -> tuple[int, int]:
    """The first sample slower than 0.03 m/s after which little height is gained, and the last one before the bar stops.

    Between them sway passes 0.03 m/s: whether that is still the lift, the bar's motion alone does not tell.
    """
    ahead = max(1, round(SWAY_S * 100) * thin)
    really = z + drift
    near = len(v)
    for k in np.flatnonzero(v < EDGE_VELOCITY):
        if float(really[k : k + ahead].max() - really[k]) < MAYBE_SWAY_M or _stops(z, v, int(k), ahead):
            near = int(k)
            break
    stopped = np.flatnonzero(v[near : near + ahead] <= 0.0)
    going = v[near : near + (int(stopped[0]) if len(stopped) else ahead)]
    fast = np.flatnonzero(going >= EDGE_VELOCITY)
    return near, near + (int(fast[-1]) + 1 if len(fast) else 0)


def _stops(z: Floats, v: Floats, k: int, ahead: int) -> bool:
    """Whether the bar stops or turns from sample k on, before it is fast again, and gains little afterwards."""
    again = np.flatnonzero(v[k:] >= EDGE_VELOCITY)
    stopped = bool((v[k : k + (int(again[0]) if len(again) else len(v))] <= 0.0).any())
    return stopped and float(z[k : k + ahead].max() - z[k]) < STOPPED_M


def rises(z: Floats, v: Floats, least: float, thin: int) -> list[Rise]:
    """Every rise of at least `least` metres, in order."""
    found = turns(z, least, thin)
    out = []
    for a, b in pairwise(found):
        if not a.high and b.high:
            rise = rise_between(z, v, a.at, b.at, thin)
            if rise is not None:
                out.append(rise)
    return out


def crossing_time(t: Floats, x: Floats, level: float, near: int) -> float:
    """Time at which x crosses a level beside sample `near`, between samples by straight line."""
    for i in (near - 1, near):
        if 0 <= i < len(x) - 1 and (x[i] - level) * (x[i + 1] - level) <= 0 and x[i] != x[i + 1]:
            return float(t[i] + (level - x[i]) / (x[i + 1] - x[i]) * (t[i + 1] - t[i]))
    return float(t[near])
