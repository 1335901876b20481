"""How well attitudes are spread, how many more are needed, and which, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import STANDARD_GRAVITY
from barwright.analysis.poses.accel_fit import BIAS, CROSS, SCALE, AccelFit, derivatives, matrix
from barwright.analysis.poses.found import Spread
from barwright.analysis.poses.still_poses import Pose
from barwright.analysis.quantities.vectors import angle_between

Floats = NDArray[np.float64]
ALIKE_RAD = np.radians(20.0)  # poses closer than this are one attitude
LEAST_OPENING_RAD = np.radians(90.0)  # between the two furthest attitudes
FEWEST = 4  # attitudes below which nothing is kept
FOR_SCALE, FOR_CROSS = 6, 9  # attitudes: one for each constant
GOOD_BIAS, GOOD_SCALE, GOOD_CROSS = 0.002 * STANDARD_GRAVITY, 0.002, 0.002
MOST_MORE = 12
POSE_SD = 0.004  # m/s2, a pose held by hand for three seconds
NAMES = ("x", "y", "z")


def attitudes_of(poses: Sequence[Pose]) -> list[Floats]:
    """The distinct directions (3,) that pointed up, in order of their first pose."""
    found: list[Floats] = []
    for pose in poses:
        if all(angle_between(pose.force, one) >= ALIKE_RAD for one in found):
            found.append(pose.direction)
    return found


def too_alike(spread: Spread) -> bool:
    """Nothing worth keeping can come of such poses."""
    return spread.distinct < FEWEST or spread.opening_rad < LEAST_OPENING_RAD


def spread_of(poses: Sequence[Pose], fit: AccelFit) -> Spread:
    """Of the poses a fit used."""
    attitudes = attitudes_of(poses)
    opening = max((angle_between(a, b) for a, b in combinations(attitudes, 2)), default=0.0)
    scale, cross, wanted = _more(attitudes, fit)
    return Spread(len(attitudes), opening, scale, cross, tuple(_words(up) for up in wanted))


def _more(attitudes: list[Floats], fit: AccelFit) -> tuple[int, int, list[Floats]]:
    """Poses to add, each where it tells most, until counts and uncertainties will do."""
    information, seen, wanted = fit.information, list(attitudes), list[Floats]()
    scale = cross = -1
    for more in range(MOST_MORE + 1):
        covariance = np.linalg.inv(information)
        sd = np.sqrt(np.diag(covariance))
        told_gravity = float(np.min(sd[SCALE]))  # what not knowing gravity leaves open no pose can close
        fine = len(seen) >= FOR_SCALE and sd[BIAS].max() <= GOOD_BIAS
        fine = fine and sd[SCALE].max() <= np.hypot(GOOD_SCALE, told_gravity)
        if fine and scale < 0:
            scale = more
        if fine and len(seen) >= FOR_CROSS and sd[CROSS].max() <= GOOD_CROSS:
            cross = more
            break
        free = [up for up in CANDIDATES if all(angle_between(up, one) >= ALIKE_RAD for one in seen)]
        if not free or more == MOST_MORE:
            break
        rows = _rows(fit.theta, np.array(free)) / POSE_SD
        gain = np.einsum("ka,ab,kb->k", rows, covariance, rows)  # grows the determinant by 1 + gain
        gain = gain / np.count_nonzero(free, axis=1) ** 2  # a face is easier to hold up than an edge or a corner
        best = int(np.argmax(gain))
        information = information + np.outer(rows[best], rows[best])
        seen.append(free[best])
        wanted.append(free[best])
    most = len(wanted)
    return (most if scale < 0 else scale), (most if cross < 0 else cross), wanted


def _rows(theta: Floats, ups: Floats) -> Floats:
    """(k, 9): how the length of the corrected force depends on the constants with these directions (k, 3) up."""
    reading = STANDARD_GRAVITY * ups @ np.linalg.inv(matrix(theta)).T + theta[BIAS]
    return np.asarray(np.einsum("ka,kac->kc", ups, derivatives(theta, reading)))


def _candidates() -> Floats:
    """The six faces of the sensor, its twelve edges and eight corners, as unit vectors."""
    every = np.array([up for up in product((0, 1, -1), repeat=3) if any(up)], dtype=np.float64)
    order = np.argsort(np.abs(every).sum(axis=1), kind="stable")
    return np.asarray(every[order] / np.linalg.norm(every[order], axis=1)[:, None])


CANDIDATES = _candidates()


def _words(up: Floats) -> str:
    signs = [f"{'+' if value > 0 else '-'}{name}" for name, value in zip(NAMES, up, strict=True) if abs(value) > 0.1]
    if len(signs) == 1:
        return f"{signs[0]} of the sensor straight up"
    if len(signs) == 2:
        return f"up half-way between {signs[0]} and {signs[1]} (an edge of the sensor up)"
    return f"up midway between {', '.join(signs[:-1])} and {signs[-1]} (a corner of the sensor up)"
