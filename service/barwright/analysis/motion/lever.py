"""A sensor away from the middle of the bar feels the bar's tilting as well: taken out where its place is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.motion.strapdown import Strapdown
from barwright.analysis.quantities.vectors import cross, turned

Floats = NDArray[np.float64]
SMOOTH_S = 0.025
TOLD_SD_M = 0.01  # how well a told place is measured
UNTOLD_SD_M = {
    "shaft": 0.1,
    "sleeve": 0.8,
}  # where a sensor sits when nobody says: by the hands, or out on either sleeve


def swing_of(nominal: Strapdown, gyro: Floats, arm: Floats, dt: float) -> Floats:
    """(n, 3) velocity of the sensor against the bar's middle, world axes: rate x arm, for gyro (n, 3) and arm (3,).

    Averaged over SMOOTH_S: a bar tilts slowly, and the gyro's noise on a long arm would look like the ring of a bar.
    """
    return smoothed(turned(nominal.turn, cross(gyro, arm)), dt)


def smoothed(swing: Floats, dt: float) -> Floats:
    """(n, 3) averaged over SMOOTH_S."""
    return np.asarray(uniform_filter1d(swing, max(1, round(SMOOTH_S / dt)), axis=0, mode="nearest"))


def swing_force(gyro: Floats, arm: Floats, dt: float) -> Floats:
    """(n, 3) m/s2, sensor frame: what a sensor `arm` (3,) from the bar's middle feels of the bar's turning alone.

    Rigid body: the rate's change x arm, and rate x (rate x arm); gyro (n, 3) rad/s, averaged over SMOOTH_S.
    """
    rate = uniform_filter1d(gyro, max(1, round(SMOOTH_S / dt)), axis=0, mode="nearest")
    return cross(np.gradient(rate, dt, axis=0), arm) + cross(rate, cross(rate, arm))


def at_middle(nominal: Strapdown, swing: Floats, arm: Floats, dt: float) -> Strapdown:
    """Dead reckoning of the bar's middle from that of a sensor `arm` away that swings about it; both start from nought.

    Rigid body: the middle's force is the sensor's less the derivative of the swing.
    """
    place = nominal.turn @ arm
    t = np.arange(len(swing))[:, None] * dt
    return Strapdown(
        nominal.turn,
        nominal.force - np.gradient(swing, dt, axis=0),
        nominal.velocity - swing + swing[0],
        nominal.position - place + place[0] + swing[0] * t,
    )


def arm_of(setup: SensorSetup) -> Floats | None:
    """(3,) from the bar's middle to the sensor, m, sensor frame; None where the mounting does not tell."""
    if setup.along_m is None or setup.bar_axis is None or setup.along_m == 0.0:
        return None
    return np.asarray(setup.along_m * setup.bar_axis / np.linalg.norm(setup.bar_axis))


@dataclass(frozen=True, slots=True)
class Lever:
    """t_s (n,); along (n, 3): the bar's direction to the lifter's left in world axes; None when it is not known.

    length_m: how much of the sensor's place along it is still to be taken out; sd_m how well that place is known.
    place_m: that place as told, nought where it is not.
    """

    t_s: Floats
    along: Floats | None
    length_m: float
    sd_m: float
    place_m: float = 0.0

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

    @property
    def turns(self) -> bool:
        """Whether the bar's turning is known to take the sensor along."""
        return self.along is not None and self.place_m != 0.0

    def arm_at(self, t_s: Floats) -> Floats:
        """(m, 3) m from the bar's middle to the sensor at t_s, world axes; nought where it is not known."""
        if self.along is None:
            return np.zeros((len(t_s), 3))
        # samples are even; half of one is nothing to how a bar turns
        k = np.clip(np.rint((t_s - self.t_s[0]) / (self.t_s[1] - self.t_s[0])).astype(int), 0, len(self.t_s) - 1)
        return np.asarray(self.place_m * self.along[k])

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s that not knowing the place adds at t_s along a direction (3,)."""
        if self.along is None:
            return np.zeros(len(t_s))
        part = self.along @ direction
        step = 0.01
        ahead, behind = np.interp(t_s + step, self.t_s, part), np.interp(t_s - step, self.t_s, part)
        return np.asarray(self.sd_m * np.abs(ahead - behind) / (2 * step))

    def displacement_sd(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s) along a direction (3,)."""
        if self.along is None:
            return np.zeros(len(t_s))
        part = self.along @ direction
        return np.asarray(self.sd_m * np.abs(np.interp(t_s, self.t_s, part) - np.interp(from_s, self.t_s, part)))


def lever_of(t_s: Floats, along: Floats | None, setup: SensorSetup) -> Lever:
    """What is left to take out of a mounting's lever; along (n, 3) the bar's direction over time."""
    if arm_of(setup) is not None:
        return Lever(t_s, along, 0.0, TOLD_SD_M, setup.along_m or 0.0)
    if setup.along_m is not None:
        return Lever(t_s, along, setup.along_m, TOLD_SD_M, setup.along_m)
    return Lever(t_s, along, 0.0, UNTOLD_SD_M.get(setup.place, UNTOLD_SD_M["shaft"]))
