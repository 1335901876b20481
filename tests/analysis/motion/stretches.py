"""A stretch of samples to fit: a pull-like tumble between two rests, with what its fit starts from."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from barwright.analysis.motion.device_class import SensorPrior, prior_for
from barwright.analysis.motion.error_model import CONSTANTS, constant_variances
from barwright.analysis.motion.rest_fit import FitParams
from barwright.analysis.motion.rest_rows import steadiness
from barwright.analysis.motion.rest_solve import ConstantPrior, Linearised, Stretch, dead_reckon, linearise
from barwright.analysis.motion.rests import Rest
from barwright.analysis.motion.wandering import plan_wandering
from barwright.analysis.quantities.spans import Span

Floats = NDArray[np.float64]
G = 9.80665
PRIOR: SensorPrior = prior_for("good")
START: Floats = np.array([1.0, 0.0, 0.0, 0.0])
BELIEVED = (0, 1, 2)


def tumble(rate_hz: float = 200.0, seconds: float = 4.0) -> Stretch:
    """Rest on the floor for a second, a turn of two radians with a push and a fall, a held rest, the floor again."""
    t = np.arange(int(seconds * rate_hz)) / rate_hz

    def bell(middle: float, width: float) -> Floats:
        return np.exp(-(((t - middle) / width) ** 2))

    gyro = np.stack((0.4 * bell(1.6, 0.2), 8.0 * bell(1.8, 0.14), -0.3 * bell(1.5, 0.2)), axis=1)
    turn = Rotation.identity()
    up = []
    for w in gyro:
        up.append(turn.inv().apply([0.0, 0.0, 1.0]))
        turn = turn * Rotation.from_rotvec(w / rate_hz)
    push = G + 8.0 * bell(1.4, 0.1) - 8.0 * bell(1.75, 0.1)
    accel = np.array(up) * push[:, None] + np.stack((bell(1.5, 0.1), 0 * t, 0 * t), axis=1)
    spans = ((0.1, 0.9, True), (2.5, 3.0, False), (3.2, 3.8, True))
    rests = tuple(Rest(Span(int(a * rate_hz), int(b * rate_hz)), firm) for a, b, firm in spans)
    quiet = np.zeros(len(t))
    wander = plan_wandering(accel, gyro, 1 / rate_hz, PRIOR, quiet, quiet, quiet > 0)
    bare = Stretch(accel, gyro, 1 / rate_hz, wander, rests)
    nominal, _, rates = dead_reckon(bare, np.zeros(CONSTANTS), START)
    steady = tuple(steadiness(rest, nominal, rates, bare.dt, FitParams().hands) for rest in rests)
    return Stretch(accel, gyro, 1 / rate_hz, wander, rests, steady)


def constant_prior() -> ConstantPrior:
    """Independent constants of a good sensor, any start velocity, a tilt known to about 11 degrees."""
    return ConstantPrior(np.zeros(CONSTANTS), np.diag(np.sqrt(constant_variances(PRIOR, 0.2, 1.5))))


def linearised(stretch: Stretch) -> Linearised:
    """At nought."""
    return linearise(stretch, np.zeros(CONSTANTS), START, PRIOR)
