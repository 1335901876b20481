"""Units that nobody told, from what a sensor on a bar can read: said only where no other unit is possible.

A bar at rest feels gravity and does not turn. That settles the unit of force. The unit of rates is settled when they
are larger than any sensor's in radians, when a resting sensor would turn far too fast in radians, or when only one of
the two units turns gravity as the accelerometer saw it turn. Limits are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from barwright.analysis.motion.samples import Floats
from barwright.analysis.quantities.rotations import from_rotation_vector, matrices, prefix_products
from barwright.analysis.quantities.units import factor_to_si

STILL_S = 0.4  # so long a rest has to be
STILL_SHARE = 0.03  # force of a resting bar varies by less than this share of itself
FORCE_AT_REST = {"[g]": (0.85, 1.15), "m/s2": (8.4, 11.2), "m[g]": (850.0, 1150.0)}
FASTEST_RAD_S = 80.0  # 4600 deg/s, above every full scale
RESTING_RAD_S = 0.5  # 29 deg/s: no gyroscope at rest is so far off
AGREES, DIFFERS = np.radians(8.0), np.radians(20.0)  # of gravity at a rest, as turned there and as felt there
MOST_RESTS = 200


@dataclass(frozen=True, slots=True)
class Guess:
    """unit: UCUM code, or None when it is not certain. why: plain words."""

    unit: str | None
    why: str


def rests_of(t_s: Floats, force: Floats) -> list[tuple[int, int]]:
    """Half-open ranges of samples over which force (n, 3), in any unit, stays the same for STILL_S or longer.

    t_s (n,) seconds, never falling.
    """
    if len(t_s) < 4:
        return []
    edges = np.searchsorted(t_s, np.arange(t_s[0], t_s[-1], STILL_S / 2))
    usual = float(np.median(np.linalg.norm(force, axis=1)))
    rests: list[tuple[int, int]] = []
    for start, stop in zip(edges, [*edges[2:], len(t_s), len(t_s)], strict=False):
        long_enough = stop - start >= 4 and t_s[stop - 1] - t_s[start] > 0.6 * STILL_S
        if long_enough and float(np.max(np.std(force[start:stop], axis=0))) <= STILL_SHARE * usual:
            if rests and rests[-1][1] >= start:
                rests[-1] = (rests[-1][0], int(stop))
            else:
                rests.append((int(start), int(stop)))
    return rests


@dataclass(frozen=True, slots=True)
class AtRest:
    """Force while the sensor rests: its size, how far single samples stray from it, over how many; in its own unit."""

    size: float
    deviation: float
    samples: int


def force_at_rest(force: Floats, rests: list[tuple[int, int]]) -> AtRest | None:
    """The size of force (n, 3) over the rests; None without a rest."""
    if not rests:
        return None
    size = np.concatenate([np.linalg.norm(force[start:stop], axis=1) for start, stop in rests])
    return AtRest(float(np.median(size)), float(np.std(size)), len(size))


def guess_force(force: Floats, rests: list[tuple[int, int]]) -> Guess:
    """The unit of force (n, 3)."""
    found = force_at_rest(force, rests)
    if found is None:
        return Guess(None, "the bar is never at rest in it, so that gravity could tell the unit")
    size = found.size
    for unit, (low, high) in FORCE_AT_REST.items():
        if low <= size <= high:
            return Guess(unit, f"at rest it reads {size:.4g}")
    if size < FORCE_AT_REST["[g]"][0]:
        return Guess(None, f"at rest it reads {size:.3g}, as if gravity had been taken out")
    return Guess(None, f"at rest it reads {size:.5g}, which is gravity in no unit; counts need a `scale`")


def guess_rate(t_s: Floats, rate: Floats, force: Floats, rests: list[tuple[int, int]]) -> Guess:
    """The unit of rates (n, 3), from their size and from force (n, 3), whatever its unit."""
    largest = float(np.max(np.abs(rate), initial=0.0))
    if largest > FASTEST_RAD_S:
        return Guess("deg/s", f"it reads up to {largest:.4g}, more than any sensor's radians")
    if rests:
        still = np.concatenate([rate[start:stop] for start, stop in rests])
        resting = float(np.max(np.abs(np.median(still, axis=0))))
        if resting > RESTING_RAD_S:
            return Guess("deg/s", f"at rest it reads {resting:.3g}, more than a resting sensor's radians")
        rate = rate - np.median(still, axis=0)
    return _by_turning(t_s, rate, force, rests)


def _by_turning(t_s: Floats, rate: Floats, force: Floats, rests: list[tuple[int, int]]) -> Guess:
    """Each pair of rests votes for the unit that turns gravity from one to the other, when the other unit does not."""
    votes = dict.fromkeys(("deg/s", "rad/s"), 0)
    ups = [_mean_direction(force[start:stop]) for start, stop in rests[:MOST_RESTS]]
    for (one, before), (other, after) in pairwise(zip(rests, ups, strict=False)):
        span = slice(one[1] - 1, other[0] + 1)
        off = {
            unit: _angle(_turned(t_s[span], rate[span] * factor_to_si(unit, "rate"), before), after) for unit in votes
        }
        best, other_unit = sorted(off, key=lambda unit: off[unit])
        votes[best] += off[best] < AGREES and off[other_unit] > DIFFERS
    best, other_unit = sorted(votes, key=lambda unit: -votes[unit])
    if votes[best] > 4 * votes[other_unit]:
        return Guess(best, "only in this unit does it turn gravity as the accelerometer saw it turn")
    return Guess(None, "it could be deg/s or rad/s")


def _turned(t_s: Floats, rate: Floats, up: Floats) -> Floats:
    """Where a direction (3,) of the sensor's frame is after rates (n, 3) in rad/s, if it stands still in the world."""
    steps = 0.5 * (rate[1:] + rate[:-1]) * np.diff(t_s)[:, None]
    whole = prefix_products(from_rotation_vector(steps), np.array([1.0, 0.0, 0.0, 0.0]))[-1:]
    turned: Floats = matrices(whole)[0].T @ up
    return turned


def _mean_direction(force: Floats) -> Floats:
    mean = force.mean(axis=0)
    direction: Floats = mean / max(float(np.linalg.norm(mean)), 1e-12)
    return direction


def _angle(one: Floats, other: Floats) -> float:
    return float(np.arccos(np.clip(np.dot(one, other), -1.0, 1.0)))
