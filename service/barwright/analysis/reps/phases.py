"""Phases of a rep from the bar alone, each with how sure it is and the uncertainty of its boundaries."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.jerk_phases import jerk_phases
from barwright.analysis.reps.pull_marks import PullMarks
from barwright.analysis.reps.pull_phases import pull_phases
from barwright.analysis.reps.results import Phase
from barwright.analysis.reps.slow_phases import slow_phases

Floats = NDArray[np.float64]
PULLS = (Pattern.PULL_AND_CATCH, Pattern.PULL, Pattern.PULL_AND_DRIVE)


def find_phases(motion: Motion, window: RepWindow, lift: Lift, marks: PullMarks | None) -> tuple[Phase, ...]:
    """Phases in order, those of a pull by its marks.

    Pull: end of the second pull is where upward acceleration ceases (Whitehead et al. 2014).
    """
    if marks is not None:
        pull = pull_phases(motion, window, lift, marks)
        return pull + (jerk_phases(motion, window) if window.drive else ())
    if lift.pattern is Pattern.DRIVE:
        return jerk_phases(motion, window)
    return slow_phases(motion, window, lift)


def catch_low(z: Floats, v: Floats, apex: int, stop: int, dt: float) -> int:
    """The lowest sample after the apex before the bar rises again for good."""
    part = z[apex:stop]
    reach = min(len(part), round(3.0 / dt))
    return apex + int(np.argmin(part[:reach]))
