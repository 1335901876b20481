"""Real inertial recordings with measured truth, kept beside the repository in ../shared/data and never inside it.

broad_*: a hand-moved rigid sensor with optical orientation and position (Laidig, Caruso, Cereatti and Seel, "BROAD - A
Benchmark for Robust Inertial Orientation Estimation", Data 6(7):72, 2021, CC-BY-4.0). gaitmap_foot_left: a foot-worn
sensor with a heel marker (MaD-Lab Erlangen, MIT).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import savgol_filter
from vqf import offlineVQF

from barwright.analysis.motion.bar_motion import Motion
from barwright.analysis.motion.device_class import STANDARD_GRAVITY
from barwright.analysis.motion.imu_motion import ImuErrors, ImuParams, imu_motion
from barwright.analysis.motion.rest_fit import FitParams
from barwright.analysis.motion.rest_rows import HandParams
from barwright.analysis.motion.rest_solve import Solution
from barwright.analysis.motion.rests import RestParams
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.motion.stretches import CutParams
from barwright.analysis.quantities.rotations import matrices
from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]
FOLDER = Path(__file__).parents[2] / "shared" / "data"
GYRO_LATE_S, ACCEL_LATE_S = 0.00425, 0.00225  # behind the optics, as the recordings' README measured
CALIBRATED = SensorSetup(device_class="calibrated")
SLOW = ("broad_10_undisturbed_slow_translation_A", "broad_14_undisturbed_slow_translation_with_breaks_B")
FAST = ("broad_15_undisturbed_fast_translation_A",)
TAPPING = ("broad_24_disturbed_tapping_A",)
SLOW_ROTATION = ("broad_04_undisturbed_slow_rotation_with_breaks_A",)
# A foot rests for a tenth of a second between strides, hits the ground hard and is never quite still.
FOOT = ImuParams(
    cut=CutParams(impact_g=1e9, unresolved=0.1),
    rests=RestParams(window_s=0.05, shortest_s=0.07, edge_s=0.01, held_force=1.0, held_rate=0.8),
    fit=FitParams(
        shortest_s=0.06, typical_s=0.08, slow=0.08, believe=-4.0, doubt=-12.0, hands=HandParams(0.0025, 0.03)
    ),
)


@dataclass(frozen=True, slots=True)
class HandMoved:
    """One hand-moved recording: samples on the optics' clock, true position (n, 3) m, true attitude (n, 3, 3) sensor to
    world; known (n,) False where the optics lost the marker.
    """

    name: str
    samples: ImuSamples
    position: Floats
    turn: Floats
    known: NDArray[np.bool_]

    @property
    def dt(self) -> float:
        """Seconds between samples."""
        return float(self.samples.t_s[1] - self.samples.t_s[0])

    def vertical_velocity(self) -> Floats:
        """True vertical velocity (n,) m/s: derivative of local cubics over 21 samples (Savitzky and Golay 1964)."""
        t = self.samples.t_s
        height = np.interp(t, t[self.known], self.position[self.known, 2])
        return np.asarray(savgol_filter(height, 21, 3, deriv=1, delta=self.dt))


def columns(name: str) -> dict[str, Floats]:
    """Every column of a recording; t_s from nought."""
    from pyarrow.parquet import read_table

    table = read_table(FOLDER / f"{name}.parquet")
    out = {c: np.asarray(table[c].to_numpy(), dtype=float) for c in table.column_names if c != "is_motion"}
    return {**out, "t_s": out["t_s"] - out["t_s"][0]}


@functools.cache
def hand_moved(name: str) -> HandMoved:
    """A broad_* recording with the sensors' delays taken out."""
    c = columns(name)
    t = c["t_s"]
    accel = np.stack([np.interp(t, t - ACCEL_LATE_S, c[axis]) for axis in ("ax", "ay", "az")], axis=1)
    gyro = np.stack([np.interp(t, t - GYRO_LATE_S, c[axis]) for axis in ("gx", "gy", "gz")], axis=1)
    position = np.stack([c[axis] for axis in ("px", "py", "pz")], axis=1)
    q = np.stack([c[axis] for axis in ("qw", "qx", "qy", "qz")], axis=1)
    known = np.asarray(np.isfinite(q).all(axis=1) & np.isfinite(position).all(axis=1))
    turn = matrices(np.where(known[:, None], q, np.array([1.0, 0.0, 0.0, 0.0])))
    return HandMoved(name, ImuSamples(t, accel, gyro), position, turn, known)


def moved(one: HandMoved) -> tuple[Motion, ...]:
    """The recording's motions, worked out once."""
    if one.name not in _MOVED:
        _MOVED[one.name] = imu_motion(one.samples, CALIBRATED).motions
    return _MOVED[one.name]


