"""Phases of a snatch, clean or pull, from its marks."""

from __future__ import annotations

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.pull_marks import PullMarks
from barwright.analysis.reps.results import Phase

LIFT_OFF_U_S = 0.01
JOINED_SURE = 0.9


def pull_phases(motion: Motion, window: RepWindow, lift: Lift, marks: PullMarks) -> tuple[Phase, ...]:
    """First pull to recovery in order; what the bar alone cannot part is joined under one name."""
    t = motion.t_s
    last = len(t) - 1
    out = list(_up_to_peak(motion, marks, lift))
    out.append(Phase("turnover", float(t[marks.peak]), float(t[marks.apex]), 0.95, marks.peak_u, marks.apex_u))
    if lift.pattern is Pattern.PULL or window.outcome == "partial" or window.span.stop <= marks.apex + 2:
        return tuple(out)
    caught = marks.caught if marks.caught is not None else min(last, window.span.stop)
    made = window.outcome == "made"
    sure = 0.3 if marks.caught is None else 0.85 if made else 0.5
    out.append(Phase("catch", float(t[marks.apex]), float(t[caught]), sure, marks.apex_u, marks.caught_u))
    if made:
        stop = min(last, window.span.stop)
        if window.drive is not None:
            stop = max(caught, window.drive.low - round(0.5 / motion.dt))
        out.append(Phase("recovery", float(t[caught]), float(t[max(stop, caught)]), 0.8, marks.caught_u, 0.1))
    return tuple(out)


def _up_to_peak(motion: Motion, marks: PullMarks, lift: Lift) -> tuple[Phase, ...]:
    t, peak = motion.t_s, marks.peak
    start_s, peak_s = float(t[marks.start]), float(t[peak])
    if lift.start != "floor":  # a hang or blocks: no first pull to be seen
        return (Phase("second_pull", start_s, peak_s, 0.8, LIFT_OFF_U_S, marks.peak_u),)
    if not marks.parted or marks.knee is None or marks.hip is None:
        joined = Phase(
            "first_pull_and_transition_and_second_pull", start_s, peak_s, JOINED_SURE, LIFT_OFF_U_S, marks.peak_u
        )
        return (joined,)
    knee_s, hip_s = float(t[marks.knee]), float(t[marks.hip])
    return (
        Phase("first_pull", start_s, knee_s, marks.sure, LIFT_OFF_U_S, marks.knee_u),
        Phase("transition", knee_s, hip_s, marks.sure, marks.knee_u, marks.hip_u),
        Phase("second_pull", hip_s, peak_s, min(1.0, marks.sure + 0.05), marks.hip_u, marks.peak_u),
    )
