"""How far off a lift's peak velocity will be with one sensor: the covariance of the fit between rests.

The fit is the one of motion/rest_solve.py, linear in the sensor's constants and wanderings x, with gain K for its rows
A x = y of noise R. Whatever it believed beforehand, its error in a figure L x is L (I - K A) x - L K r. So its mean
square follows from what is KNOWN of this sensor, P = E[x x'], and not from what its class leaves open:

    mean square = L (I - K A) P (I - K A)' L' + L K R K' L'

(the Joseph form of the covariance; with P the prior's own covariance it is the posterior's, see Bar-Shalom, Li and
Kirubarajan 2001, Estimation with Applications to Tracking and Navigation, 5.2.3). No result of a simulation goes in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.linalg import cho_solve
from scipy.signal import lfilter

from barwright.analysis.devices.lift_models import (
    HANDS,
    SPIN_SWAY,
    SWAY_M,
    SWAY_RAD,
    LiftModel,
    felt,
    greatest,
    lift_models,
)
from barwright.analysis.motion.device_class import NOISE_MARGIN, STANDARD_GRAVITY, SensorPrior, integral_var
from barwright.analysis.motion.error_model import (
    ACCEL_BIAS,
    ACCEL_MATRIX,
    CONSTANTS,
    GYRO_BIAS,
    SHARED,
    constant_variances,
)
from barwright.analysis.motion.lever import TOLD_SD_M, UNTOLD_SD_M
from barwright.analysis.motion.rest_fit import FitParams
from barwright.analysis.motion.rest_rows import RATE_FLOOR, parabola, quartic, steadiness
from barwright.analysis.motion.rest_solve import ROWS, ConstantPrior, Solution, Stretch, linearise, more_rows, solve
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.motion.shared_constants import CHANGE_SHARE
from barwright.analysis.motion.strapdown import strapdown
from barwright.analysis.motion.stretches import CutParams, cut_recording
from barwright.analysis.motion.timeline import EvenSamples
from barwright.analysis.motion.wandering import Wandering, plan_wandering
from barwright.analysis.quantities.rotations import from_up
from barwright.analysis.quantities.spans import Span, spans_of

Floats = NDArray[np.float64]
MODEL_HZ = 200.0  # a faster sensor is modelled at this rate: what a sample hides is then far below noise
FAST_HZ, PARTS = 190.0, 8  # below this rate what samples hide is worked out, by the same motion in so many parts
TURNS, QUICK_TURNS = 3, 2  # how the sensor may lie about the bar, for every model
EARTH_RATE = 7.3e-5  # rad/s
# rad/s as a bar rises: half a degree in half a second (common practice, no source)
TILT_RATE = 0.02


@dataclass(frozen=True, slots=True)
class SensorKnown:
    """What is known of one sensor. believed: what the analysis takes for granted (its class, or after calibrating).

    constants (24,): mean of what is left of gyro bias, accelerometer bias and both matrices as in the error model;
    spread (24, 24) their covariance. Noises and walks as in SensorPrior; lost: share of samples; ranges: full scale,
    SI; bandwidth_hz: of its filter, None for none.
    """

    believed: SensorPrior
    constants: Floats
    spread: Floats
    accel_noise: float
    gyro_noise: float
    rate_hz: float
    accel_walk: float = 0.0
    tilt_walk: float = 0.0
    lost: float = 0.0
    accel_range: float | None = None
    gyro_range: float | None = None
    bandwidth_hz: float | None = None

    @property
    def clips(self) -> bool:
        """Whether a modelled lift exceeds the accelerometer's full scale."""
        return self.accel_range is not None and greatest()[0] > self.accel_range


@dataclass(frozen=True, slots=True)
class Mounted:
    """axis (3,): the sensor axis along the bar; place: shaft or sleeve; along_m: from the middle, None when untold."""

    axis: Floats
    place: str = "shaft"
    along_m: float | None = None


