"""Path figures of snatches, cleans and pulls, phase by phase."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.jerk_path import press_out
from barwright.analysis.reps.path_figures import PathFigures, Way
from barwright.analysis.reps.phases import catch_low
from barwright.analysis.reps.pull_marks import UP, PullMarks
from barwright.analysis.reps.shaken import with_ring

Floats = NDArray[np.float64]
OFF_FLOOR_M = 0.15  # the first 10-15 cm of rise tell how the bar leaves the floor (common practice, no source)
NO_KNEE = "no first pull was made out"
UNSURE_KNEE_S = 0.015  # doubt of the knee where velocity never falls: rms of the error on simulated lifts
SETTLED_S = 0.5  # a bounce comes within this time of the catch
FALLEN_M = 0.4  # a lost bar's way is read over this fall from its highest point


def pull_ways(
    motion: Motion, window: RepWindow, lift: Lift, path: PathFigures, marks: PullMarks
) -> dict[str, Way | Estimate]:
    """Fore-aft figures of a pull whose forward is known."""
    rise, x = window.rise, path.x
    start = window.span.start
    rear = start + int(np.argmin(x[start : rise.fastest + 1]))
    swing = rear + int(np.argmax(x[rear : rise.high + 1]))
    middle = (rise.fastest + rise.high) // 2
    knocked = rear + int(np.argmax(x[rear : middle + 1]))
    out = _off_the_floor(motion, marks, path) if lift.start == "floor" else {}
    out |= {
        "rearward_in_pull": Way(rear),
        "forward_swing": Way(swing, rear),
        "swing_to_mid_turnover": Way(knocked, rear),
        "x_at_peak_velocity": Way(rise.fastest),
        "x_at_apex": Way(rise.high),
    }
    if lift.pattern is Pattern.PULL or window.outcome != "made":
        return out
    low = caught_at(motion, window, marks)
    stop = min(len(x), window.span.stop if window.drive is None else window.drive.low)
    out["loop_to_catch"] = Way(low, swing)
    out["x_at_catch"] = Way(low)
    backward = rise.fastest + int(np.argmin(path.vx[rise.fastest : low + 1]))
    u = float(motion.errors.velocity_sd(motion.t_s[[backward]], path.forward)[0])
    out["rearward_velocity"] = Estimate(float(path.vx[backward]), float(np.hypot(u, 0.002)), "m/s")
    out["drift_in_recovery"] = path.reach(low, max(stop, low + 2))
    return out


def _off_the_floor(motion: Motion, marks: PullMarks, path: PathFigures) -> dict[str, Way | Estimate]:
    z, start = motion.position[:, 2], marks.start
    risen = np.flatnonzero(z[start : marks.peak + 1] - z[start] > OFF_FLOOR_M)
    end = start + (int(risen[0]) if len(risen) else marks.peak - start)
    most = start + int(np.argmax(path.x[start : end + 1]))
    out: dict[str, Way | Estimate] = {"forward_off_floor": Way(most)}
    if marks.knee is None or marks.hip is None:
        return out | {name: unknown("m", NO_KNEE) for name in ("x_at_knee", "forward_in_transition")}
    doubt = 0.0 if marks.parted else UNSURE_KNEE_S
    vx = abs(float(path.vx[marks.knee]))
    out["x_at_knee"] = Way(marks.knee, more_u=vx * doubt)
    wandered = float(np.ptp(path.vx[marks.knee : marks.hip + 1]))
    out["forward_in_transition"] = Way(marks.hip, marks.knee, more_u=doubt * wandered)
    return out


def push_direction(motion: Motion, start: int, knee: int, x_at_knee: Estimate) -> Estimate:
    """Direction of the way from the start to the knee, angle from the vertical.

    From rest the way to a point is the time-weighted mean acceleration: its direction is that of the push.
    """
    way, up = x_at_knee.value or 0.0, float(motion.position[knee, 2] - motion.position[start, 2])
    return Estimate(float(np.arctan2(way, up)), float((x_at_knee.u or 0.0) * up / (way**2 + up**2)), "rad")


def pull_path_heights(motion: Motion, window: RepWindow, lift: Lift, marks: PullMarks) -> dict[str, Estimate]:
    """Velocities, heights and times of a pull's phases: no fore-aft motion is needed for these."""
    t, z = motion.t_s, motion.position[:, 2]
    start, peak = marks.start, marks.peak
    out: dict[str, Estimate] = {}
    if lift.start == "floor":
        out |= _first_pull(motion, marks)
    sd = motion.errors.displacement_sd(float(t[start]), np.array([t[peak]]), UP)
    slip = float(motion.velocity[peak, 2]) * marks.peak_u
    out["z_at_peak_velocity"] = Estimate(float(z[peak] - z[start]), float(np.hypot(sd[0], slip)), "m")
    if lift.pattern is Pattern.PULL or window.outcome != "made":
        return out
    low = caught_at(motion, window, marks)
    fall = marks.apex + int(np.argmin(motion.velocity[marks.apex : low + 1, 2]))
    u = float(motion.errors.velocity_sd(t[[fall]], UP)[0])
    out["fall_velocity"] = Estimate(float(motion.velocity[fall, 2]), float(np.hypot(u, 0.002)), "m/s")
    out["catch_bounce"] = _bounce(motion, low)
    stop = min(len(t), window.span.stop if window.drive is None else window.drive.low)
    out["recovery_velocity"] = _recovery(motion, low, stop)
    if window.drive is not None:
        out["jerk_press_out"] = press_out(motion, window)
    return out


