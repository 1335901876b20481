"""Where a recording holds still poses, and what the sensor read in each."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior, integral_var
from barwright.analysis.motion.rest_rows import RATE_FLOOR, SWAY_HZ, HandParams, parabola, steadiness
from barwright.analysis.motion.rests import Rest, RestParams, find_candidates
from barwright.analysis.motion.strapdown import attitude, reckon
from barwright.analysis.motion.timeline import EvenSamples
from barwright.analysis.quantities.rotations import from_up, matrices, multiply
from barwright.analysis.quantities.spans import Span, spans_of
from barwright.analysis.quantities.vectors import angle_between

Floats = NDArray[np.float64]
# A pose is held longer and stiller than a bar before a lift; hands that sway by half a degree turn at 0.04 rad/s.
POSE_RESTS = RestParams(held_rate=0.15, shortest_s=0.8, edge_s=0.15)
ONE_POSE_RAD = np.radians(6.0)  # pieces on both sides of a twitch are one pose when they point alike
ONE_POSE_S = 0.5  # and lie no further apart
HIDDEN_SWAY = 3.5  # s2: a cubic through a pose of T seconds hides the slower part of its sway
USUAL_SWAY, USUAL_LEAN = 0.003, np.radians(0.5)  # m, rad rms (common practice, no source)
FORCE_FLOOR = 0.001  # m/s2: what no model of sway and noise accounts for
CONJUGATE = np.array([1.0, -1.0, -1.0, -1.0])


@dataclass(frozen=True, slots=True)
class Pose:
    """One still pose. force (3,) m/s2 and rate (3,) rad/s: mean readings, sensor errors and all, in the sensor frame at
    the pose's mean attitude.

    force_sd m/s2: of the mean along gravity; level_sd rad: of its direction; rate_sd rad/s. to_middle (3, 3): from the
    mean attitude's frame to that at the middle sample. span: samples of its part of the recording, None when only means
    were told; start_s, stop_s: seconds since the recording's first sample.
    """

    force: Floats
    rate: Floats
    force_sd: float
    level_sd: float
    rate_sd: float
    samples: int
    firm: bool = False
    to_middle: Floats | None = None
    part: int = 0
    span: Span | None = None
    start_s: float | None = None
    stop_s: float | None = None

    @property
    def middle(self) -> int:
        """The pose's middle sample."""
        assert self.span is not None
        return (self.span.start + self.span.stop) // 2

    @property
    def direction(self) -> Floats:
        """(3,) the sensor-frame direction that pointed up, near enough to tell poses apart."""
        return np.asarray(self.force / np.linalg.norm(self.force))


def find_poses(even: EvenSamples, prior: SensorPrior, part: int = 0, offset_s: float = 0.0) -> list[Pose]:
    """Every still pose of an even (n, 6) recording of force and rate, in order."""
    accel, gyro, dt = even.values[:, :3], even.values[:, 3:], even.period_s
    usable = ~even.filled
    for hole in spans_of(even.filled):
        usable[hole.as_slice()] = len(hole) * dt <= 0.05
    rests = _joined(find_candidates(accel, gyro, dt, usable, prior, POSE_RESTS), accel, dt)
    if not rests:
        return []
    bias = np.median([gyro[rest.span.as_slice()].mean(axis=0) for rest in rests], axis=0)
    means = [_mean(accel[rest.span.as_slice()], gyro[rest.span.as_slice()], bias, dt) for rest in rests]
    held = [mean for mean, rest in zip(means, rests, strict=True) if not rest.firm]
    hands = _Mean.usual_unrest(held)
    poses = []
    for rest, mean in zip(rests, means, strict=True):
        start, stop = offset_s + rest.span.start * dt, offset_s + rest.span.stop * dt
        pose = mean.pose(prior, rest.firm, (0.0, 0.0) if rest.firm else hands)
        poses.append(replace(pose, part=part, span=rest.span, start_s=start, stop_s=stop))
    return poses