def class_known(prior: SensorPrior, rate_hz: float, lost: float = 0.0) -> SensorKnown:
    """A sensor of which only the class is known."""
    spread = np.diag(constant_variances(prior, 1.0, 1.0)[:SHARED])
    return SensorKnown(
        prior, np.zeros(SHARED), spread, prior.accel_noise, prior.gyro_noise, rate_hz, prior.accel_walk,
        prior.tilt_walk, lost,
    )  # fmt: skip


def expected_error(sensor: SensorKnown, mounted: Mounted, lift: str, quick: bool = False) -> float:
    """Root mean square error of a peak velocity, m/s, over how the sensor may lie about the bar and rests may last.

    quick: fewer of both, to compare one sensor with another.
    """
    squares: list[float] = []
    models = lift_models(lift)[: 2 if quick else None]
    turns = QUICK_TURNS if quick else TURNS
    for number, model in enumerate(models):
        for turn in range(turns):
            angle = 2 * np.pi * (turn + number / len(models)) / turns
            squares += _squares(sensor, mounted, model, angle + 0.3, seed=TURNS * number + turn)
    smeared = 0.0 if sensor.bandwidth_hz is None else smear(models[0], sensor.bandwidth_hz)
    return float(np.sqrt(np.mean(squares) + smeared**2))


def smear(model: LiftModel, bandwidth_hz: float) -> float:
    """How much a first-order low pass of this bandwidth takes off the model's peak velocity, m/s."""
    rate = 1000.0
    t: Floats = np.arange(0.0, model.length_s, 1.0 / rate)
    speed = model.velocity(t)
    keep = float(np.exp(-2 * np.pi * bandwidth_hz / rate))
    return float(speed.max() - lfilter([1.0 - keep], [1.0, -keep], speed).max())


