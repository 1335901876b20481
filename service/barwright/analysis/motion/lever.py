"""A sensor away from the middle of the bar feels the bar's tilting as well: taken out where its place is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.samples import SensorSetup

Floats = NDArray[np.float64]
TOLD_SD_M = 0.01  # how well a told place is measured
UNTOLD_SD_M = {
    "shaft": 0.1,
    "sleeve": 0.8,
}  # where a sensor sits when nobody says: by the hands, or out on either sleeve


@dataclass(frozen=True, slots=True)
class Lever:
    """t_s (n,); along (n, 3): the bar's direction to the lifter's left in world axes; None when it is not known.

    length_m: the sensor's place along it; sd_m how well that is known.
    """

    t_s: Floats
    along: Floats | None
    length_m: float
    sd_m: float

    def middle_of_bar(self, velocity: Floats, position: Floats, accel: Floats) -> tuple[Floats, Floats, Floats]:
        """Motion (n, 3) of the bar's middle from that of the sensor: p - L b, for the unit vector b along the bar."""
        if self.along is None or self.length_m == 0.0:
            return velocity, position, accel
        turning = np.gradient(self.along, self.t_s, axis=0)
        return (
            velocity - self.length_m * turning,
            position - self.length_m * self.along,
            accel - self.length_m * np.gradient(turning, self.t_s, axis=0),
        )

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s that not knowing the place adds at t_s along a direction (3,)."""
        if self.along is None:
            return np.zeros(len(t_s))
        part = self.along @ direction
        step = 0.01
        ahead, behind = np.interp(t_s + step, self.t_s, part), np.interp(t_s - step, self.t_s, part)
        return np.asarray(self.sd_m * np.abs(ahead - behind) / (2 * step))

    def displacement_sd(self, from_s: float, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s) along a direction (3,)."""
        if self.along is None:
            return np.zeros(len(t_s))
        part = self.along @ direction
        return np.asarray(self.sd_m * np.abs(np.interp(t_s, self.t_s, part) - np.interp(from_s, self.t_s, part)))


def lever_of(t_s: Floats, along: Floats | None, setup: SensorSetup) -> Lever:
    """The lever of a mounting; along (n, 3) the bar's direction over time."""
    if setup.along_m is not None:
        return Lever(t_s, along, setup.along_m, TOLD_SD_M)
    return Lever(t_s, along, 0.0, UNTOLD_SD_M.get(setup.place, UNTOLD_SD_M["shaft"]))
