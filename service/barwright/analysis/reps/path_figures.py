"""Fore-aft differences of one rep's path, with their uncertainties."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate

Floats = NDArray[np.float64]
LEAST_U_M = 0.0005


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

    def figure(self, at: int, since: int | None = None, more_u: float = 0.0) -> Estimate:
        """x(at) - x(since), since the start of the rep unless told otherwise, in m; more_u is added in squares."""
        since = self.start if since is None else since
        t = self.motion.t_s
        u = float(self.motion.errors.displacement_sd(float(t[since]), np.array([t[at]]), self.forward)[0])
        return Estimate(float(self.x[at] - self.x[since]), float(np.sqrt(u**2 + more_u**2 + LEAST_U_M**2)), "m")

    def reach(self, begin: int, stop: int) -> Estimate:
        """How far x wanders between two samples: greatest less least, m."""
        part = self.x[begin : max(stop, begin + 1)]
        a, b = begin + int(np.argmin(part)), begin + int(np.argmax(part))
        found = self.figure(max(a, b), min(a, b))
        return Estimate(abs(found.value or 0.0), found.u, "m")
