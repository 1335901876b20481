"""Fore-aft figures and the press-out of a jerk."""

from __future__ import annotations

import numpy as np

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.jerk_phases import dip_start, received_at
from barwright.analysis.reps.path_figures import PathFigures, Way


def jerk_ways(motion: Motion, window: RepWindow, path: PathFigures) -> dict[str, Way]:
    """By name: forward in the dip (start to bottom), in the drive (to peak v), at the receive, drift after it."""
    rise = window.rise if window.drive is None else window.drive
    v = motion.velocity[:, 2]
    begin = dip_start(v, rise.low, motion.dt) if window.drive is not None else window.span.start
    received = received_at(v, rise, max(window.span.stop, rise.high + 1), motion.dt)
    out = {
        "dip_forward": Way(rise.low, begin),
        "drive_forward": Way(rise.fastest, rise.low),
        "x_at_receive": Way(received, begin),
    }
    if window.outcome == "made":
        out["drift_in_recovery"] = path.reach(received, min(len(v), window.span.stop))
    return out


def press_out(motion: Motion, window: RepWindow) -> Estimate:
    """How far the bar is pressed up in one go right after it was received, m: the second press of a late lock-out."""
    rise = window.rise if window.drive is None else window.drive
    z, v, t = motion.position[:, 2], motion.velocity[:, 2], motion.t_s
    received = received_at(v, rise, max(window.span.stop, rise.high + 1), motion.dt)
    soon = v[received : received + round(0.6 / motion.dt)]
    over = np.flatnonzero(soon > 0.03)
    top = received
    if len(over):
        begin = int(over[0])
        stopped = np.flatnonzero(soon[begin:] <= 0.0)
        top = received + begin + (int(stopped[0]) if len(stopped) else len(soon) - 1 - begin)
    u = float(motion.errors.displacement_sd(float(t[received]), np.array([t[top]]), np.array([0.0, 0.0, 1.0]))[0])
    return Estimate(max(float(z[top] - z[received]), 0.0), float(np.hypot(u, 0.003)), "m")