def _squares(sensor: SensorKnown, mounted: Mounted, model: LiftModel, turn: float, seed: int) -> list[float]:
    prior, params = sensor.believed, FitParams()
    rate = min(sensor.rate_hz, MODEL_HZ)
    dt = 1.0 / rate
    slow = rate < FAST_HZ
    ideal = felt(model, PARTS * rate if slow else rate, turn)
    to_sensor = _sensor_from_bar(mounted.axis)
    accel, gyro = ideal.accel @ to_sensor.T, ideal.gyro @ to_sensor.T
    fine = (accel, gyro)
    if slow:  # a sample is the mean over its interval
        accel, gyro = (one[: len(one) // PARTS * PARTS].reshape(-1, PARTS, 3).mean(axis=1) for one in fine)
    even = _with_holes(accel, gyro, dt, sensor.lost, seed)
    cut = cut_recording(
        even, SensorSetup(accel_range_m_s2=sensor.accel_range, gyro_range_rad_s=sensor.gyro_range), CutParams()
    )
    extra = cut.extra_velocity_var, cut.extra_tilt_var, even.filled | cut.clipped
    wander = plan_wandering(accel, gyro, dt, prior, *extra)
    rests = tuple(
        Rest(Span(round(one.start_s / dt), min(len(accel), round(one.stop_s / dt))), one.firm) for one in model.rests
    )
    free = mounted.axis if mounted.place == "sleeve" else None
    start = from_up(accel[0])
    nominal = strapdown(accel, gyro, dt, start)
    turning = gyro if free is None else gyro - (gyro @ free)[:, None] * free
    steady = tuple(steadiness(rest, nominal, turning, dt, params.hands) for rest in rests)
    stretch = Stretch(accel, gyro, dt, wander, rests, steady, free)
    at = linearise(stretch, np.zeros(CONSTANTS), start, prior)
    open_sd = np.sqrt(constant_variances(prior, params.tilt_sd, params.velocity_sd))
    solution = solve(stretch, at, tuple(range(len(rests))), ConstantPrior(np.zeros(CONSTANTS), np.diag(open_sd)))
    if model.floor_after_s > 0.0 and free is None:
        solution = _floor_after(solution, to_sensor, turn + 1.7, model.floor_after_s, prior, open_sd)
    rows = at.model.velocity_rows(np.array(model.peaks_s))[:, 2]
    real = replace(
        prior, accel_noise=sensor.accel_noise, gyro_noise=sensor.gyro_noise, accel_walk=sensor.accel_walk,
        tilt_walk=sensor.tilt_walk,
    )  # fmt: skip
    unrest = {
        i: rest_noise(len(one.span) * dt, () if one.firm else HANDS, model.sway_up, real, free is None)
        for i, one in enumerate(rests)
    }
    wanders = plan_wandering(accel, gyro, dt, real, *extra, noise_margin=1.0)
    moments = _Moments.of(sensor, open_sd, wander, wanders, unrest)
    hidden = _hidden(solution, rows, model, fine, PARTS / dt, start) if slow else np.zeros(len(rows))
    place_sd = TOLD_SD_M if mounted.along_m is not None else UNTOLD_SD_M[mounted.place]
    return [
        moments.mean_square(solution, row) + unseen**2 + (place_sd * TILT_RATE) ** 2
        for row, unseen in zip(rows, hidden, strict=True)
    ]


def _hidden(
    solution: Solution, rows: Floats, model: LiftModel, fine: tuple[Floats, Floats], fine_hz: float, start: Floats
) -> Floats:
    """(k,) m/s at the peaks that samples so far apart hide: the same fit on an ideal sensor's slow and fast samples."""
    whole = strapdown(*fine, 1.0 / fine_hz, start)
    slow_hz = fine_hz / PARTS
    late = 0.5 * (PARTS - 1) / fine_hz  # a slow sample stands for the middle of its interval
    wanted = np.zeros(len(solution.wanted))
    net, rate, velocity = whole.acceleration, fine[1], whole.velocity
    for place, number in enumerate(solution.believed):
        span = solution.candidates[number].span
        part = slice(span.start * PARTS, min(len(rate), span.stop * PARTS))
        weights, bent = parabola(part.stop - part.start), quartic(part.stop - part.start)
        wanted[ROWS * place : ROWS * place + ROWS] = -np.concatenate(
            (bent @ net[part], weights @ rate[part], weights @ velocity[part])
        )
    known = slice(0, ROWS * len(solution.believed))
    more = np.zeros(len(wanted))
    more[known] = solution.wanted[known] - wanted[known]
    mixed = rows.copy()
    mixed[:, :CONSTANTS] = rows[:, :CONSTANTS] @ solution.prior.factor
    gained = mixed @ solution.rows.T @ cho_solve(solution.factor, more)
    at = np.array(model.peaks_s)
    t_slow = np.arange(len(solution.at.nominal.velocity)) / slow_hz + late
    slow = CubicSpline(t_slow, solution.at.nominal.velocity[:, 2])(at)
    fast = CubicSpline(np.arange(len(velocity)) / fine_hz, velocity[:, 2])(at)
    begun = np.interp(late, np.arange(len(velocity)) / fine_hz, velocity[:, 2])
    return np.asarray(slow - (fast - begun) + gained)


@dataclass(frozen=True, slots=True)
class _Moments:
    """E[x x'] in the solution's unit coordinates: constants (30, 30), and a factor on each wandering's variance.

    unrest: rest number -> variances (9,) of its rows, NaN where the fit's own is taken.
    """

    constants: Floats
    wandering: Floats
    unrest: dict[int, Floats]

    @classmethod
    def of(
        cls, sensor: SensorKnown, open_sd: Floats, assumed: Wandering, real: Wandering, unrest: dict[int, Floats]
    ) -> _Moments:
        known = np.diag(open_sd**2)
        known[:SHARED, :SHARED] = np.outer(sensor.constants, sensor.constants) + sensor.spread
        shares = [
            np.tile((getattr(real, name) / getattr(assumed, name)) ** 2, 3)
            for name in ("white_sd", "tilt_sd", "walk_sd")
        ]
        return cls(known / np.outer(open_sd, open_sd), np.concatenate(shares), unrest)

    def mean_square(self, solution: Solution, row: Floats) -> float:
        """Of one figure whose sensitivities (columns,) are `row`."""
        mixed = row.copy()
        mixed[:CONSTANTS] = row[:CONSTANTS] @ solution.prior.factor
        rows = solution.rows
        gain = cho_solve(solution.factor, rows @ mixed)
        left = mixed - gain @ rows
        lower = np.tril(solution.factor[0])
        noise = np.einsum("mk,mk->m", lower, lower) - np.einsum("mc,mc->m", rows, rows)
        for number, variances in self.unrest.items():
            known = np.flatnonzero(np.isfinite(variances))
            noise[ROWS * number + known] = variances[known]
        first, rest = left[:CONSTANTS], left[CONSTANTS:]
        return float(first @ self.constants @ first + rest**2 @ self.wandering + gain**2 @ np.maximum(noise, 0.0))


def rest_noise(
    length: float, hands: tuple[tuple[float, float], ...], sway_up: float, real: SensorPrior, with_rate: bool
) -> Floats:
    """(9,) variances of the rows of a rest of `length` s: mean acceleration, rate, velocity.

    Each wave of the hands' sway (none on a floor; its share sway_up up and down), of random phase, passes the rows'
    weights by their Fourier transform; 1.4 and 1.2 are those of white noise. NaN: rates, where the sensor spins on its
    sleeve.
    """
    t = (np.arange(60) + 0.5) * length / 60
    out = np.zeros(9)
    sway = SWAY_M * np.array([1.0, 1.0, sway_up])
    for hz, share in hands:
        omega = 2 * np.pi * hz
        phase = np.exp(1j * omega * t)
        mean, bent = abs(parabola(60) @ phase) ** 2, abs(quartic(60) @ phase) ** 2
        out[0:3] += 0.5 * (sway * share * omega**2) ** 2 * bent
        out[3:6] += 0.5 * (SWAY_RAD * share * omega) ** 2 * mean * np.array([1.0, SPIN_SWAY, 0.7]) ** 2
        out[6:9] += 0.5 * (sway * share * omega) ** 2 * mean
    out[0:3] += 1.4 * integral_var(real.accel_noise) / length
    out[3:6] = out[3:6] + 1.2 * integral_var(real.gyro_noise) / length + EARTH_RATE**2 if with_rate else np.nan
    return out


def _floor_after(
    solution: Solution, to_sensor: Floats, turn: float, seconds: float, prior: SensorPrior, open_sd: Floats
) -> Solution:
    """The dropped bar lies still in another attitude: one more length of gravity and one more rate of nought."""
    up = to_sensor @ np.array([-np.sin(turn), 0.0, np.cos(turn)])
    raw = np.zeros((4, solution.rows.shape[1]))
    raw[0, ACCEL_BIAS] = -up
    raw[0, ACCEL_MATRIX] = -STANDARD_GRAVITY * np.outer(up, up).ravel()
    raw[1:, GYRO_BIAS] = -np.eye(3)
    change = (raw[:, :CONSTANTS] ** 2) @ (CHANGE_SHARE * open_sd) ** 2
    force = NOISE_MARGIN * integral_var(prior.accel_noise) * 1.4 / seconds
    rate = NOISE_MARGIN * integral_var(prior.gyro_noise) * 1.2 / seconds
    noise = np.array([force + 0.001**2, rate, rate, rate])
    return more_rows(solution, raw, np.zeros(4), noise + change + RATE_FLOOR**2)


def _with_holes(accel: Floats, gyro: Floats, dt: float, lost: float, seed: int) -> EvenSamples:
    filled = np.zeros(len(accel), dtype=bool)
    if lost > 0.0:  # evenly, from another place for every model
        every = max(2, round(1.0 / lost))
        filled[(7 + seed * every // 8) % every :: every] = True
    filled[[0, -1]] = False
    t: Floats = np.arange(len(accel), dtype=np.float64) * dt
    return EvenSamples(t, np.hstack((accel, gyro)), filled, dt, 0.0, 0, tuple(spans_of(filled)))


def _sensor_from_bar(axis: Floats) -> Floats:
    """(3, 3) turns bar axes (forward, left, up) into those of a sensor whose `axis` points to the lifter's left."""
    left = axis / np.linalg.norm(axis)
    ahead = np.cross(left, np.eye(3)[int(np.argmin(np.abs(left)))])
    ahead /= np.linalg.norm(ahead)
    return np.stack([ahead, left, np.cross(ahead, left)], axis=1)