def _first_pull(motion: Motion, marks: PullMarks) -> dict[str, Estimate]:
    t, z, dt = motion.t_s, motion.position[:, 2], motion.dt
    v = gaussian_filter1d(motion.velocity[marks.start : marks.peak + 1, 2], max(0.008 / dt, 0.3), mode="nearest")
    early = np.flatnonzero(z[marks.start : marks.peak + 1] - z[marks.start] <= OFF_FLOOR_M)
    part = v[: int(early[-1]) + 1] if len(early) else v[:1]
    fall = np.maximum.accumulate(part) - part
    sunk = int(np.argmax(fall))
    before = int(np.argmax(part[: sunk + 1]))
    early_u = with_ring(motion, 0.005, "velocity_sd", marks.start + before, marks.start + sunk)
    out = {"early_fall": Estimate(float(fall[sunk]), early_u, "m/s")}
    if marks.knee is None or marks.hip is None:
        for name, unit in (("velocity_at_knee", "m/s"), ("velocity_dip", "m/s"), ("transition_time", "s")):
            out[name] = unknown(unit, NO_KNEE)
        return out
    sd = motion.errors.velocity_sd(t[[marks.knee, marks.hip]], UP)
    push = abs(float(v[min(marks.knee - marks.start + 1, len(v) - 1)] - v[marks.knee - marks.start - 1])) / (2 * dt)
    doubt = 0.0 if marks.parted else push * UNSURE_KNEE_S
    at_knee = float(v[marks.knee - marks.start])
    out["velocity_at_knee"] = Estimate(at_knee, float(np.sqrt(sd[0] ** 2 + doubt**2 + 0.002**2)), "m/s")
    out["velocity_dip"] = Estimate(marks.dip, with_ring(motion, 0.006, "velocity_sd", marks.knee, marks.hip), "m/s")
    out["transition_time"] = (
        Estimate((marks.hip - marks.knee) * dt, float(np.hypot(marks.knee_u, marks.hip_u)), "s")
        if marks.parted
        else unknown("s", "velocity never fell between first and second pull: where they part is not told by the bar")
    )
    return out


def caught_at(motion: Motion, window: RepWindow, marks: PullMarks) -> int:
    """The sample at which the bar was caught: where its fall stopped, its lowest one where that is not told."""
    if marks.caught is not None:
        return marks.caught
    stop = window.span.stop if window.drive is None else window.drive.low
    z, v = motion.position[:, 2], motion.velocity[:, 2]
    return catch_low(z, v, marks.apex, max(stop, marks.apex + 1), motion.dt)


def _bounce(motion: Motion, low: int) -> Estimate:
    """How far a caught bar is thrown up and falls again before it settles, m: the lesser of that rise and fall."""
    z = motion.position[low : low + round(SETTLED_S / motion.dt) + 1, 2]
    top = int(np.argmax(z - np.linspace(0.0, 1e-9, len(z))))
    back = float(z[top] - z[top:].min())
    up = float(z[top] - z[: top + 1].min())
    return Estimate(min(up, back), with_ring(motion, 0.002, "position_sd", low, low + top), "m")


def _recovery(motion: Motion, low: int, stop: int) -> Estimate:
    """Mean velocity of standing up, m/s: the middle 80 % of the rise from the catch over its time."""
    t, z = motion.t_s[low:stop], motion.position[low:stop, 2]
    if len(z) < 10 or float(z.max() - z[0]) < 0.15:
        return unknown("m/s", "the bar was caught high: there was hardly anything to stand up with")
    level, rise = float(z.min()), float(z.max() - z.min())
    over = np.flatnonzero(z > level + 0.9 * rise)
    until = int(over[0])
    under = np.flatnonzero(z[:until] < level + 0.1 * rise)
    begin = int(under[-1]) if len(under) else 0
    length = float(t[until] - t[begin])
    u = with_ring(motion, 0.01, "position_sd", low + begin, low + until, over=max(length, 0.1))
    return Estimate(float(z[until] - z[begin]) / length, u, "m/s") if length > 0 else unknown("m/s", "no rise")


def fall_ways(motion: Motion, window: RepWindow, path: PathFigures) -> dict[str, Way | Estimate]:
    """How a pull was lost: fore-aft way (m) over the first 0.4 m of the fall, and whether it was caught first (s).

    held_before_fall: time from the apex until the bar fell freely; a bar that was never met falls at once.
    """
    t, z = motion.t_s, motion.position[:, 2]
    apex, stop = window.rise.high, min(len(t), max(window.span.stop, window.rise.high + 2))
    lost = np.flatnonzero(z[apex] - z[apex:stop] > FALLEN_M)
    end = apex + int(lost[0]) if len(lost) else stop - 1
    free = 0.5 * 9.80665 * 0.9  # m/s2 / 2: what a bar let go of falls by at least
    needed = float(np.sqrt(max(float(z[apex] - z[end]), 0.0) / free))
    out: dict[str, Way | Estimate] = {"x_in_fall": Way(end, apex)}
    vx = float(path.vx[end])
    u = float(motion.errors.velocity_sd(t[[end]], path.forward)[0])
    out["x_velocity_in_fall"] = Estimate(vx, float(np.hypot(u, 0.005)), "m/s")
    out["held_before_fall"] = Estimate(max(float(t[end] - t[apex]) - needed, 0.0), 0.03, "s")
    return out
