"""How the bar moves and turns: six curves, and what a sensor fixed to the bar would feel."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from barsim.curves import Curve, KnotLine

Floats = NDArray[np.float64]
GRAVITY = 9.80665  # m/s2
PLATE_RADIUS = 0.225  # m, height of the bar's axis on full plates (450 mm)


@dataclass
class BarCurves:
    """Middle of the bar and attitude of the bar.

    x forward, y to the lifter's left, z up (m); spin about the bar, tilt (left end up) and yaw (rad).
    The bar frame has y along the bar to the left: world = Rz(yaw) Rx(tilt) Ry(spin) bar.
    """

    x: Curve = field(default_factory=Curve)
    y: Curve = field(default_factory=Curve)
    z: Curve = field(default_factory=lambda: Curve(KnotLine(PLATE_RADIUS)))
    spin: Curve = field(default_factory=Curve)
    tilt: Curve = field(default_factory=Curve)
    yaw: Curve = field(default_factory=Curve)


@dataclass(frozen=True, slots=True)
class BarState:
    """The bar at n times: position, velocity, acceleration of its middle (n, 3), world frame, SI.

    rate and rate_change (n, 3): angular velocity and acceleration in the bar frame.
    to_bar (3, 3, n): turns world vectors into the bar frame.
    """

    t_s: Floats
    position: Floats
    velocity: Floats
    acceleration: Floats
    rate: Floats
    rate_change: Floats
    to_bar: Floats


def bar_state(bar: BarCurves, t: Floats, spin: Curve | None = None) -> BarState:
    """Exact state of the bar at rising times t (n,). `spin` replaces the bar's own spin (a free sleeve)."""
    centre = [curve.evaluate(t) for curve in (bar.x, bar.y, bar.z)]
    position, velocity, acceleration = (np.stack([axis[k] for axis in centre], axis=1) for k in range(3))
    q, dq, ddq = (spin or bar.spin).evaluate(t)
    f, df, ddf = bar.tilt.evaluate(t)
    h, dh, ddh = bar.yaw.evaluate(t)
    sq, cq, sf, cf, sh, ch = np.sin(q), np.cos(q), np.sin(f), np.cos(f), np.sin(h), np.cos(h)
    rate = np.stack([cq * df - sq * cf * dh, dq + sf * dh, sq * df + cq * cf * dh], axis=1)
    rate_change = np.stack(
        [
            cq * ddf - sq * dq * df - sq * cf * ddh + dh * (sq * sf * df - cq * cf * dq),
            ddq + sf * ddh + cf * df * dh,
            sq * ddf + cq * dq * df + cq * cf * ddh - dh * (sq * cf * dq + cq * sf * df),
        ],
        axis=1,
    )
    to_bar = np.array(
        [
            [ch * cq - sh * sf * sq, sh * cq + ch * sf * sq, -cf * sq],
            [-sh * cf, ch * cf, sf],
            [ch * sq + sh * sf * cq, sh * sq - ch * sf * cq, cf * cq],
        ]
    )
    return BarState(t, position, velocity, acceleration, rate, rate_change, to_bar)


def specific_force(state: BarState, lever: Floats, extra: Floats | None = None) -> Floats:
    """Specific force (n, 3) in the bar frame at `lever` (3,) from the bar's middle (bar frame, m).

    extra (n, 3): acceleration of that point in the world on top of the rigid bar's, e.g. from a bending bar.
    """
    push = state.acceleration if extra is None else state.acceleration + extra
    push = push + np.array([0.0, 0.0, GRAVITY])
    force: Floats = np.einsum("ijn,nj->ni", state.to_bar, push)
    if np.any(lever):
        force = force + np.cross(state.rate_change, lever)
        force = force + np.cross(state.rate, np.cross(state.rate, lever))
    return force
