"""Fore-aft differences of one rep's path, with their uncertainties: first which, then all of them at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate

Floats = NDArray[np.float64]
LEAST_U_M = 0.0005


@dataclass(frozen=True, slots=True)
class Way:
    """A figure to be told: x at sample `at` less x at `since`, the rep's start where that is not told.

    more_u m is added to its u in squares.
    """

    at: int
    since: int | None = None
    more_u: float = 0.0


@dataclass(frozen=True, slots=True)
class PathFigures:
    """x, vx (n,): fore-aft place (m, from sample `start`) and velocity (m/s) of a motion whose forward is known."""

    motion: Motion
    forward: Floats
    start: int
    x: Floats
    vx: Floats

    @classmethod
    def of(cls, motion: Motion, start: int) -> PathFigures:
        """For a motion with a forward direction."""
        forward = np.asarray(motion.forward)
        x = motion.position @ forward
        return cls(motion, forward, start, x - x[start], motion.velocity @ forward)

    def told(self, figures: Mapping[str, Way | Estimate]) -> dict[str, Estimate]:
        """The same with every way measured, in m: asking for the u of one is hardly quicker than for all."""
        ways = {name: way for name, way in figures.items() if isinstance(way, Way)}
        t, at = self.motion.t_s, np.array([way.at for way in ways.values()], dtype=np.intp)
        since = np.array([self.start if way.since is None else way.since for way in ways.values()], dtype=np.intp)
        more = np.array([way.more_u for way in ways.values()])
        sd = self.motion.errors.displacement_sd(t[since], t[at], self.forward)
        u = np.sqrt(sd**2 + more**2 + LEAST_U_M**2)
        moved = self.x[at] - self.x[since]
        measured = {name: Estimate(float(moved[k]), float(u[k]), "m") for k, name in enumerate(ways)}
        return {name: way if isinstance(way, Estimate) else measured[name] for name, way in figures.items()}

    def reach(self, begin: int, stop: int) -> Way:
        """How far x wanders between two samples: greatest less least."""
        part = self.x[begin : max(stop, begin + 1)]
        return Way(begin + int(np.argmax(part)), begin + int(np.argmin(part)))
