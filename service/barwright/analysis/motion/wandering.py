"""Slow errors no constant describes, as random steps at knots along the recording."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.device_class import NOISE_MARGIN, STANDARD_GRAVITY, SensorPrior, integral_var
from barwright.analysis.quantities.spans import spans_of
from barwright.analysis.quantities.vectors import norms

Floats = NDArray[np.float64]
KNOT_S = 0.4
LOUD_TILT_RAD = (
    0.01  # a step that may be larger than this is put into the attitude itself, not only added to first order
)
LEAST_TILT_RAD = 1e-9  # of a step: a noiseless sensor's covariance must still have a factor
# What fast motion adds that no constant describes (timing, bandwidth, non-linearity), found on recordings with optical
# truth: noise densities in proportion to rate (rad/sqrt(s) per rad/s) and to net force (m/s/sqrt(s) per m/s2)
RATE_SHARE, FORCE_SHARE = 0.0003, 0.0002


@dataclass(frozen=True, slots=True)
class Wandering:
    """Knots (K,): starts and lengths of the intervals in seconds, and where in each the steps are placed.

    white_sd m/s2 over an interval; tilt_sd rad a step, for what is white; walk_sd m/s2 a step of the accelerometer's
    bias. tilt_factor (K, K): lower triangle whose square is the covariance of all steps of tilt, white ones and those a
    gyroscope's wandering zero makes, which are alike for seconds. gyro_walk rad/s/sqrt(s) of that zero.
    """

    knots_s: Floats
    lengths_s: Floats
    steps_s: Floats
    white_sd: Floats
    tilt_sd: Floats
    walk_sd: Floats
    tilt_factor: Floats
    gyro_walk: float

    @property
    def middle_s(self) -> float:
        """When the gyroscope's zero is that of the constants."""
        return float(0.5 * (self.knots_s[-1] + self.lengths_s[-1]))

    @property
    def loud(self) -> NDArray[np.intp]:
        """Knots whose tilt step may be too large to be linear."""
        return np.flatnonzero(self.tilt_sd > LOUD_TILT_RAD)


def plan_wandering(
    accel: Floats,
    gyro: Floats,
    dt: float,
    prior: SensorPrior,
    velocity_var: Floats,
    tilt_var: Floats,
    bridged: NDArray[np.bool_],
    noise_margin: float = NOISE_MARGIN,
) -> Wandering:
    """Knots every KNOT_S, and around every bridged hole or clipped run, so that its error is placed where it arose.

    accel, gyro (n, 3) as measured; velocity_var, tilt_var (n,): what each sample adds to the integrals; noise_margin:
    how many times white noise counts.
    """
    n = len(accel)
    length = max((n - 1) * dt, dt)
    even = np.linspace(0.0, length, max(1, int(np.ceil(length / KNOT_S))) + 1)
    loud = bridged & ((tilt_var > 0.003**2) | (velocity_var > 0.01**2))
    edges = [t for span in spans_of(loud)[:60] for t in (max(0.0, (span.start - 0.5) * dt), (span.stop - 0.5) * dt)]
    bounds = np.unique(np.concatenate((even, np.clip(edges, 0.0, length)))) if edges else even
    bounds = bounds[np.concatenate(([True], np.diff(bounds) > 0.5 * dt))]
    knots, lengths = bounds[:-1], np.diff(bounds)
    which = np.clip(np.searchsorted(bounds, np.arange(n) * dt, side="right") - 1, 0, len(knots) - 1)
    turning = (RATE_SHARE * norms(gyro)) ** 2 * dt
    pushing = (FORCE_SHARE * (norms(accel) - STANDARD_GRAVITY)) ** 2 * dt
    count = len(knots)
    force = noise_margin * integral_var(prior.accel_noise)
    rate = noise_margin * integral_var(prior.gyro_noise) + prior.tilt_walk**2
    velocity = force * lengths + np.bincount(which, velocity_var + pushing, count)
    tilt = rate * lengths + np.bincount(which, tilt_var + turning, count)
    steps = knots + 0.5 * lengths
    return Wandering(
        knots,
        lengths,
        steps,
        np.sqrt(velocity) / lengths,
        np.sqrt(tilt),
        prior.accel_walk * np.sqrt(lengths),
        _tilt_factor(steps - 0.5 * length, lengths, tilt, prior.gyro_walk),
        prior.gyro_walk,
    )


def _tilt_factor(since: Floats, lengths: Floats, white: Floats, walk: float) -> Floats:
    """(K, K) factor of the steps' covariance: white variances (K,) rad2, and a zero that walks away from the middle.

    since (K,) s: the steps' times from the middle. A random walk of `walk` is alike at two times on one side of it as
    far as the nearer one is away (Wiener process); each step turns by the zero times its interval.
    """
    away = np.abs(since)
    shared = np.where(np.sign(since)[:, None] * np.sign(since) > 0, np.minimum(away[:, None], away), 0.0)
    spread = (walk**2) * shared * np.outer(lengths, lengths)
    return np.asarray(np.linalg.cholesky(spread + np.diag(np.maximum(white, LEAST_TILT_RAD**2))))