@dataclass(frozen=True, slots=True)
class _Mean:
    """Means of one pose with the sway (m, rms of an axis) and the lean (rad, rms) seen in it."""

    force: Floats
    rate: Floats
    seconds: float
    samples: int
    to_middle: Floats
    density: float  # of the accelerometer's noise, m/s2/sqrt(Hz)
    sway: float
    lean: float

    @staticmethod
    def usual_unrest(means: list[_Mean]) -> tuple[float, float]:
        """(sway, lean) of the same hands over all poses, better known than from each alone.

        Short poses show the size of a slow sway to a third at best; what hands usually do is known about as well.
        """
        if not means:
            return 0.0, 0.0
        shown = np.array([1.0 / (1.0 + HIDDEN_SWAY / mean.seconds**2) for mean in means])
        sway = np.sqrt(np.sum([mean.sway**2 for mean in means]) / np.sum(shown**2))
        sway = max(np.sqrt(sway * USUAL_SWAY), 0.7 * sway)
        return float(sway), float(np.sqrt(np.mean([mean.lean**2 for mean in means])))

    def pose(self, prior: SensorPrior, firm: bool, hands: tuple[float, float]) -> Pose:
        """With the uncertainty of the weighted means: of a sway of rms s they keep at most sqrt(2) 6 s / T^2."""
        squared = self.seconds**2
        sway = 9.0 * (hands[0] if self.sway < 2.0 * hands[0] else self.sway) / squared
        rate = 5.0 * (hands[1] if self.lean < 2.0 * hands[1] else self.lean) / squared
        noise = 1.2 * integral_var(max(prior.accel_noise, self.density)) / self.seconds + FORCE_FLOOR**2
        sd = float(np.sqrt(sway**2 + noise))
        rate_sd = float(np.sqrt(rate**2 + 1.2 * integral_var(prior.gyro_noise) / self.seconds + RATE_FLOOR**2))
        return Pose(self.force, self.rate, sd, sd / STANDARD_GRAVITY, rate_sd, self.samples, firm, self.to_middle)


def _mean(accel: Floats, gyro: Floats, bias: Floats, dt: float) -> _Mean:
    """Force is turned to the mean attitude before it is averaged, so that a swaying hand does not shorten it and the
    bias, which does not turn, cancels; a parabola's weights make the sway's own acceleration nearly cancel too (see
    rest_rows.parabola).
    """
    n = len(accel)
    weights = parabola(n)
    turned = attitude(gyro - bias, dt, np.array([1.0, 0.0, 0.0, 0.0]))
    for _ in range(2):
        middle = np.concatenate(([1.0], (weights @ turned)[1:]))  # turns of a degree: halves of their vectors add up
        turned = multiply(middle / np.linalg.norm(middle) * CONJUGATE, turned)
    lean = matrices(turned)
    force = weights @ np.matmul(lean, accel[:, :, None])[:, :, 0]
    nominal = reckon(accel, multiply(from_up(force), turned), dt)
    how = steadiness(Rest(Span(0, n), False), nominal, gyro, dt, HandParams(0.0, 0.0))
    seconds = n * dt
    return _Mean(
        force=force,
        rate=weights @ gyro,
        seconds=seconds,
        samples=n,
        to_middle=lean[n // 2].T,
        density=float(np.sqrt(np.var(np.diff(accel, axis=0), axis=0).max() * dt)),
        sway=float(np.sqrt(np.mean(how.sway**2))),
        lean=how.lean,
    )


def told_pose(force: Floats, rate: Floats, samples: int, seconds: float, prior: SensorPrior) -> Pose:
    """A pose of which only plain means are known: what hands do is taken as usual, 3 mm and half a degree.

    A plain mean of a sway of amplitude rms s over T seconds is wrong by about sqrt(2) 2 pi f s / T, and its size is
    short by half the square of the lean.
    """
    sway = np.sqrt(2.0) * 2.0 * np.pi * SWAY_HZ * USUAL_SWAY / seconds
    lean = USUAL_LEAN
    noise = integral_var(prior.accel_noise) / seconds + FORCE_FLOOR**2
    short = 0.5 * lean**2 * STANDARD_GRAVITY
    return Pose(
        force=force,
        rate=rate,
        force_sd=float(np.sqrt(sway**2 + short**2 + noise)),
        level_sd=float(np.sqrt(sway**2 + noise)) / STANDARD_GRAVITY,
        rate_sd=float(np.sqrt(2.0 * (lean / seconds) ** 2 + integral_var(prior.gyro_noise) / seconds + RATE_FLOOR**2)),
        samples=samples,
    )


def _joined(rests: list[Rest], accel: Floats, dt: float) -> list[Rest]:
    """Rests with the pieces of one pose put together."""
    out: list[Rest] = []
    for rest in rests:
        if out and (rest.span.start - out[-1].span.stop) * dt < ONE_POSE_S:
            before, here = accel[out[-1].span.as_slice()].mean(axis=0), accel[rest.span.as_slice()].mean(axis=0)
            if angle_between(before, here) < ONE_POSE_RAD:
                last = out.pop()
                rest = Rest(Span(last.span.start, rest.span.stop), last.firm and rest.firm)
        out.append(rest)
    return out
