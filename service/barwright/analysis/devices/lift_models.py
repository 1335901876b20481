"""Modelled lifts: what a sensor of a bar would feel in a snatch, a squat and so on, to ask the error model about.

Times, heights and speeds lie in the middle of the ranges the trade describes (from memory; docs/device_check.md names
them). They are the question put to the error model; no measured result is in them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from barwright.analysis.motion.device_class import STANDARD_GRAVITY

Floats = NDArray[np.float64]
SWAY_M, SWAY_RAD = 0.003, np.radians(0.5)  # of held weight, about once a second (common practice, no source)
# How held weight sways: three waves about 1 Hz and a slow one half as large, (Hz, share of SWAY_M and SWAY_RAD).
HANDS = ((0.78, 0.577), (1.03, 0.577), (1.38, 0.577), (0.175, 0.5))
# Share of SWAY_M up and down where the body carries the bar for a whole set: 3 mm once a second would take 1.2 % of the
# weight, and on both feet or a bench force plates show a third of it or less (from memory)
CARRIED_UP = 0.33
SOFT_S = 0.02  # no force on a bar changes faster than over some hundredths of a second
ROLL = 0.07  # rad: a gripped bar rolls so far as it rises, one way or the other (common practice, no source)
# rad: in slow lifts it rolls further on the way down, back again on the way up, and never quite to where it was
SLOW_ROLLS = ((0.2, -0.17), (-0.06, 0.04), (0.13, -0.17), (-0.22, 0.25), (0.1, -0.07))
SPIN_SWAY = 2.0  # a bar rolls in the hands by more than it tilts


@dataclass(frozen=True, slots=True)
class HeldRest:
    """A moment without lifting, s; firm on a floor or rack, else in hands."""

    start_s: float
    stop_s: float
    firm: bool


@dataclass(frozen=True, slots=True)
class LiftModel:
    """Knots of vertical velocity (t, m/s), joined smoothly; turns of the bar about itself and fore-aft travel as
    (start, length, size); rests; moments of peak velocity; floor_after_s: how long the dropped bar lies still
    afterwards, 0 when it is not dropped; sway_up: share of SWAY_M that goes up and down.
    """

    lift: str
    knots: tuple[tuple[float, float], ...]
    spins: tuple[tuple[float, float, float], ...]
    travels: tuple[tuple[float, float, float], ...]
    rests: tuple[HeldRest, ...]
    peaks_s: tuple[float, ...]
    floor_after_s: float = 0.0
    sway_up: float = 1.0

    @property
    def length_s(self) -> float:
        """Seconds from first to last sample."""
        return self.knots[-1][0]

    @property
    def peak_m_s(self) -> float:
        """The greatest upward velocity."""
        return max(speed for _, speed in self.knots)

    def velocity(self, t_s: Floats) -> Floats:
        """(n,) m/s upward at t_s (n,), even steps."""
        at, speed = np.array(self.knots).T
        return np.asarray(gaussian_filter1d(PchipInterpolator(at, speed)(t_s), SOFT_S / float(t_s[1] - t_s[0])))


@dataclass(frozen=True, slots=True)
class Felt:
    """t_s (n,); accel (n, 3) m/s2 and gyro (n, 3) rad/s in bar axes (forward, left, up at nought spin)."""

    t_s: Floats
    accel: Floats
    gyro: Floats


def felt(model: LiftModel, rate_hz: float, start_spin: float = 0.0) -> Felt:
    """What an ideal sensor in bar axes reads, rate_hz times a second."""
    t: Floats = np.arange(0.0, model.length_s, 1.0 / rate_hz)
    vertical = np.gradient(model.velocity(t), 1.0 / rate_hz)
    forward, spin, spin_rate = np.zeros(len(t)), np.full(len(t), start_spin), np.zeros(len(t))
    for start, length, size in model.travels:
        forward += size / length**2 * _bend((t - start) / length)
    for start, length, size in model.spins:
        u = np.clip((t - start) / length, 0.0, 1.0)
        spin += size * u**4 * (35 - 84 * u + 70 * u**2 - 20 * u**3)
        spin_rate += size / length * 140 * (u * (1 - u)) ** 3
    hands = _in_hands(model, t)
    omega = 2 * np.pi * np.array([0.85, 1.0, 1.15, 0.95, 1.05])
    wave = [hands * np.sin(w * t + k) for k, w in enumerate(omega)]
    world = np.stack([forward, np.zeros(len(t)), vertical + STANDARD_GRAVITY], axis=1) - SWAY_M * np.stack(
        [share * w**2 * one for share, w, one in zip((1.0, 1.0, model.sway_up), omega[:3], wave[:3], strict=True)],
        axis=1,
    )
    spin = spin + SPIN_SWAY * SWAY_RAD * wave[3]
    spin_rate = spin_rate + SPIN_SWAY * SWAY_RAD * omega[3] * hands * np.cos(omega[3] * t + 3)
    tilt = SWAY_RAD * wave[4]
    tilt_rate = SWAY_RAD * omega[4] * hands * np.cos(omega[4] * t + 4)
    c, s = np.cos(spin), np.sin(spin)
    level = np.stack(
        [world[:, 0], world[:, 1] * np.cos(tilt) + world[:, 2] * np.sin(tilt),
         world[:, 2] * np.cos(tilt) - world[:, 1] * np.sin(tilt)], axis=1
    )  # fmt: skip
    accel = np.stack([c * level[:, 0] - s * level[:, 2], level[:, 1], s * level[:, 0] + c * level[:, 2]], axis=1)
    gyro = np.stack([c * tilt_rate, spin_rate, s * tilt_rate], axis=1)
    return Felt(t, accel, gyro)


def _bend(u: Floats) -> Floats:
    inside = np.clip(u, 0.0, 1.0)
    return np.asarray(420 * (inside * (1 - inside)) ** 2 * (1 - 2 * inside))


def _in_hands(model: LiftModel, t: Floats) -> Floats:
    """(n,) 1 where the bar is held, 0 where it lies, smooth between."""
    out = np.ones(len(t))
    for rest in model.rests:
        if rest.firm:
            out *= np.clip(np.maximum((rest.start_s - t) / 0.3, (t - rest.stop_s) / 0.3), 0.0, 1.0)
    return out


def _steps(start: float, parts: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Knots at running times: (seconds after the last one, velocity)."""
    out = [(start, 0.0)]
    for seconds, speed in parts:
        out.append((out[-1][0] + seconds, speed))
    return out


