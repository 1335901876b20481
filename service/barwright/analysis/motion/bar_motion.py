"""How the bar moved: the stages from samples to motion in order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]


class MotionErrors(Protocol):
    """Standard uncertainties of a motion, for any time within it."""

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s at t_s (m,), along a world-frame direction (3,)."""
        ...

    def displacement_sd(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s), along a direction (3,); from_s: one moment, or one for each t."""
        ...

    def mean_velocity_sd(self, from_s: float, to_s: float, leans: Floats, direction: Floats) -> float:
        """m/s of the displacement over the time between two moments plus leans (2,) times the velocities there.

        leans: where the moments are found by velocity, what one m/s of its error at each adds to the mean.
        """
        ...


@dataclass(frozen=True, slots=True)
class MotionRest:
    """A believed rest by sample number of its motion; firm on a floor or rack."""

    span: Span
    firm: bool


@dataclass(frozen=True, slots=True)
class Shake:
    """What still swings in a motion's vertical: standard deviations (n,) at its samples, m/s, m/s2 and m."""

    velocity_sd: Floats
    accel_sd: Floats
    position_sd: Floats


@dataclass(frozen=True, slots=True)
class Motion:
    """One unbroken piece of bar motion in world axes, z up, position zero at its first rest.

    t_s (n,) seconds since the stream's first sample; position, velocity, acceleration (n, 3) SI.
    forward (3,): horizontal unit vector away from the lifter; None when only the vertical was measured.
    ended_by_impact: a drop or blow ends it.
    """

    t_s: Floats
    position: Floats
    velocity: Floats
    acceleration: Floats
    rests: tuple[MotionRest, ...]
    errors: MotionErrors
    forward: Floats | None
    ended_by_impact: bool = False
    begins_after_cut: bool = False  # a blow, a hole or full scale came before: the bar may be anywhere
    spin_rate: Floats | None = None  # (n,) rad/s about the bar
    accel_sd: float = 0.1  # m/s2, of the vertical acceleration
    ring_hz: float | None = None  # rhythm of a ringing bar that was taken out
    shake: Shake | None = None  # what is left of that ring; of a string, its noise

    @property
    def dt(self) -> float:
        """Seconds between samples."""
        return float(self.t_s[1] - self.t_s[0])
