"""IMU samples to bar motion: even axis, stretches, fit, world frame."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.bar_motion import Motion, MotionRest
from barwright.analysis.motion.bending import Bending, find_bending
from barwright.analysis.motion.calibration import apply_calibration, prior_after
from barwright.analysis.motion.device_class import prior_for
from barwright.analysis.motion.error_model import CONSTANTS
from barwright.analysis.motion.grouping import in_groups
from barwright.analysis.motion.lever import SMOOTH_S, Lever, arm_of, lever_of
from barwright.analysis.motion.rest_fit import FitParams, fit_stretches
from barwright.analysis.motion.rest_solve import Solution
from barwright.analysis.motion.rests import RestParams
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.motion.stretches import Cut, CutParams, cut_recording, stretches_of
from barwright.analysis.motion.string_check import StringCheck, joined, string_rows
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.motion.turn_check import TurnMissed, turn_missed
from barwright.analysis.motion.whip import Whip, find_whip
from barwright.analysis.quantities.spans import Span
from barwright.analysis.quantities.vectors import norms

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ImuErrors:
    """Posterior uncertainties of one fitted stretch; start_s, stop_s: its ends."""

    solution: Solution
    start_s: float
    stop_s: float
    lever: Lever
    bending: Bending | None
    ring: Whip | None

    def velocity_sd(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s at t_s along a direction (3,)."""
        rows = self._velocity_rows(t_s, direction)
        return np.hypot(np.sqrt(self.solution.variances(rows)), self._velocity_beside(t_s, direction))

    def displacement_sd(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m of position(t) - position(from_s) along a direction (3,)."""
        begin = np.atleast_1d(from_s)
        n, rows = len(begin), self._position_rows(np.concatenate((begin, t_s)), direction)
        fitted = np.sqrt(self.solution.variances(rows[n:] - rows[:n]))
        return np.hypot(fitted, self._displacement_beside(from_s, t_s, direction))

    def mean_velocity_sd(self, from_s: float, to_s: float, leans: Floats, direction: Floats) -> float:
        """m/s of the mean between two moments plus leans (2,) times the velocities there: one figure of the fit."""
        both, took = np.array([from_s, to_s]), to_s - from_s
        places, speeds = self._position_rows(both, direction), self._velocity_rows(both, direction)
        fitted = self.solution.variances(((places[1] - places[0]) / took + leans @ speeds)[None])
        beside = self._displacement_beside(from_s, both[1:], direction) / took
        return float(
            np.sqrt(np.sum(fitted + beside**2) + np.sum((leans * self._velocity_beside(both, direction)) ** 2))
        )

    def _velocity_rows(self, t_s: Floats, direction: Floats) -> Floats:
        """(m, columns) of the fit."""
        rows = self.solution.at.model.velocity_at(t_s - self.start_s).along(direction)
        if self.lever.turns:
            ends = np.concatenate((t_s - 0.5 * SMOOTH_S, t_s + 0.5 * SMOOTH_S))
            before, after = np.split(self._swing(ends, direction, steps=False), 2)  # a step is noise, and has no rate
            rows[:, :CONSTANTS] -= (after - before) / SMOOTH_S
        return rows

    def _position_rows(self, t_s: Floats, direction: Floats) -> Floats:
        """(m, columns) of the fit."""
        rows = self.solution.at.model.position_at(t_s - self.start_s).along(direction)
        return rows - self._swing(t_s, direction) if self.lever.turns else rows

    def _swing(self, t_s: Floats, direction: Floats, steps: bool = True) -> Floats:
        """(m, columns): how far an error of attitude takes the sensor from the bar's middle along a direction."""
        model = self.solution.at.model
        return model.swing_rows(t_s - self.start_s, self.lever.arm_at(t_s), direction, steps)

    def _velocity_beside(self, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m/s: what is not in the fit."""
        sd = self.lever.velocity_sd(t_s, direction)
        if self.bending:
            sd = np.hypot(sd, self._at(t_s, self.bending.velocity_sd) @ np.abs(direction))
        if self.ring:
            sd = np.hypot(sd, self._at(t_s, self.ring.left.velocity_sd) * abs(direction[2]))
        return sd

    def _displacement_beside(self, from_s: float | Floats, t_s: Floats, direction: Floats) -> Floats:
        """(m,) m: what is not in the fit."""
        sd = self.lever.displacement_sd(from_s, t_s, direction)
        begin = np.atleast_1d(from_s)
        n, both = len(begin), np.concatenate((begin, t_s))
        if self.bending:
            bent = self._at(both, self.bending.position_sd) @ np.abs(direction)
            sd = np.hypot(sd, np.hypot(bent[n:], bent[:n]))
            sd = np.hypot(sd, self.bending.lifted_m * abs(direction[2]))
        if self.ring:
            rung = self._at(both, self.ring.left.position_sd) * abs(direction[2])
            fast = self._at(t_s, self.ring.left.velocity_sd) * abs(direction[2])
            near = fast * np.abs(t_s - from_s)  # so near, the two ends swing together
            sd = np.hypot(sd, np.minimum(np.hypot(rung[n:], rung[:n]), near))
        return sd

    def _at(self, t_s: Floats, x: Floats) -> Floats:
        """(m, ...) of x (n, ...) at t_s."""
        every = np.linspace(self.start_s, self.stop_s, len(x))
        columns = [np.interp(t_s, every, column) for column in x.reshape(len(x), -1).T]
        return np.stack(columns, axis=1).reshape(len(t_s), *x.shape[1:])


@dataclass(frozen=True, slots=True)
class ImuMotion:
    """All motions of a recording with what was found on the way: even and cut as measured, motions maybe coarser."""

    motions: tuple[Motion, ...]
    even: EvenSamples
    cut: Cut
    bar_axis: Floats | None  # (3,) sensor frame; the given one, or found from the spin
    axis_given: bool
    axis_off_level_rad: float | None  # how far from level the bar axis lies at the rests
    string: tuple[StringCheck, ...] = ()  # how a string on the same bar agrees, one a stretch
    turn_missed: TurnMissed | None = None  # turns between rests the gyroscope does not tell


@dataclass(frozen=True, slots=True)
class ImuParams:
    """Parameters of every stage; the defaults suit a barbell."""

    cut: CutParams = field(default_factory=CutParams)
    rests: RestParams = field(default_factory=RestParams)
    fit: FitParams = field(default_factory=FitParams)


def imu_motion(samples: ImuSamples, setup: SensorSetup, params: ImuParams | None = None) -> ImuMotion:
    """Every stretch of the recording whose rests allow it, as bar motion."""
    params = params or ImuParams()
    prior = prior_after(prior_for(setup.device_class), setup.calibration)
    even = even_samples(samples.t_s, np.hstack((samples.accel_m_s2, samples.gyro_rad_s)))
    cut = cut_recording(even, setup, params.cut)
    even = replace(even, values=apply_calibration(even.values, setup.calibration))
    coarse, parts = in_groups(even, cut)
    free_axis = setup.bar_axis if setup.place == "sleeve" else None
    places = stretches_of(coarse, parts, prior, params.rests, free_axis, arm_of(setup))
    solutions = fit_stretches([stretch for _, stretch in places], prior, params.fit)
    axis = setup.bar_axis if setup.bar_axis is not None else _axis_of_spin(coarse)
    string = string_rows(samples, setup)
    missed = turn_missed(solution for solution in solutions if solution is not None)
    motions, slopes, checks = [], [], []
    for (span, _), solution in zip(places, solutions, strict=True):
        if solution is None:
            continue
        if string is not None:
            solution, check = joined(solution, float(coarse.t_s[span.start]), string)
            checks += [check] if check else []
        motion, slope = _world_motion(coarse, span, solution, axis, parts, setup)
        motions.append(motion)
        if slope is not None:
            slopes.append(slope)
    off_level = max(slopes, default=None)
    return ImuMotion(tuple(motions), even, cut, axis, setup.bar_axis is not None, off_level, tuple(checks), missed)


def _axis_of_spin(even: EvenSamples) -> Floats | None:
    """Direction (3,) the bar spins about, sign unknown; None when it hardly turned."""
    gyro = even.values[:, 3:] - np.median(even.values[:, 3:], axis=0)
    fast = norms(gyro) > 1.0
    if fast.sum() < 5:
        return None
    values, vectors = np.linalg.eigh(gyro[fast].T @ gyro[fast])
    if values[-1] < 4.0 * values[-2]:
        return None
    axis = vectors[:, -1]
    return np.asarray(axis * np.sign(axis[np.argmax(np.abs(axis))]))


def _world_motion(
    even: EvenSamples, span: Span, solution: Solution, axis: Floats | None, cut: Cut, setup: SensorSetup
) -> tuple[Motion, float | None]:
    nominal, dt = solution.at.nominal, even.period_s
    t = even.t_s[span.as_slice()]
    lever = lever_of(t, None if axis is None else nominal.turn @ axis, setup)
    velocity, position, accel = lever.middle_of_bar(*_corrected(solution, dt))
    bending = None
    if setup.bar_axis is not None and setup.along_m is not None:
        bending = find_bending(nominal.turn @ setup.bar_axis, velocity, setup.along_m, dt)
    if bending is not None:
        velocity = velocity + bending.velocity
        position = position + bending.position
        accel = accel + np.gradient(bending.velocity, dt, axis=0)
    ring = find_whip(velocity[:, 2], accel[:, 2], dt) if bending is None else None
    if ring is not None:
        velocity[:, 2] -= ring.velocity
        position[:, 2] -= ring.position
        accel[:, 2] -= np.gradient(ring.velocity, dt)
    rests = tuple(MotionRest(solution.candidates[i].span, solution.candidates[i].firm) for i in solution.believed)
    first = rests[0].span.as_slice()
    position = position - position[first].mean(axis=0)
    forward, slope, spin = None, None, None
    if axis is not None:
        along = nominal.turn @ axis
        spin = solution.at.gyro @ axis
        mean = along[first].mean(axis=0)
        level = np.hypot(mean[0], mean[1])
        if level > 0.5:
            forward = np.array([mean[1], -mean[0], 0.0]) / level  # left x up
            slope = float(np.arctan2(abs(mean[2]), level))
    return (
        Motion(
            t,
            position,
            velocity,
            accel,
            rests,
            ImuErrors(solution, float(t[0]), float(t[-1]), lever, bending, ring),
            forward,
            ended_by_impact=bool(span.stop < len(even.t_s) and cut.impact[span.stop]),
            begins_after_cut=bool(span.start > 0 and cut.impact[span.start - 1]),
            spin_rate=spin,
            ring_hz=None if ring is None else ring.hz,
            shake=None if ring is None else ring.left,
        ),
        slope,
    )


def _corrected(solution: Solution, dt: float) -> tuple[Floats, Floats, Floats]:
    """Velocity, position, acceleration (n, 3): the nominal solution with the posterior mean put in."""
    model, nominal = solution.at.model, solution.at.nominal
    t = model.t_s
    velocity, position, accel = model.corrections(solution.correction)
    every = np.arange(len(nominal.velocity)) * dt

    def spread(x: Floats) -> Floats:
        return np.stack([np.interp(every, t, x[:, k]) for k in range(3)], axis=1)

    return (
        nominal.velocity + spread(velocity),
        nominal.position + spread(position),
        nominal.acceleration + spread(accel),
    )
