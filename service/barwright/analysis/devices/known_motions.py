"""Motions of which the result is known beforehand: a drop, a pendulum, a lift between two heights, a spin."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.devices.compared import Compared, MotionChecked, compare
from barwright.analysis.motion.calibration import apply_calibration, prior_after
from barwright.analysis.motion.device_class import STANDARD_GRAVITY, prior_for
from barwright.analysis.motion.rest_fit import fit_stretches
from barwright.analysis.motion.rest_solve import Solution
from barwright.analysis.motion.rests import Rest, RestParams
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.motion.stretches import CutParams, cut_recording, stretches_of
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.spans import spans_of
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
SHORTEST_FALL_S, FALLING = 0.15, 0.5  # share of gravity below which it falls
FEWEST_SWINGS = 4  # half swings
SWING_RATE = 0.3  # rad/s at the bottom, at least
SPINNING, QUIET = 1.0, 0.02  # rad/s
FEWEST_TURNS = 2.0


@dataclass(frozen=True, slots=True)
class Told:
    """What was told of a motion, SI, each with its standard uncertainty. length: height of the drop, of the lift, or
    length of the pendulum from pivot to sensor. turns counted; radius from the axis of the spin, None when not told.
    """

    motion: str
    gravity: Estimate
    length: Estimate | None = None
    turns: Estimate | None = None
    radius: Estimate | None = None


def check_motion(samples: ImuSamples, setup: SensorSetup, told: Told) -> MotionChecked:
    """What was measured beside what was to be expected.

    Raises UnusableSamples: motion-not-found, and what the time axis refuses.
    """
    if told.motion == "two_heights":
        return _two_heights(samples, setup, told)
    even = even_samples(samples.t_s, np.hstack((samples.accel_m_s2, samples.gyro_rad_s)))
    values = apply_calibration(even.values, setup.calibration)
    return {"drop": _drop, "pendulum": _pendulum, "spin": _spin}[told.motion](even, values, told)


def _drop(even: EvenSamples, values: Floats, told: Told) -> MotionChecked:
    height, gravity = _known(told.length), _known(told.gravity)
    size = np.linalg.norm(values[:, :3], axis=1)
    falls = [one for one in spans_of(size < FALLING * gravity[0]) if len(one) * even.period_s > SHORTEST_FALL_S]
    falls = [one for one in falls if one.start > 0 and one.stop < len(size)]
    if not falls:
        raise UnusableSamples(
            "motion-not-found",
            "no fall was found: force has to be far below gravity for a sixth of a second and more, with some time "
            "before and after; drop it from 0.3 m or higher",
        )
    fall = max(falls, key=len)
    limit = FALLING * gravity[0]
    begin = fall.start - 1 + _crossing(size[fall.start - 1], size[fall.start], limit)
    end = fall.stop - 1 + _crossing(size[fall.stop - 1], size[fall.stop], limit)
    lasted = (end - begin) * even.period_s
    let_go = _ramp(size, fall.start, limit) * even.period_s  # hands open over so long
    u = math.hypot(even.period_s / math.sqrt(6.0), 0.3 * let_go)
    expected = math.sqrt(2.0 * height[0] / gravity[0])
    expected_u = 0.5 * expected * math.hypot(height[1] / height[0], gravity[1] / gravity[0])
    inside = slice(fall.start + max(1, len(fall) // 5), fall.stop - max(1, len(fall) // 10))
    left = values[inside, :3].mean(axis=0)
    spread = float(np.sqrt(np.mean(np.var(values[inside, :3], axis=0)) / max(1, inside.stop - inside.start)))
    spun = float(np.median(np.linalg.norm(values[inside, 3:], axis=1)))
    figures = (
        compare(
            "fall_time", "Time of the fall", Estimate(expected, expected_u, "s"), Estimate(lasted, u, "s"),
            "Measure the height again, from where it hung to where it lay; if it holds, the device's clock is wrong.",
        ),
        compare(
            "force_in_fall", "Force while it fell", Estimate(0.0, 0.02 + 0.03 * spun**2, "m/s2"),
            Estimate(float(np.linalg.norm(left)), spread, "m/s2"),
            "The accelerometer's zero is off by about this: calibrate it.",
        ),
    )  # fmt: skip
    return _checked(told, figures)


def _ramp(size: Floats, at: int, limit: float) -> float:
    """Samples over which force goes from four fifths to a fifth of the way down."""
    before = size[max(0, at - 200) : at][::-1]
    first = next((k for k, value in enumerate(before) if value > 1.6 * limit), len(before))
    after = next((k for k, value in enumerate(size[at : at + 200]) if value < 0.4 * limit), 0)
    return float(first + after)


def _pendulum(even: EvenSamples, values: Floats, told: Told) -> MotionChecked:
    length, gravity = _known(told.length), _known(told.gravity)
    gyro = values[:, 3:] - np.median(values[:, 3:], axis=0)
    axis = np.linalg.eigh(gyro.T @ gyro)[1][:, -1]
    rate = gaussian_filter1d(gyro @ axis, max(0.5, 0.01 / even.period_s))
    usual = 2.0 * math.pi * math.sqrt(length[0] / gravity[0])
    peaks = _peaks(rate, round(0.3 * usual / even.period_s))
    swings = [place for place in peaks if abs(rate[place]) > SWING_RATE]
    run = _longest_run(swings, 0.7 * usual / even.period_s)
    crossings = np.array([_zero_between(rate, a, b) for a, b in pairwise(run)]) * even.period_s
    if len(crossings) < FEWEST_SWINGS:
        raise UnusableSamples(
            "motion-not-found",
            f"no swinging of about {usual:.2f} s was found for two periods and more: let it swing freely ten times",
        )
    count = np.arange(len(crossings))
    # a zero of the gyroscope that is a little off shortens one half swing and lengthens the next
    rows = np.stack([count, np.ones(len(count)), (-1.0) ** count], axis=1)
    fitted = np.linalg.lstsq(rows, crossings, rcond=None)[0]
    miss = crossings - rows @ fitted
    spread = float(np.sqrt(np.sum(miss**2) / max(1, len(miss) - 3)))
    period = 2.0 * float(fitted[0])
    u = 2.0 * spread / float(np.sqrt(np.sum((count - count.mean()) ** 2)))
    fastest = np.abs(rate[run])
    swing = 2.0 * np.arcsin(np.clip(fastest / (2.0 * math.sqrt(gravity[0] / length[0])), 0.0, 0.99))
    longer = np.array([1.0 / _agm(math.cos(0.5 * one)) for one in swing])
    expected = usual * float(longer.mean())
    relative = math.hypot(length[1] / length[0], gravity[1] / gravity[0])
    size = gaussian_filter1d(np.linalg.norm(values[:, :3], axis=1), max(0.5, 0.01 / even.period_s))
    bottom = gravity[0] + length[0] * fastest**2
    pull = Estimate(float(bottom.mean()), float(np.hypot(gravity[1], np.mean(fastest**2) * length[1])) + 0.02, "m/s2")
    felt_sd = float(np.std(size[run] - bottom)) / math.sqrt(len(run))
    figures = (
        compare(
            "period", "Period", Estimate(expected, 0.5 * expected * relative, "s"), Estimate(period, u, "s"),
            "Measure the length again, from the pivot to the middle of the sensor; if it holds, the clock is wrong.",
        ),
        compare(
            "force_at_bottom", "Force at the bottom of the swing", pull,
            Estimate(float(size[run].mean()), felt_sd, "m/s2"),
            "Accelerometer and gyroscope disagree: calibrate both; a twisting string does it as well.",
        ),
    )  # fmt: skip
    widest = math.degrees(float(swing.max()))
    more = (
        f"{len(crossings) / 2:.1f} swings of {widest:.0f} degrees and less to each side; without their correction the "
        f"period would be expected {100 * (1 - usual / expected):.2f} % shorter.",
    )
    return _checked(told, figures, more)


def _agm(b: float) -> float:
    """Arithmetic-geometric mean of 1 and b: a pendulum's period is its small-swing one over agm(1, cos(swing / 2)).

    Exact (Carvalhaes and Suppes 2008, American Journal of Physics 76:1150-1154).
    """
    a = 1.0
    while abs(a - b) > 1e-14:
        a, b = 0.5 * (a + b), math.sqrt(a * b)
    return a


def _two_heights(samples: ImuSamples, setup: SensorSetup, told: Told) -> MotionChecked:
    height = _known(told.length)
    prior = prior_after(prior_for(setup.device_class), setup.calibration)
    even = even_samples(samples.t_s, np.hstack((samples.accel_m_s2, samples.gyro_rad_s)))
    cut = cut_recording(even, setup, CutParams())
    even = replace(even, values=apply_calibration(even.values, setup.calibration))
    places = stretches_of(even, cut, prior, RestParams())
    # rests on two tables are as firm as on one floor, but not at one height
    loose = [replace(one, candidates=tuple(Rest(r.span, False) for r in one.candidates)) for _, one in places]
    best: tuple[float, float] | None = None
    for solution in fit_stretches(loose, prior):
        if solution is None:
            continue
        for went, sd in _rises(solution, even.period_s):
            if best is None or abs(went) > abs(best[0]):
                best = (went, sd)
    if best is None:
        raise UnusableSamples(
            "motion-not-found",
            "fewer than two moments of rest were found: hold it still at one height for 2 s, lift it, hold it still",
        )
    figure = compare(
        "rise", "Rise", Estimate(height[0], height[1], "m"), Estimate(abs(best[0]), math.hypot(best[1], 0.001), "m"),
        "Check the tape first, then calibrate: a scale error of 1 % shows as 1 % of the height.",
    )  # fmt: skip
    return _checked(told, (figure,))


def _rises(solution: Solution, dt: float) -> list[tuple[float, float]]:
    """(m, u) upward from each believed rest to each later one."""
    model, nominal = solution.at.model, solution.at.nominal
    _, shift, _ = model.corrections(solution.correction)
    every = np.arange(len(nominal.position)) * dt
    height = nominal.position[:, 2] + np.interp(every, model.t_s, shift[:, 2])
    spans = [solution.candidates[i].span for i in solution.believed]
    middle = np.array([0.5 * (span.start + span.stop) * dt for span in spans])
    mean = [float(height[span.as_slice()].mean()) for span in spans]
    rows = model.position_rows(middle)[:, 2]
    return [
        (mean[j] - mean[i], float(np.sqrt(solution.variances(rows[j : j + 1] - rows[i])[0])))
        for i in range(len(spans))
        for j in range(i + 1, len(spans))
    ]


def _spin(even: EvenSamples, values: Floats, told: Told) -> MotionChecked:
    turns = _known(told.turns)
    smooth = gaussian_filter1d(values[:, 3:], max(0.5, 0.05 / even.period_s), axis=0)
    calm = np.argsort(np.linalg.norm(smooth, axis=1))[: max(10, len(smooth) // 20)]
    size = np.linalg.norm(smooth - smooth[calm].mean(axis=0), axis=1)
    spinning = spans_of(size > SPINNING)
    if not spinning:
        raise UnusableSamples("motion-not-found", "no spin was found: turn it faster than a turn in 6 s")
    quiet = np.flatnonzero(size < QUIET)
    before, after = quiet[quiet < spinning[0].start], quiet[quiet >= spinning[-1].stop]
    if (len(before) + len(after)) * even.period_s < 1.0 or not len(before) or not len(after):
        raise UnusableSamples("motion-not-found", "leave it still for a second and more before and after the spin")
    still = np.concatenate((before, after))
    zero = values[still, 3:].mean(axis=0)
    zero_sd = float(np.sqrt(np.mean(np.var(values[still, 3:], axis=0)) / len(still))) + 1e-4
    gyro = values[:, 3:] - zero
    inside = slice(int(before[-1]), int(after[0]) + 1)
    axis = np.linalg.eigh(gyro[inside].T @ gyro[inside])[1][:, -1]
    rate = gyro[inside] @ axis
    angle = np.concatenate(([0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1])))) * even.period_s
    measured = abs(float(angle[-1])) / (2.0 * math.pi)
    if measured < FEWEST_TURNS:
        raise UnusableSamples("motion-not-found", f"only {measured:.1f} turns were seen: give it 5 and more")
    lasted = len(rate) * even.period_s
    figures = [
        compare(
            "turns", "Turns", Estimate(turns[0], turns[1], "1"),
            Estimate(measured, zero_sd * lasted / (2.0 * math.pi), "1"),
            "The gyroscope's scale is off by the ratio of the two: calibrate it with turns between the poses.",
        )
    ]  # fmt: skip
    if told.radius is not None:
        radius = _known(told.radius)
        figures.append(
            compare(
                "radius", "Radius from the force toward the axis", Estimate(radius[0], radius[1], "m"),
                _radius(values[inside, :3], rate, angle, axis, even.period_s),
                "The accelerometer's chip sits elsewhere in its housing than was measured, or a scale is off.",
            )
        )  # fmt: skip
    return _checked(told, tuple(figures))


def _radius(force: Floats, rate: Floats, angle: Floats, axis: Floats, dt: float) -> Estimate:
    """From force across the axis = r (rate squared inward, change of rate sideways) + gravity as it turns + bias."""
    first = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    first /= np.linalg.norm(first)
    across = force @ np.stack([first, np.cross(axis, first)], axis=1)
    change = np.gradient(gaussian_filter1d(rate, max(0.5, 0.03 / dt)), dt)
    c, s, one, none = np.cos(angle), np.sin(angle), np.ones(len(rate)), np.zeros(len(rate))
    # sensor turns by +angle, gravity in its axes by -angle; place r = (a, b): force = -rate^2 r + change (axis x r)
    rows = np.concatenate(
        [
            np.stack([-(rate**2), -change, c, s, one, none], axis=1),
            np.stack([change, -(rate**2), -s, c, none, one], axis=1),
        ]
    )
    target = across.T.ravel()
    found, *_ = np.linalg.lstsq(rows, target, rcond=None)
    miss = target - rows @ found
    inverse = np.linalg.inv(rows.T @ rows)
    # what is left over is not white: a tenth of a second is taken as one observation
    covariance = inverse * float(miss @ miss) / len(miss) * max(1.0, 0.1 / dt)
    radius = float(np.hypot(found[0], found[1]))
    way = found[:2] / max(radius, 1e-9)
    return Estimate(radius, float(np.sqrt(way @ covariance[:2, :2] @ way)) + 0.0005, "m")


def _checked(told: Told, figures: tuple[Compared, ...], more: tuple[str, ...] = ()) -> MotionChecked:
    return MotionChecked(told.motion, figures, told.gravity, (*(one.words for one in figures), *more))


def _known(one: Estimate | None) -> tuple[float, float]:
    if one is None or one.value is None or one.u is None:
        raise ValueError("a known motion needs its measure")
    return one.value, one.u


def _crossing(a: float, b: float, limit: float) -> float:
    return 0.5 if a == b else float(np.clip((limit - a) / (b - a), 0.0, 1.0))


def _peaks(x: Floats, apart: int) -> list[int]:
    """Places of the largest sizes of x, alternating in sign, at least `apart` samples from each other."""
    out: list[int] = []
    for run in [*spans_of(x > 0), *spans_of(x < 0)]:
        if len(run) >= apart:
            out.append(run.start + int(np.argmax(np.abs(x[run.as_slice()]))))
    return sorted(out)


def _longest_run(places: Sequence[int], most: float) -> list[int]:
    """The longest run of places no further than `most` samples from one to the next."""
    best: list[int] = []
    now: list[int] = []
    for place in places:
        now = [*now, place] if now and place - now[-1] <= most else [place]
        best = max(best, now, key=len)
    return best


def _zero_between(x: Floats, a: int, b: int) -> float:
    part = x[a : b + 1]
    k = int(np.flatnonzero(np.diff(np.sign(part)) != 0)[0])
    return a + k + _crossing(float(part[k]), float(part[k + 1]), 0.0)


def standard_gravity() -> Estimate:
    """Gravity where nobody told it: the standard one, and how much it differs over the Earth."""
    return Estimate(STANDARD_GRAVITY, 0.0015 * STANDARD_GRAVITY, "m/s2")
