"""What a rep measured, each figure with its standard uncertainty.

The concentric phase runs between the two crossings of 0.03 m/s that bracket the whole rise. Mean velocity is the rise
between them over the time between them; the propulsive part ends at the first crossing of a = -9.81 m/s2
(Sanchez-Medina, Perez and Gonzalez-Badillo 2010); range of motion is lowest to highest point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.phases import catch_low
from barwright.analysis.reps.turning import EDGE_VELOCITY, Rise, crossing_time

Floats = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
PROPULSIVE_LIMIT = -9.81  # m/s2, as published
HIGHEST_POINT_U_M = 0.001  # a held bar sways: where its highest point lies is a matter of millimetres
CUT_OFF = "the recording breaks off, or the sensor was at full scale, before the top of this rise"
NO_HORIZONTAL = "this sensor measures the vertical only; a string or a height has no fore-aft in it"
NO_AXIS = "the mounting does not tell which way the bar points and it did not turn enough to show it"


@dataclass(frozen=True, slots=True)
class Concentric:
    """Times and heights of a concentric phase, with what is needed for uncertainties."""

    start_s: float
    stop_s: float
    start_u_s: float
    stop_u_s: float
    rise_m: float
    rise_u_m: float


def smooth_acceleration(motion: Motion) -> Floats:
    """(n,) vertical acceleration in m/s2 with sensor noise above about 25 Hz taken off; looks 20 ms ahead."""
    sigma = 0.006 / motion.dt
    az = motion.acceleration[:, 2]
    return np.asarray(gaussian_filter1d(az, sigma)) if sigma > 0.4 else az


def concentric_of(motion: Motion, rise: Rise, az: Floats) -> Concentric:
    """Start and stop between samples, and how far an error of velocity would move them."""
    t, z, v = motion.t_s, motion.position[:, 2], motion.velocity[:, 2]
    start = crossing_time(t, v, EDGE_VELOCITY, rise.start)
    stop = crossing_time(t, v, EDGE_VELOCITY, min(len(t) - 1, rise.stop + 1))
    sd = motion.errors.velocity_sd(np.array([start, stop]), UP)
    start_u = _edge_u(v, rise.start, rise.low, rise.fastest, float(sd[0]), motion.dt)
    stop_u = _edge_u(
        v, rise.stop, rise.fastest, min(len(v) - 1, rise.stop + round(0.6 / motion.dt)), float(sd[1]), motion.dt
    )
    heights = np.interp([start, stop], t, z)
    u = float(motion.errors.displacement_sd(start, np.array([stop]), UP)[0])
    return Concentric(start, stop, start_u, stop_u, float(heights[1] - heights[0]), u)


def _edge_u(v: Floats, at: int, first: int, last: int, sd: float, dt: float) -> float:
    """Seconds by which the crossing of the edge beside sample `at` moves when velocity is off by its sd."""
    times = []
    for level in (EDGE_VELOCITY - sd, EDGE_VELOCITY + sd):
        above = v[first : last + 1] >= level
        changes = np.flatnonzero(above[1:] != above[:-1]) + first
        times.append(float(changes[int(np.argmin(np.abs(changes - at)))]) if len(changes) else float(at))
    return float(np.hypot(0.5 * abs(times[1] - times[0]) * dt, 0.15 * dt))


def measure_rep(motion: Motion, window: RepWindow, lift: Lift) -> dict[str, Estimate]:
    """All measures of one rep by name."""
    az = smooth_acceleration(motion)
    out = _rise_measures(motion, window.rise, az)
    if window.rise.high >= len(motion.t_s) - 3 and motion.velocity[-1, 2] > 0.1:  # cut off while it still rose
        out = {name: unknown(figure.unit, CUT_OFF) for name, figure in out.items()}
    z = motion.position[:, 2]
    t = motion.t_s
    if lift.pattern in (Pattern.PULL_AND_CATCH, Pattern.PULL, Pattern.PULL_AND_DRIVE, Pattern.DRIVE):
        from_s = float(t[window.floor if window.floor is not None else window.rise.low])
        cut_off = out["range_of_motion"].value is None
        out["peak_height"] = unknown("m", CUT_OFF) if cut_off else _height(motion, from_s, window.rise.high)
        if lift.pattern is not Pattern.PULL:
            out["drop_to_catch"] = _drop(motion, window)
    else:
        out["duration"] = Estimate(
            float(t[min(len(t) - 1, window.span.stop)] - t[window.span.start]), max(0.02, motion.dt), "s"
        )
    if window.drive is not None:
        for name, figure in _rise_measures(motion, window.drive, az).items():
            out[f"jerk_{name}"] = figure
        begin = max(0, window.drive.low - round(0.6 / motion.dt))
        top = begin + int(np.argmax(z[begin : window.drive.low + 1]))
        out["jerk_dip_depth"] = _rise_figure(motion, window.drive.low, top)
    elif lift.pattern is Pattern.DRIVE:
        out["dip_depth"] = _rise_figure(motion, window.rise.low, window.span.start)
    return out


def _rise_measures(motion: Motion, rise: Rise, az: Floats) -> dict[str, Estimate]:
    t, v = motion.t_s, motion.velocity[:, 2]
    phase = concentric_of(motion, rise, az)
    peak_s, peak = _top_of(t, v, rise.fastest)
    peak_sd = float(motion.errors.velocity_sd(np.array([peak_s]), UP)[0])
    length = phase.stop_s - phase.start_s
    mean = phase.rise_m / length
    # the ends move little height but all of the time: d(rise / T) = (v_edge - mean) dT / T
    edge = (mean - EDGE_VELOCITY) / length
    mean_u = float(
        np.sqrt((phase.rise_u_m / length) ** 2 + (edge * phase.start_u_s) ** 2 + (edge * phase.stop_u_s) ** 2)
    )
    bend = abs(float(np.interp(peak_s + 0.01, t, az) - np.interp(peak_s - 0.01, t, az))) / 0.02
    peak_time_u = float(np.hypot(min(0.15 / max(bend, 1.0), 0.1), 0.5 * motion.dt))
    return {
        "peak_velocity": Estimate(peak, float(np.hypot(peak_sd, 0.001)), "m/s"),
        "mean_velocity": Estimate(mean, float(np.hypot(mean_u, 0.0005)), "m/s"),
        "mean_propulsive_velocity": _propulsive(motion, rise, az, phase),
        "range_of_motion": _rise_figure(motion, rise.low, rise.high),
        "time_to_peak": Estimate(peak_s - phase.start_s, float(np.hypot(peak_time_u, phase.start_u_s)), "s"),
        "concentric_time": Estimate(length, float(np.hypot(phase.start_u_s, phase.stop_u_s)), "s"),
    }


def _top_of(t: Floats, v: Floats, at: int) -> tuple[float, float]:
    """Time and value of the peak between samples: a parabola through the highest three."""
    if not 0 < at < len(v) - 1:
        return float(t[at]), float(v[at])
    a, b, c = v[at - 1], v[at], v[at + 1]
    bend = a - 2 * b + c
    if bend >= 0:
        return float(t[at]), float(b)
    shift = 0.5 * (a - c) / bend
    return float(t[at] + shift * (t[1] - t[0])), float(b - 0.25 * (a - c) * shift)


def _propulsive(motion: Motion, rise: Rise, az: Floats, phase: Concentric) -> Estimate:
    """Mean velocity up to the first crossing of a = -9.81 m/s2; its u sees how that crossing would move."""
    t, z = motion.t_s, motion.position[:, 2]

    sd = motion.accel_sd

    def up_to(limit: float) -> tuple[float, float]:
        # noise alone must not end the phase: it has to go clearly below the limit, then the crossing counts
        part = az[rise.fastest : rise.stop + 1]
        clear = np.flatnonzero(part < limit - 1.5 * sd)
        above = np.flatnonzero(part[: clear[0]] >= limit) if len(clear) else np.zeros(0)
        below = np.array([above[-1] + 1 if len(above) else 0]) if len(clear) else clear
        stop = crossing_time(t, az, limit, rise.fastest + int(below[0])) if len(below) else phase.stop_s
        stop = max(stop, phase.start_s + motion.dt)
        height = float(np.interp(stop, t, z) - np.interp(phase.start_s, t, z))
        return height / (stop - phase.start_s), stop

    value, stop = up_to(PROPULSIVE_LIMIT)
    spread = 0.5 * abs(up_to(PROPULSIVE_LIMIT - sd)[0] - up_to(PROPULSIVE_LIMIT + sd)[0])
    length = stop - phase.start_s
    height_u = float(motion.errors.displacement_sd(phase.start_s, np.array([stop]), UP)[0])
    edge = (value - EDGE_VELOCITY) / length * phase.start_u_s
    stop_u = phase.stop_u_s if stop >= phase.stop_s else 0.5 * motion.dt
    end = (float(np.interp(stop, t, motion.velocity[:, 2])) - value) / length * stop_u
    u = float(np.sqrt((height_u / length) ** 2 + edge**2 + end**2 + spread**2 + 0.0005**2))
    return Estimate(value, u, "m/s")


def _rise_figure(motion: Motion, low: int, high: int) -> Estimate:
    t, z = motion.t_s, motion.position[:, 2]
    u = float(motion.errors.displacement_sd(float(t[low]), np.array([t[high]]), UP)[0])
    return Estimate(float(z[high] - z[low]), float(np.hypot(u, HIGHEST_POINT_U_M)), "m")


def _height(motion: Motion, from_s: float, at: int) -> Estimate:
    """Height above where the bar rested before the rep: above the rest itself when one ends just before."""
    t, z = motion.t_s, motion.position[:, 2]
    before = [r for r in motion.rests if t[r.span.start] <= from_s + 0.2]
    if before:
        rest = before[-1].span
        base = float(np.mean(z[rest.as_slice()]))
        from_s = float(0.5 * (t[rest.start] + t[rest.stop - 1]))
    else:
        base = float(np.interp(from_s, t, z))
    u = float(motion.errors.displacement_sd(from_s, np.array([t[at]]), UP)[0])
    return Estimate(float(z[at] - base), float(np.hypot(u, HIGHEST_POINT_U_M)), "m")


def _drop(motion: Motion, window: RepWindow) -> Estimate:
    if window.outcome == "partial":
        return unknown("m", "the bar was not pulled high enough to be caught")
    if window.outcome == "failed" and window.drive is None:
        return unknown("m", "the bar was not caught")
    stop = window.span.stop if window.drive is None else window.drive.low
    if stop <= window.rise.high + 1:
        return unknown("m", "nothing was recorded after the highest point")
    low = catch_low(motion.position[:, 2], motion.velocity[:, 2], window.rise.high, stop, motion.dt)
    return _rise_figure(motion, low, window.rise.high)


def path_measures(motion: Motion, window: RepWindow, lift: Lift) -> dict[str, Estimate]:
    """Signed fore-aft figures, x > 0 away from the lifter, from where the bar left its rest."""
    names = ["most_rearward", "most_forward", "start_to_end"]
    if lift.pattern in (Pattern.PULL_AND_CATCH, Pattern.PULL, Pattern.PULL_AND_DRIVE):
        names += ["rearward_in_pull", "forward_swing", "x_at_peak_velocity", "x_at_apex"]
        if lift.pattern is not Pattern.PULL and window.outcome == "made":
            names += ["loop_to_catch", "x_at_catch"]
    if motion.forward is None:
        return {name: unknown("m", NO_HORIZONTAL if motion.spin_rate is None else NO_AXIS) for name in names}
    x = motion.position @ motion.forward
    t, rise = motion.t_s, window.rise
    start, stop = window.span.start, min(len(t), max(window.span.stop, rise.high + 1))
    x = x - x[start]

    def figure(b: int, a: int = start) -> Estimate:
        u = float(motion.errors.displacement_sd(float(t[a]), np.array([t[b]]), np.asarray(motion.forward))[0])
        return Estimate(float(x[b] - x[a]), float(np.hypot(u, 0.0005)), "m")

    back = start + int(np.argmin(x[start:stop]))
    front = start + int(np.argmax(x[start:stop]))
    out = {"most_rearward": figure(back), "most_forward": figure(front), "start_to_end": figure(stop - 1)}
    if "rearward_in_pull" in names:
        rear = start + int(np.argmin(x[start : rise.fastest + 1]))
        swing = rear + int(np.argmax(x[rear : rise.high + 1]))
        out["rearward_in_pull"] = figure(rear)
        out["forward_swing"] = figure(swing, rear)
        out["x_at_peak_velocity"] = figure(rise.fastest)
        out["x_at_apex"] = figure(rise.high)
        if "loop_to_catch" in names:
            end = stop if window.drive is None else window.drive.low
            low = catch_low(motion.position[:, 2], motion.velocity[:, 2], rise.high, max(end, rise.high + 1), motion.dt)
            out["loop_to_catch"] = figure(low, swing)
            out["x_at_catch"] = figure(low)
    return out
