"""Where the bar was in each phase: signed fore-aft figures, and the velocities and heights that belong to them.

x > 0 is away from the lifter, from where the bar left its rest. Every figure has its standard uncertainty; where the
sensor sees no fore-aft motion the fore-aft figures say so and the others are told all the same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.jerk_path import jerk_ways, press_out
from barwright.analysis.reps.measures import NO_AXIS, NO_HORIZONTAL
from barwright.analysis.reps.path_figures import PathFigures, Way
from barwright.analysis.reps.phases import PULLS
from barwright.analysis.reps.pull_marks import PullMarks
from barwright.analysis.reps.pull_path import fall_ways, pull_path_heights, pull_ways, push_direction

Floats = NDArray[np.float64]


def path_measures(motion: Motion, window: RepWindow, lift: Lift, marks: PullMarks | None) -> dict[str, Estimate]:
    """All path figures of one rep by name; marks: of a pull."""
    start, stop = window.span.start, min(len(motion.t_s), max(window.span.stop, window.rise.high + 1))
    heights: dict[str, Estimate] = {}
    if marks is not None:
        heights = pull_path_heights(motion, window, lift, marks)
    elif lift.pattern is Pattern.DRIVE and window.outcome == "made":
        heights = {"press_out": press_out(motion, window)}
    if motion.forward is None:
        why = NO_HORIZONTAL if motion.spin_rate is None else NO_AXIS
        return {**{name: unknown("m", why) for name in _fore_aft_names(window, lift)}, **heights}
    path = PathFigures.of(motion, start)
    x = path.x[start:stop]
    ways: dict[str, Way | Estimate] = {
        "most_rearward": Way(start + int(np.argmin(x))),
        "most_forward": Way(start + int(np.argmax(x))),
        "start_to_end": Way(stop - 1),
    }
    if marks is not None:
        ways |= pull_ways(motion, window, lift, path, marks)
        if window.outcome == "failed":
            ways |= fall_ways(motion, window, path)
        if window.drive is not None:
            ways |= {f"jerk_{name}": way for name, way in jerk_ways(motion, window, path).items()}
    elif lift.pattern is Pattern.DRIVE:
        ways |= jerk_ways(motion, window, path)
    out = path.told(ways)
    if marks is not None and marks.knee is not None and lift.start == "floor":
        out["push_direction"] = push_direction(motion, marks.start, marks.knee, out["x_at_knee"])
    return {**out, **heights}


def _fore_aft_names(window: RepWindow, lift: Lift) -> list[str]:
    names = ["most_rearward", "most_forward", "start_to_end"]
    jerk = ["dip_forward", "drive_forward", "x_at_receive", "drift_in_recovery"]
    if lift.pattern in PULLS:
        names += ["rearward_in_pull", "forward_swing", "swing_to_mid_turnover", "x_at_peak_velocity", "x_at_apex"]
        if lift.start == "floor":
            names += ["forward_off_floor", "x_at_knee", "forward_in_transition"]
        if lift.pattern is not Pattern.PULL and window.outcome == "made":
            names += ["loop_to_catch", "x_at_catch", "drift_in_recovery"]
        if window.drive is not None:
            names += [f"jerk_{name}" for name in jerk]
    elif lift.pattern is Pattern.DRIVE:
        names += jerk
    return names