_MOVED: dict[str, tuple[Motion, ...]] = {}


def fitted(one: HandMoved) -> list[tuple[Span, Solution]]:
    """Every fitted stretch with its place in the recording."""
    out = []
    for motion in moved(one):
        assert isinstance(motion.errors, ImuErrors)
        first = round(float(motion.t_s[0]) / one.dt)
        out.append((Span(first, first + len(motion.t_s)), motion.errors.solution))
    return out


def up_directions(solution: Solution, n: int, dt: float) -> Floats:
    """World up in sensor axes (n, 3), with the posterior's own tilt correction put in."""
    model = solution.at.model
    phi = model.turned_by(solution.correction[:30])
    every = np.arange(n) * dt
    spread = np.stack([np.interp(every, model.t_s, phi[:, k]) for k in range(3)], axis=1)
    taken = np.searchsorted(model.wander.steps_s, every, side="right")  # wandering steps before each sample
    spread += np.concatenate((np.zeros((1, 3)), np.cumsum(model.tilt_steps(solution.correction), axis=0)))[taken]
    up = np.array([0.0, 0.0, 1.0]) - np.cross(spread, np.array([0.0, 0.0, 1.0]))  # (I + [phi])^T z
    out = np.einsum("nij,ni->nj", solution.at.nominal.turn[:n], up)
    return np.asarray(out / np.linalg.norm(out, axis=1)[:, None])


@dataclass(frozen=True, slots=True)
class TiltErrors:
    """Angles (m,) in degrees between up directions where all three are known: here, reference filter, optics."""

    to_filter: Floats
    to_truth: Floats
    filter_to_truth: Floats


def tilt_errors(one: HandMoved) -> TiltErrors:
    """Tilt of the fit against the filter and against the optics."""
    by_filter, by_optics = filter_up(one), one.turn[:, 2]
    found: list[list[Floats]] = [[], [], []]
    for span, solution in fitted(one):
        part = span.as_slice()
        ours, known = up_directions(solution, len(span), one.dt), one.known[part]
        pairs = ((ours, by_filter[part]), (ours, by_optics[part]), (by_filter[part], by_optics[part]))
        for out, (a, b) in zip(found, pairs, strict=True):
            out.append(np.degrees(np.arccos(np.clip(np.sum(a * b, axis=1), -1, 1)))[known])
    return TiltErrors(*(np.concatenate(each) for each in found))


@dataclass(frozen=True, slots=True)
class WindowErrors:
    """RMSE (k,) m/s of vertical velocity in each window: here, and by integrating with the filter's attitude."""

    here: Floats
    by_filter: Floats


def window_errors(one: HandMoved, arm: Floats) -> WindowErrors:
    """Vertical velocity in windows of 1-3 s; arm (3,) m from the sensor to the marker, in sensor axes.

    A window runs between two moments at which the sensor's true vertical velocity is nought, and holds motion. Both
    know those two moments: the filter's velocity has the straight line taken off that makes it nought at both ends,
    ours the line that our own stated errors make likeliest, which puts a blow's error where the blow was.
    """
    turning = np.einsum("nij,nj->ni", one.turn, np.cross(one.samples.gyro_rad_s, arm))
    true = one.vertical_velocity() - turning[:, 2]
    filtered = np.cumsum(np.sum(filter_up(one) * one.samples.accel_m_s2, axis=1) - STANDARD_GRAVITY) * one.dt
    moments = np.flatnonzero((np.abs(true) < 0.02) & (np.diff(np.sign(true), append=0.0) != 0) & one.known)
    out: list[tuple[float, float]] = []
    for motion in moved(one):
        first = round(float(motion.t_s[0]) / one.dt)
        inside = moments[(moments >= first) & (moments < first + len(motion.t_s))]
        at = -1
        for start in inside:
            later = inside[(inside > start + 1.0 / one.dt) & (inside <= start + 3.0 / one.dt)]
            if start < at or not len(later):
                continue
            at = int(later[0])
            span = slice(start, at + 1)
            if np.abs(true[span]).max() >= 0.1 and one.known[span].all():
                here = known_at_both_ends(motion, Span(start - first, at + 1 - first))
                straight = filtered[span] - np.linspace(filtered[start], filtered[at], at + 1 - start)
                out.append((_rms(here - true[span]), _rms(straight - true[span])))
    both = np.array(out)
    return WindowErrors(both[:, 0], both[:, 1])


