"""What a rep measured, each figure with its standard uncertainty.

The concentric phase runs between the two crossings of 0.03 m/s that bracket the whole rise. Mean velocity is the rise
between them over the time between them; the propulsive part ends at the first crossing of a = -9.81 m/s2
(Sanchez-Medina, Perez and Gonzalez-Badillo 2010); range of motion is lowest to highest point.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.bar_motion import Motion, MotionErrors
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import Lift, Pattern
from barwright.analysis.reps.find_reps import RepWindow
from barwright.analysis.reps.phases import catch_low
from barwright.analysis.reps.shaken import peak_time_u, ring_left
from barwright.analysis.reps.turning import EDGE_VELOCITY, Rise, crossing_time, possible_starts, possible_stops

Floats = NDArray[np.float64]
UP = np.array([0.0, 0.0, 1.0])
PROPULSIVE_LIMIT = -9.81  # m/s2, as published
HIGHEST_POINT_U_M = 0.001  # a held bar sways: where its highest point lies is a matter of millimetres
# A normal error by nine equally likely values of it, of spread 1: the rare far ones, with which a rep may run on to the
# next, would outweigh all the others in a spread
ROOTS = np.array([NormalDist().inv_cdf((k + 0.5) / 9) for k in range(9)])
ROOTS /= ROOTS.std()
SHARES = np.full(9, 1 / 9)
SD_POINTS = 12  # of a rise at which the u of velocity is worked out; it changes slowly
CUT_OFF = "the recording breaks off, or the sensor was at full scale, before the top of this rise"
NO_HORIZONTAL = "this sensor measures the vertical only; a string or a height has no fore-aft in it"
NO_AXIS = "the mounting does not tell which way the bar points and it did not turn enough to show it"


@dataclass(frozen=True, slots=True)
class Edge:
    """One end of a concentric phase, for errors of velocity of ROOTS standard deviations, each as early and as late as
    sway allows.

    s (k,): when the phase would begin or end; z (k,): the height there, m; shares (k,): how likely each is.
    roots (k,): the error of velocity it stands for, in units of sd (m/s); nought where another thing than velocity
    tells this end.
    """

    s: Floats
    z: Floats
    shares: Floats
    roots: Floats
    sd: float = 1.0

    @property
    def at_s(self) -> float:
        """Expected time."""
        return float(self.shares @ self.s)

    @property
    def u_s(self) -> float:
        """Spread of the time."""
        return float(np.sqrt(self.shares @ (self.s - self.at_s) ** 2))


@dataclass(frozen=True, slots=True)
class Concentric:
    """The two ends of a concentric phase, and the uncertainties of the motion it is part of."""

    start: Edge
    stop: Edge
    errors: MotionErrors

    @property
    def length_s(self) -> float:
        """Expected time from start to stop."""
        return self.stop.at_s - self.start.at_s

    def mean_velocity(self, stop: Edge | None = None) -> tuple[float, float]:
        """Rise over time in m/s with its u, over all the ends that the errors of velocity allow; to another stop.

        A velocity told too high makes the rise too high and the phase too long, which mostly cancels in the mean. So
        what leans on velocity, by regression over the ends, is one figure with the rise; only the rest is a spread.
        """
        stop = stop or self.stop
        took = stop.s[None, :] - self.start.s[:, None]
        shares = self.start.shares[:, None] * stop.shares[None, :] * (took > 0.0)  # a rise ends after it began
        shares = shares / np.sum(shares)
        means = (stop.z[None, :] - self.start.z[:, None]) / np.where(took > 0.0, took, 1.0)
        mean = float(np.sum(shares * means))
        off = means - mean
        leans = np.array([np.sum(shares * off * self.start.roots[:, None]), np.sum(shares * off * stop.roots[None, :])])
        spread = max(0.0, float(np.sum(shares * off**2) - np.sum(leans**2)))
        leans /= self.start.sd, stop.sd
        sd = self.errors.mean_velocity_sd(self.start.at_s, stop.at_s, leans, UP)
        return mean, float(np.hypot(sd, np.sqrt(spread)))


def smooth_acceleration(motion: Motion) -> Floats:
    """(n,) vertical acceleration in m/s2 with sensor noise above about 25 Hz taken off; looks 20 ms ahead."""
    sigma = 0.006 / motion.dt
    az = motion.acceleration[:, 2]
    return np.asarray(gaussian_filter1d(az, sigma)) if sigma > 0.4 else az


def concentric_of(motion: Motion, rise: Rise) -> Concentric:
    """Start and stop of a rise, weighed over the errors that velocity may have all along it.

    A bar that sways at nearly 0.03 m/s after the lift may or may not have passed it once more, and where it did, it may
    have been lift or sway: both ends are possible, and the figures are the mean over them.
    """
    low, high = rise.within
    part = slice(low, high + 1)
    t, z, v = motion.t_s[part], motion.position[part, 2], motion.velocity[part, 2]
    thin = max(1, round(0.01 / motion.dt))
    some = np.linspace(t[0], t[-1], SD_POINTS)
    slow = motion.errors.velocity_sd(some, UP)
    shake = motion.shake.velocity_sd[part] if motion.shake else np.zeros_like(t)  # too quick for so few moments
    slow = np.interp(t, some, np.sqrt(np.maximum(slow**2 - np.interp(some, t, shake) ** 2, 0.0)))
    sd = np.hypot(slow, shake)
    height_sd = np.cumsum(slow) * motion.dt  # a velocity that is off all along takes the height with it
    fastest = rise.fastest - low
    starts, stops = [], []
    for root in ROOTS:
        v_may, drift = v + root * sd, root * height_sd
        begins = possible_starts(z, drift, v_may, fastest, thin)
        ends = possible_stops(z, drift, v_may, fastest, thin)
        starts.append([crossing_time(t, v_may, EDGE_VELOCITY, near) for near in begins])
        stops.append([crossing_time(t, v_may, EDGE_VELOCITY, min(len(t) - 1, near + 1)) for near in ends])
    first, last = (_edge(motion, times, t, sd) for times in (starts, stops))
    return Concentric(first, last, motion.errors)


def _edge(motion: Motion, times: list[list[float]], t: Floats, sd: Floats) -> Edge:
    """times: (near, far) for each of ROOTS, s. sd (m,): of velocity at t (m,), m/s."""
    # samples stand for what lies between them: the crossing is no better known than a part of the step
    s = (np.array(times) + 0.15 * motion.dt * ROOTS[:, None]).ravel()
    z = np.interp(s, motion.t_s, motion.position[:, 2])
    return Edge(s, z, np.repeat(SHARES, 2) / 2, np.repeat(ROOTS, 2), float(np.interp(s.mean(), t, sd)))


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
    phase = concentric_of(motion, rise)
    peak_s, peak = _top_of(t, v, rise.fastest)
    peak_sd = float(motion.errors.velocity_sd(np.array([peak_s]), UP)[0])
    mean, mean_u = phase.mean_velocity()
    peak_u = np.hypot(peak_time_u(motion, rise, peak_s, az), phase.start.u_s)
    return {
        "peak_velocity": Estimate(peak, float(np.hypot(peak_sd, 0.001)), "m/s"),
        "mean_velocity": Estimate(mean, float(np.hypot(mean_u, 0.0005)), "m/s"),
        "mean_propulsive_velocity": _propulsive(motion, rise, az, phase),
        "range_of_motion": _rise_figure(motion, rise.low, rise.high),
        "time_to_peak": Estimate(peak_s - phase.start.at_s, float(peak_u), "s"),
        "concentric_time": Estimate(phase.length_s, float(np.hypot(phase.start.u_s, phase.stop.u_s)), "s"),
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
    part, left = slice(rise.fastest, rise.stop + 1), ring_left(motion)
    sd = np.hypot(motion.accel_sd, left.accel_sd[part] if left else 0.0)

    def braking_from(error: Floats) -> float | None:
        # noise alone must not end the phase: it has to go clearly below the limit, then the crossing counts
        over = az[part] + error - PROPULSIVE_LIMIT
        clear = np.flatnonzero(over < -1.5 * sd)
        if not len(clear):
            return None
        above = np.flatnonzero(over[: clear[0]] >= 0.0)
        return crossing_time(t[part], over, 0.0, int(above[-1]) + 1 if len(above) else 0)

    ends = [braking_from(float(root) * sd) for root in ROOTS]
    ends = [end for end in ends for _ in range(2)]  # both of a phase's ends where braking never came
    s = np.where([end is None for end in ends], phase.stop.s, [end or 0.0 for end in ends])
    s = np.maximum(s, phase.start.s.max() + motion.dt)
    stop = Edge(s, np.interp(s, t, z), phase.stop.shares, np.zeros(len(s)))
    mean, u = phase.mean_velocity(stop)
    usual = ends[len(ends) // 2]
    if usual is not None:  # the definition's own end, not the mean over ends: braking comes and goes with the limit
        usual = max(usual, phase.start.at_s + motion.dt)
        rose = float(np.interp(usual, t, z)) - float(phase.start.shares @ phase.start.z)
        u = float(np.hypot(u, mean - rose / (usual - phase.start.at_s)))
        mean = rose / (usual - phase.start.at_s)
    return Estimate(mean, float(np.hypot(u, 0.0005)), "m/s")


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