def _caught(lift: str, peak: float, drop: float, stand: float, spin: float, long: float, way: float) -> LiftModel:
    """Floor to apex, caught, stood up, held, dropped. peak m/s; drop and stand m; long: how long rests are."""
    floor = 1.8 * long
    fast = 0.94 * peak
    fall = np.sqrt(drop)
    knots = [(0.0, 0.0), *_steps(floor, [(0.28, 0.36 * peak), (0.28, 0.62 * peak), (0.14, 0.68 * peak), (0.13, fast),
                                         (0.07, peak), (0.05, 0.9 * peak), (0.17 * peak / 1.7, 0.0),
                                         (0.6 * fall, -2.6 * fall), (0.15, 0.0)])]  # fmt: skip
    peaks = (knots[5][0],)
    low = knots[-1][0]
    up = low + 0.52 + 0.2 * long
    rise = 1.5 * float(np.sqrt(stand / 0.9))
    mean = stand / rise
    knots += [(low + 0.12, 0.05), (low + 0.28, 0.0), (up, 0.0), (up + 0.25 * rise, 1.2 * mean),
              (up + 0.5 * rise, mean), (up + 0.75 * rise, 1.7 * mean), (up + rise, 0.0)]  # fmt: skip
    hold = up + rise
    end = hold + 1.5 * long
    knots.append((end, 0.0))
    apex = knots[8][0]
    rests = [HeldRest(0.0, floor - 0.06, True), HeldRest(hold + 0.1, end, False)]
    if long > 1.0:  # a brief stop in the squat is too short to be believed as a rest
        rests.insert(1, HeldRest(low + 0.3, up - 0.02, False))
    return LiftModel(
        lift,
        tuple(knots),
        ((floor + 0.05, 0.7, ROLL * way), (apex - 0.2, 0.36, -spin)),
        ((floor, 0.7, -0.05), (floor + 0.7, 0.35, 0.05), (peaks[0] + 0.03, 0.32, -0.06)),
        tuple(rests),
        peaks,
        1.3 * long,
    )


def _lowered(
    lift: str, depth: float, mean: float, down_s: float, pause_s: float, reps: int, long: float, way: float
) -> LiftModel:
    """Down and up `reps` times in the hands. depth m, mean velocity upward m/s, rest between reps s."""
    now = 1.8 * long
    knots, rests = [(0.0, 0.0)], [HeldRest(0.0, now, False)]
    spins, travels, peaks = [], [], []
    rise = depth / mean
    for number in range(reps):
        top = depth / (0.46 * down_s)
        knots += _steps(now, [(0.45 * down_s, -top), (0.55 * down_s, 0.0), (0.27 * rise, 1.15 * mean),
                              (0.18 * rise, 0.95 * mean), (0.22 * rise, 1.65 * mean), (0.33 * rise, 0.0)])  # fmt: skip
        bottom, up = now + down_s, now + down_s + rise
        roll, back = SLOW_ROLLS[number % len(SLOW_ROLLS)]
        spins += [(now, down_s, roll * way), (bottom, rise, back * way)]
        travels += [(now, down_s, 0.03), (bottom, rise, -0.03)]
        peaks.append(knots[-2][0])
        rests.append(HeldRest(up + 0.1, up + pause_s * long, False))
        now = up + pause_s * long
    knots.append((now, 0.0))
    return LiftModel(lift, tuple(knots), tuple(spins), tuple(travels), tuple(rests), tuple(peaks), sway_up=CARRIED_UP)


