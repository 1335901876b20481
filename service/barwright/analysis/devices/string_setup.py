"""Setting up a string encoder: counts for a metre, direction, slip, and where its string comes out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
QUANTUM = 1.0 / math.sqrt(6.0)  # of a difference of two whole counts
UNEVEN = 3.0  # sigmas a pull may lie from the others


@dataclass(frozen=True, slots=True)
class Pull:
    """One measured pull: counts before, out and back home (None when it was not brought back); length m with its u."""

    home: float
    out: float
    back: float | None
    length: Estimate


@dataclass(frozen=True, slots=True)
class Offsets:
    """Lengths of string at two heights of the bar and the height between them, m, each with its u."""

    low: Estimate
    high: Estimate
    rise: Estimate


@dataclass(frozen=True, slots=True)
class StringFound:
    """counts_per_m: always positive; direction +1 when pulling out counts upward. m_per_count: what to multiply counts
    with in the device, sign and all. slip: mean counts lost from home to home, as metres a pull. anchor: horizontal and
    vertical place of the anchor against the low bar, m; slant rad of the string there. share: u of every velocity that
    the scale alone leaves, relative.
    """

    counts_per_m: Estimate
    m_per_count: Estimate
    direction: int
    slip: Estimate
    pulls: int
    agreement: float | None
    anchor_offset: Estimate
    anchor_below: Estimate
    slant: Estimate
    words: tuple[str, ...]


def set_up_string(pulls: Sequence[Pull], offsets: Offsets | None) -> StringFound:
    """What measured pulls and lengths say. Raises UnusableSamples: string-not-told when a pull has no counts or no
    length, directions differ, or the lengths make no triangle.
    """
    signs = {int(np.sign(pull.out - pull.home)) for pull in pulls}
    if len(signs) != 1 or 0 in signs:
        raise UnusableSamples(
            "string-not-told",
            "pulls count in different directions, or not at all: tell for each the counts at home and pulled out",
        )
    per_m, agreement = _scale(pulls)
    assert per_m.value is not None
    assert per_m.u is not None
    direction = signs.pop()
    each = Estimate(direction / per_m.value, per_m.u / per_m.value**2, "m")
    slip = _slip(pulls, per_m.value)
    offset, below, slant = _anchor(offsets)
    found = StringFound(per_m, each, direction, slip, len(pulls), agreement, offset, below, slant, ())
    return StringFound(
        per_m, each, direction, slip, len(pulls), agreement, offset, below, slant, _words(found, per_m.value, per_m.u)
    )


def _scale(pulls: Sequence[Pull]) -> tuple[Estimate, float | None]:
    """Weighted mean of counts over length, and chi-square over its freedom; u widened where pulls disagree.

    The tape's own error is common to all pulls that were measured with it: u of a single pull's length is taken as half
    common, half each one's own (its two readings).
    """
    length = np.array([_value(pull.length) for pull in pulls])
    u = np.array([_u(pull.length) for pull in pulls])
    count = np.abs(np.array([pull.out - pull.home for pull in pulls]))
    if np.any(length <= 0):
        raise UnusableSamples("string-not-told", "a pull's length has to be more than nothing, in metres")
    ratio = count / length
    own = np.hypot(QUANTUM / length, ratio * u / length / math.sqrt(2.0))
    weight = 1.0 / own**2
    mean = float(np.sum(weight * ratio) / np.sum(weight))
    common = float(np.sum(weight * ratio * u / length) / np.sum(weight)) / math.sqrt(2.0)
    random = float(1.0 / np.sqrt(np.sum(weight)))
    if len(pulls) < 2:
        return Estimate(mean, math.hypot(random, common), "1/m"), None
    chi = float(np.sum(weight * (ratio - mean) ** 2)) / (len(pulls) - 1)
    return Estimate(mean, math.hypot(random * max(1.0, math.sqrt(chi)), common), "1/m"), chi


def _slip(pulls: Sequence[Pull], per_m: float) -> Estimate:
    lost = np.array([pull.back - pull.home for pull in pulls if pull.back is not None])
    if not len(lost):
        return unknown("m", "no pull was brought back home: tell the counts there as `back`")
    spread = float(np.std(lost, ddof=1)) if len(lost) > 1 else 0.0
    u = math.hypot(spread, QUANTUM) / math.sqrt(len(lost)) / per_m
    return Estimate(float(lost.mean()) / per_m, u, "m")


def _anchor(offsets: Offsets | None) -> tuple[Estimate, Estimate, Estimate]:
    """Two right triangles with one leg in common: low^2 = d^2 + h^2, high^2 = d^2 + (h + rise)^2."""
    if offsets is None:
        why = "tell the string's length at two heights of the bar and the height between them as `offsets`"
        return unknown("m", why), unknown("m", why), unknown("rad", why)
    told = np.array([_value(offsets.low), _value(offsets.high), _value(offsets.rise)])
    u = np.array([_u(offsets.low), _u(offsets.high), _u(offsets.rise)])

    def below(x: Floats) -> float:
        return float((x[1] ** 2 - x[0] ** 2 - x[2] ** 2) / (2.0 * x[2]))

    def squared(x: Floats) -> float:
        return float(x[0] ** 2 - below(x) ** 2)

    if told[2] <= 0 or squared(told) < -2.0 * _spread(squared, told, u):
        raise UnusableSamples(
            "string-not-told",
            f"lengths of {told[0]:g} and {told[1]:g} m cannot belong to heights {told[2]:g} m apart: the longer one is "
            "at most the shorter one and the rise together",
        )
    d = math.sqrt(max(0.0, squared(told)))
    d_u = _spread(squared, told, u) / (2.0 * d) if d > 0 else math.inf
    d_u = min(d_u, math.sqrt(_spread(squared, told, u)))  # near nought the square is what is known
    h = below(told)
    return (
        Estimate(d, d_u, "m"),
        Estimate(h, _spread(below, told, u), "m"),
        Estimate(math.atan2(d, h), d_u * abs(h) / (d * d + h * h), "rad"),
    )


def _spread(figure: Callable[[Floats], float], at: Floats, u: Floats) -> float:
    """u of a figure by the law of propagation (JCGM 100:2008, 5.1), slopes by central differences."""
    out = 0.0
    for k, one in enumerate(u):
        step = np.zeros(len(at))
        step[k] = max(one, 1e-6)
        out += ((figure(at + step) - figure(at - step)) / 2.0 * (one / step[k])) ** 2
    return math.sqrt(out)


def _words(found: StringFound, per_m: float, per_m_u: float) -> tuple[str, ...]:
    share = per_m_u / per_m
    out = [
        f"{per_m:.1f} ± {per_m_u:.1f} counts a metre, {1000 / per_m:.4f} mm a count: every velocity is uncertain by "
        f"{100 * share:.2f} % for this alone."
    ]
    if share > 0.003:
        out.append("Pull further, and more often: 2 m against a good tape, three times, brings it to 0.1 %.")
    way = "upward" if found.direction > 0 else "downward"
    turn = "" if found.direction > 0 else " Multiply counts by the negative m_per_count, so that position rises."
    out.append(f"Pulling the string out counts {way}.{turn}")
    if found.agreement is not None and found.agreement > UNEVEN:
        out.append("The pulls agree less than their lengths were measured to: a spool of changing width, or slip.")
    slip = found.slip
    if slip.value is not None and slip.u is not None:
        if abs(slip.value) > max(2 * slip.u, 0.0005):
            out.append(f"It loses {1000 * slip.value:+.1f} mm from home to home: counts slip, or the spool does.")
        else:
            out.append("No slip: it counts the same when it is back home.")
    offset, slant = found.anchor_offset, found.slant
    if offset.value is not None and offset.u is not None and slant.value is not None:
        out.append(
            f"The anchor is {100 * offset.value:.1f} ± {100 * offset.u:.1f} cm beside the bar's path; the string leans "
            f"by {math.degrees(slant.value):.0f} degrees at the low bar. Tell it as anchor_offset_m."
        )
        if slant.value > math.radians(20.0):
            out.append(
                "Move the anchor closer under the bar: a string that leans so far reads fore-aft motion as height."
            )
    return tuple(out)


def _value(one: Estimate) -> float:
    assert one.value is not None
    return one.value


def _u(one: Estimate) -> float:
    assert one.u is not None
    return one.u
