"""A figure that is known beforehand beside the same one as measured, and the verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass

from barwright.analysis.quantities.estimate import Estimate

AGREES, DOUBTFUL = 2.0, 3.0  # times the joint u


@dataclass(frozen=True, slots=True)
class Compared:
    """verdict: agrees (within 2 u of both together), doubtful (within 3) or differs. off: measured less expected."""

    name: str
    expected: Estimate
    measured: Estimate
    off: Estimate
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class MotionChecked:
    """One known motion. gravity m/s2 that was reckoned with; words: plain sentences."""

    motion: str
    figures: tuple[Compared, ...]
    gravity: Estimate
    words: tuple[str, ...]


def compare(name: str, title: str, expected: Estimate, measured: Estimate, when_off: str) -> Compared:
    """With a sentence; when_off: what it is likely to mean when the two differ."""
    assert expected.value is not None
    assert expected.u is not None
    assert measured.value is not None
    assert measured.u is not None
    off, u = measured.value - expected.value, math.hypot(expected.u, measured.u)
    size = abs(off) / u if u > 0 else math.inf if off else 0.0
    verdict = "agrees" if size <= AGREES else "doubtful" if size <= DOUBTFUL else "differs"
    said = f"{title}: expected {told(expected)}, measured {told(measured)}"
    if verdict == "agrees":
        words = f"{said}: they agree."
    elif verdict == "doubtful":
        words = f"{said}: off by {size:.1f} times its uncertainty; do it again before believing it."
    else:
        words = f"{said}: off by {size:.1f} times its uncertainty. {when_off}"
    return Compared(name, expected, measured, Estimate(off, u, expected.unit), verdict, words)


def told(one: Estimate) -> str:
    """1.807 ± 0.003 s, with two digits of u that count."""
    assert one.value is not None
    assert one.u is not None
    digits = 3 if one.u <= 0 else max(0, 1 - math.floor(math.log10(one.u)))
    return f"{one.value:.{digits}f} ± {one.u:.{digits}f} {one.unit}"