def known_at_both_ends(motion: Motion, span: Span) -> Floats:
    """Vertical velocity (n,) of a part of a motion, given that it is nought at the part's first and last sample.

    The conditional mean of a Gaussian: v - C[:, ends] C[ends, ends]^-1 v[ends].
    """
    assert isinstance(motion.errors, ImuErrors)
    solution, v = motion.errors.solution, motion.velocity[span.as_slice(), 2]
    some = np.unique(np.append(np.arange(0, len(v), 4), len(v) - 1))
    rows = solution.at.model.velocity_rows(motion.t_s[span.start + some] - motion.t_s[0])[:, 2]
    spread, ends = solution.covariance(rows), [0, -1]
    pull = np.linalg.solve(spread[np.ix_(ends, ends)] + 1e-6 * np.eye(2), v[ends])
    return np.asarray(v - np.interp(np.arange(len(v)), some, spread[:, ends] @ pull))


def marker_arm() -> Floats:
    """(3,) m from the sensor to the optical marker, sensor axes: their README says about a centimetre.

    Found on a recording in which no window is judged: the marker's acceleration is the sensor's, turned, plus
    (alpha x) + (omega x)^2 times the arm; least squares, with Huber's weights (1964) against what the optics missed.
    """
    one = hand_moved(SLOW_ROTATION[0])

    def smooth(x: Floats, order: int = 0) -> Floats:
        return np.asarray(savgol_filter(x, 21, 3, deriv=order, delta=one.dt, axis=0))

    t, rate = one.samples.t_s, one.samples.gyro_rad_s
    place = np.stack([np.interp(t, t[one.known], one.position[one.known, k]) for k in range(3)], axis=1)
    force = smooth(np.einsum("nij,nj->ni", one.turn, one.samples.accel_m_s2)) - np.array([0.0, 0.0, STANDARD_GRAVITY])
    cross = _cross_matrices(rate)
    arm = one.turn @ (_cross_matrices(smooth(rate, 1)) + cross @ cross)
    use = (np.convolve(one.known, np.ones(21), "same") >= 21) & (np.linalg.norm(rate, axis=1) > 0.5)
    a = np.concatenate((arm, -one.turn), axis=2)[use].reshape(-1, 6)  # the arm, and the accelerometer's bias
    b = (smooth(place, 2) - force)[use].ravel()
    found, weight = np.zeros(6), np.ones(len(b))
    for _ in range(6):
        found = np.linalg.lstsq(a * weight[:, None], b * weight, rcond=None)[0]
        off = np.abs(b - a @ found)
        weight = np.sqrt(np.minimum(1.0, 1.345 * 1.4826 * np.median(off) / np.maximum(off, 1e-12)))
    return np.asarray(found[:3])


def _cross_matrices(v: Floats) -> Floats:
    out = np.zeros((len(v), 3, 3))
    out[:, 0, 1], out[:, 0, 2], out[:, 1, 2] = -v[:, 2], v[:, 1], -v[:, 0]
    return out - np.swapaxes(out, 1, 2)


def _rms(x: Floats) -> float:
    return float(np.sqrt(np.mean(x**2)))


def filter_up(one: HandMoved) -> Floats:
    """World up in sensor axes (n, 3) by an offline six-axis orientation filter (Laidig and Seel 2023)."""
    return _filter_up(one.name)


@functools.cache
def _filter_up(name: str) -> Floats:
    one = hand_moved(name)
    gyro, accel = (np.ascontiguousarray(x) for x in (one.samples.gyro_rad_s, one.samples.accel_m_s2))
    return np.asarray(matrices(offlineVQF(gyro, accel, None, one.dt)["quat6D"])[:, 2])


def stride_errors() -> Floats:
    """Errors (k,) m of horizontal stride length against the heel marker, one for every stride over 0.3 m."""
    c = columns("gaitmap_foot_left")
    accel = np.stack([c[axis] for axis in ("ax", "ay", "az")], axis=1)
    gyro = np.stack([c[axis] for axis in ("gx", "gy", "gz")], axis=1)
    place = np.stack([c[axis] for axis in ("px", "py", "pz")], axis=1)
    known = np.isfinite(place).all(axis=1)
    found = imu_motion(ImuSamples(c["t_s"], accel, gyro), SensorSetup(device_class="good"), FOOT)
    out = []
    for motion in found.motions:
        middles = rest_middles(motion)
        ours = np.stack([np.interp(middles, motion.t_s, motion.position[:, k]) for k in range(2)], axis=1)
        true = np.stack([np.interp(middles, c["t_s"][known], place[known, k]) for k in range(2)], axis=1)
        length, true_length = (np.linalg.norm(np.diff(p, axis=0), axis=1) for p in (ours, true))
        out.append((length - true_length)[true_length > 0.3])
    return np.concatenate(out)


def rest_middles(motion: Motion) -> Floats:
    """Times of the middles of a motion's rests."""
    return np.array([0.5 * (motion.t_s[r.span.start] + motion.t_s[r.span.stop - 1]) for r in motion.rests])