def _jerk(long: float, way: float) -> LiftModel:
    """Dip, drive, received overhead, recovered, dropped."""
    dip = 1.8 * long
    knots = [(0.0, 0.0), *_steps(dip, [(0.30, -0.9), (0.145, 0.0), (0.23, 1.65), (0.05, 1.5), (0.25, 0.0),
                                       (0.1, -0.6), (0.13, 0.0), (0.25, 0.0)])]  # fmt: skip
    low = knots[-1][0]
    up = low + 0.55
    knots += [(up, 0.0), (up + 0.35, 0.35), (up + 0.7, 0.0), (up + 0.85, 0.0), (up + 1.2, 0.3), (up + 1.55, 0.0)]
    hold = up + 1.55
    knots.append((hold + 1.5 * long, 0.0))
    peak = knots[4][0]
    return LiftModel(
        "jerk",
        tuple(knots),
        ((dip, 0.4, 0.7 * ROLL * way), (peak, 0.5, -0.3)),
        ((dip, 0.4, 0.01), (peak, 0.5, -0.03)),
        (
            HeldRest(0.0, dip, False),
            HeldRest(low - 0.1, up - 0.02, False),
            HeldRest(hold + 0.1, knots[-1][0], False),
        ),
        (peak,),
        1.3 * long,
    )


def _deadlift(reps: int, long: float, way: float) -> LiftModel:
    """From the floor and back to it, lying still between reps."""
    now = 1.7 * long
    knots, rests, peaks, travels, spins = [(0.0, 0.0)], [HeldRest(0.0, now - 0.06, True)], [], [], []
    for _ in range(reps):
        knots += _steps(now, [(0.35, 0.5), (0.27, 0.4), (0.4, 0.75), (0.5, 0.0)])
        peaks.append(knots[-2][0])
        top = knots[-1][0]
        down = top + 0.7
        knots += _steps(down, [(0.55, -0.85), (0.6, 0.0)])
        travels += [(now, 1.5, -0.025), (down, 1.15, 0.025)]
        spins += [(now, 1.5, ROLL * way), (down, 1.15, -ROLL * way)]
        rests.append(HeldRest(top + 0.08, down, False))
        stop = knots[-1][0]
        now = stop + 1.7 * long
        rests.append(HeldRest(stop + 0.06, now - 0.06, True))
    knots.append((now, 0.0))
    return LiftModel("deadlift", tuple(knots), tuple(spins), tuple(travels), tuple(rests), tuple(peaks))


def lift_models(lift: str) -> tuple[LiftModel, ...]:
    """Four models of one lift: shorter and longer rests, the bar rolled a little forward and backward as it rises.

    Raises KeyError for a lift that is not modelled.
    """
    return tuple(MODELLED[lift](long, way) for long, way in ((0.75, -1.0), (1.2, 1.0), (0.75, 1.0), (1.2, -1.0)))


@cache
def greatest() -> tuple[float, float]:
    """The greatest force, m/s2, and rate, rad/s, on any one axis in any modelled lift."""
    every = [felt(model, 200.0) for lift in MODELLED for model in lift_models(lift)]
    return (
        max(float(np.linalg.norm(one.accel, axis=1).max()) for one in every),
        max(float(np.abs(one.gyro).max()) for one in every),
    )


def _snatch(long: float, way: float) -> LiftModel:
    return _caught("snatch", 1.95, 0.135, 0.55, 1.9 + 0.4 * long, long, way)


def _clean(long: float, way: float) -> LiftModel:
    return _caught("clean", 1.55, 0.165, 0.6, 1.7 + 0.4 * long, long, way)


def _squat(long: float, way: float) -> LiftModel:
    return _lowered("back_squat", 0.64, 0.72, 1.45, 1.9, SQUATS, long, way)


def _bench(long: float, way: float) -> LiftModel:
    return _lowered("bench_press", 0.36, 0.52, 1.4, 1.6, SQUATS, long, way)


def _deadlifts(long: float, way: float) -> LiftModel:
    return _deadlift(3, long, way)


SQUATS = 5
MODELLED = {
    "snatch": _snatch,
    "clean": _clean,
    "jerk": _jerk,
    "back_squat": _squat,
    "bench_press": _bench,
    "deadlift": _deadlifts,
}
