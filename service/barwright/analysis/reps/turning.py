"""Where the bar turned: highs and lows of its height, and the rises between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EDGE_VELOCITY = 0.03  # m/s: a concentric phase lies between the two crossings of it that bracket the rise


@dataclass(frozen=True, slots=True)
class Turn:
    """A high or low of height by sample number."""

    at: int
    height: float
    high: bool


@dataclass(frozen=True, slots=True)
class Rise:
    """One rise by sample number: low and high points, concentric start and stop, the fastest sample between them."""

    low: int
    high: int
    start: int
    stop: int
    fastest: int


def turns(z: Floats, least: float, thin: int) -> list[Turn]:
    """Alternating lows and highs of z (n,), each at least `least` metres from the last; looked for on every thin-th sample."""
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


def rise_between(z: Floats, v: Floats, low: int, high: int) -> Rise | None:
    """The concentric phase of the rise from sample low to sample high; None when the bar never passed 0.03 m/s.

    It starts at the upward crossing after which the bar leaves its lowest point for good (within 1 cm), and stops at the
    last downward crossing before the highest point; a slow sticking region inside does not end it.
    """
    high = _first_top(z, v, low, high)
    inside = v[low : high + 1]
    up = np.flatnonzero((inside[:-1] < EDGE_VELOCITY) & (inside[1:] >= EDGE_VELOCITY)) + 1
    if inside[0] >= EDGE_VELOCITY:
        up = np.concatenate(([0], up))
    if not len(up):
        return None
    # slack being taken in may cross the edge while the plates still touch the floor: the last crossing there counts
    near = z[low + up] < z[low] + 0.01
    start = low + int(up[near][-1] if near.any() else up[0])
    down = np.flatnonzero((inside[:-1] >= EDGE_VELOCITY) & (inside[1:] < EDGE_VELOCITY))
    down = down[low + down > start]
    stop = low + int(down[-1]) if len(down) else high
    if stop <= start:
        return None
    return Rise(low, high, start, stop, start + int(np.argmax(v[start : stop + 1])))


def _first_top(z: Floats, v: Floats, low: int, high: int) -> int:
    """Where the rise is done: its first top within 12 mm of the highest; a held bar's sway makes later, higher ones."""
    fastest = low + int(np.argmax(v[low : high + 1]))
    done = np.flatnonzero((v[fastest : high + 1] <= 0.0) & (z[fastest : high + 1] >= z[high] - 0.012))
    return fastest + int(done[0]) if len(done) else high


def rises(z: Floats, v: Floats, least: float, thin: int) -> list[Rise]:
    """Every rise of at least `least` metres, in order."""
    found = turns(z, least, thin)
    out = []
    for a, b in zip(found[:-1], found[1:], strict=True):
        if not a.high and b.high:
            rise = rise_between(z, v, a.at, b.at)
            if rise is not None:
                out.append(rise)
    return out


def crossing_time(t: Floats, x: Floats, level: float, near: int) -> float:
    """Time at which x crosses a level beside sample `near`, between samples by straight line."""
    for i in (near - 1, near):
        if 0 <= i < len(x) - 1 and (x[i] - level) * (x[i + 1] - level) <= 0 and x[i] != x[i + 1]:
            return float(t[i] + (level - x[i]) / (x[i + 1] - x[i]) * (t[i + 1] - t[i]))
    return float(t[near])
