"""A loaded bar bends outside the hands: what a sensor out there feels as tilt is in part that, and is told apart.

The load hangs on the bar's ends as on springs, so that the ends turn down in step with the force that carries it; a
lifter tilts the bar slowly and in no such step. Where the bend shows, the middle is reckoned from it: no stiff bar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.lever import smoothed

Floats = NDArray[np.float64]
OUTSIDE_M = 0.5  # nearer the middle the hands may be outside the sensor
# The ends turn as if hinged here, 0.31 to 0.49 m out: a beam on hands 0.22 to 0.47 m out, loaded 0.72 to 0.84 m out
HINGE_M, HINGE_SD_M = 0.40, 0.06
FAST_S, SLOW_S = 0.012, 0.040  # Gaussians between which the bend is looked for: about 3.5 to 13 Hz
TILT_S = 0.045  # a lifter's own tilting is slower than some 3.5 Hz
SMOOTH_S = 0.004
AROUND_S = 0.06
EXPLAINED = 0.8  # share of the fast tilting that has to be in step with force
COMPLIANCE = (2.5e-4, 4e-3)  # rad per m/s2: a load that swings at 4 to 12 Hz
ROUNDS = 10


@dataclass(frozen=True, slots=True)
class Bending:
    """What bending takes from the middle as a stiff lever has it, to be added: velocity (n, 3) m/s, position (n, 3) m.

    velocity_sd, position_sd (n, 3): how uncertain, the hinge being where it is for other grips; lifted_m: what the
    middle rises or sinks by as the bar is loaded or set down, which is not in position.
    """

    velocity: Floats
    position: Floats
    velocity_sd: Floats
    position_sd: Floats
    lifted_m: float


def find_bending(along: Floats, velocity: Floats, length_m: float, dt: float) -> Bending | None:
    """The bend seen by a sensor length_m from the middle (m, to the left), or None where none shows.

    along (n, 3): the bar's direction to the left, world axes, as the sensor turns; velocity (n, 3) m/s: that of the
    middle, the lever's smoothed swing taken out.
    """
    if abs(length_m) < OUTSIDE_M or len(along) * dt < 1.0:
        return None
    turning = np.gradient(along, dt, axis=0)
    force = np.gradient(velocity + length_m * smoothed(turning, dt), dt, axis=0)
    compliance = _compliance(_fast(along[:, 2], dt), _fast(force[:, 2], dt))
    if compliance is None or compliance * length_m < 0:
        return None
    stiff = gaussian_filter1d(along + compliance * force, TILT_S / dt, axis=0, mode="nearest")
    bend = along - stiff
    rate = gaussian_filter1d(np.gradient(bend, dt, axis=0), SMOOTH_S / dt, axis=0, mode="nearest")
    side = np.sign(length_m)
    return Bending(
        length_m * (smoothed(turning, dt) - turning) + side * HINGE_M * rate,
        side * HINGE_M * bend,
        HINGE_SD_M * _around(rate, dt),
        HINGE_SD_M * _around(bend - np.median(bend, axis=0), dt),
        HINGE_M * abs(compliance) * 9.80665,
    )


def _around(x: Floats, dt: float) -> Floats:
    """(n, 3) root mean square of x within AROUND_S: a swing that passes nought is as uncertain as one that turns."""
    return np.asarray(np.sqrt(gaussian_filter1d(x**2, AROUND_S / dt, axis=0, mode="nearest")))


def _fast(x: Floats, dt: float) -> Floats:
    """(n,) of x that is slower than one Gaussian and, taken twice, faster than the other."""
    x = gaussian_filter1d(x, FAST_S / dt, mode="nearest")
    for _ in range(2):
        x = x - gaussian_filter1d(x, SLOW_S / dt, mode="nearest")
    return np.asarray(x)


def _compliance(tilt: Floats, force: Floats) -> float | None:
    """Tilt per force (rad per m/s2) of a bar that bends, from fast tilt (n,) and force (n,); None where it does not.

    A bar that is let go or lands feels force and bends by none: those samples lose their weight (Cauchy's).
    """
    size = np.abs(force)
    if not size.any():
        return None
    order = np.argsort(-tilt / np.where(force == 0, 1e-9, force))
    weight = np.cumsum(size[order])
    middle = order[int(np.searchsorted(weight, weight[-1] / 2))]
    found = float(-tilt[middle] / force[middle])
    explained = 0.0
    least = 0.1 * float(np.sqrt(np.mean(tilt**2)))
    for _ in range(ROUNDS):
        miss = tilt + found * force
        scale = 2.0 * max(1.5 * float(np.median(np.abs(miss))), least)
        trust = 1.0 / (1.0 + (miss / scale) ** 2)
        explained = 1.0 - float(trust @ miss**2) / max(float(trust @ tilt**2), 1e-30)
        found = -float((trust * tilt) @ force) / float((trust * force) @ force)
    plausible = COMPLIANCE[0] < abs(found) < COMPLIANCE[1]
    return found if plausible and explained > EXPLAINED else None
