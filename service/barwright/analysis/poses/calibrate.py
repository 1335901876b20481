"""Still poses to a sensor's constants: the whole pure pipeline."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.allan import allan_deviation, bias_instability, density_in_hands, noise_density, together
from barwright.analysis.motion.calibration import SAME, Calibration, Matrix, Vector
from barwright.analysis.motion.device_class import STANDARD_GRAVITY, SensorPrior, prior_for
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.motion.timeline import EvenSamples, even_samples
from barwright.analysis.poses import accel_fit, gyro_fit
from barwright.analysis.poses.found import Agreement, Figures, Noise, PoseSeen, SensorFound, ToldMeans
from barwright.analysis.poses.gain import peak_velocity
from barwright.analysis.poses.pose_words import too_alike_words, words_of
from barwright.analysis.poses.spread import spread_of, too_alike
from barwright.analysis.poses.still_poses import Pose, find_poses, told_pose
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]
GRAVITY_SD = 0.0015  # relative: 9.780 m/s2 at the equator to 9.832 at the poles (WGS 84), anywhere in between
USUAL_POSE_S = 3.0
MOST_POSES = 200
AXES = ("x", "y", "z")
PAIRS = ("xy", "xz", "yz")
ALL_PAIRS = ("xy", "xz", "yx", "yz", "zx", "zy")


def calibrate_recording(parts: Sequence[ImuSamples], setup: SensorSetup, gravity: float | None) -> SensorFound:
    """Constants from a recording in which a sensor was held still in several attitudes, in any order.

    parts: one per device start. gravity: m/s2 where it was recorded; None takes 9.80665 and says so. Raises
    UnusableSamples: no-still-poses, poses-too-alike, no-gravity, too-few-samples, rate-too-low.
    """
    prior = prior_for(setup.device_class)
    even = [even_samples(part.t_s, np.hstack((part.accel_m_s2, part.gyro_rad_s))) for part in parts]
    for one in even:
        _check_gravity(np.linalg.norm(one.values[:, :3], axis=1))
    poses: list[Pose] = []
    offset = 0.0
    for number, one in enumerate(even):
        poses += find_poses(one, prior, number, offset)
        offset += float(one.t_s[-1])
    if not poses:
        raise UnusableSamples(
            "no-still-poses",
            "no moment of about a second was still enough: hold the sensor as still as hands allow for 2 to 4 s in "
            "each attitude, or lay it against something, and turn it to the next one in between",
        )
    return _found(poses[:MOST_POSES], even, prior, setup, gravity)


def calibrate_means(
    means: Sequence[ToldMeans], rate_hz: float | None, setup: SensorSetup, gravity: float | None
) -> SensorFound:
    """Constants from the means of several poses. rate_hz: of the samples; without it each pose is taken to last 3 s.

    Raises UnusableSamples: poses-too-alike, no-gravity.
    """
    prior = prior_for(setup.device_class)
    size = np.array([np.linalg.norm(one.force) for one in means])
    _check_gravity(size)
    for number in np.flatnonzero(np.abs(size / STANDARD_GRAVITY - 1.0) > 0.5)[:1]:
        raise UnusableSamples(
            "no-gravity",
            f"pose number {number + 1} reads {size[number]:.3g} m/s2; a sensor held still reads about 9.8",
        )
    poses = [
        told_pose(
            np.array(one.force),
            np.array(one.rate),
            one.samples,
            USUAL_POSE_S if rate_hz is None else max(0.2, one.samples / rate_hz),
            prior,
        )
        for one in means
    ]
    return _found(poses, [], prior, setup, gravity)


def _found(
    poses: list[Pose], even: list[EvenSamples], prior: SensorPrior, setup: SensorSetup, gravity: float | None
) -> SensorFound:
    here = STANDARD_GRAVITY if gravity is None else gravity
    accel = accel_fit.fit_accel(poses, here, prior, GRAVITY_SD if gravity is None else 0.0)
    used = [i for i in range(len(poses)) if i not in accel.dropped]
    spread = spread_of([poses[i] for i in used], accel)
    if too_alike(spread):
        raise UnusableSamples("poses-too-alike", too_alike_words(len(poses), spread))
    turns = gyro_fit.turns_between(poses, even, setup.gyro_range_rad_s, frozenset(used))
    gyro = gyro_fit.fit_gyro(poses, turns, accel, prior)
    calibration = _calibration(accel, gyro, here)
    true = accel_fit.corrected(accel.theta, np.array([pose.force for pose in poses]))
    seen = tuple(
        PoseSeen(
            pose.start_s, pose.stop_s, pose.samples, _vector(up / np.linalg.norm(up)), float(miss), number in used
        )
        for number, (pose, up, miss) in enumerate(zip(poses, true, accel.misses, strict=True))
    )  # fmt: skip
    agreement = Agreement(accel.chi_square, accel.freedom, accel.probability, accel.widened)
    return SensorFound(
        calibration=calibration,
        accel=_accel_figures(accel),
        gyro=_gyro_figures(gyro, bool(even)),
        turns=gyro.turns,
        poses=seen,
        spread=spread,
        agreement=agreement,
        noise=noise_of(poses, even),
        peak_before=peak_velocity(prior, None),
        peak_after=peak_velocity(prior, calibration),
        gravity_told=gravity is not None,
        words=words_of(seen, spread, agreement, gyro.turns, gravity is not None),
    )


def _check_gravity(size: Floats) -> None:
    middle = float(np.median(size))
    if not 0.7 * STANDARD_GRAVITY < middle < 1.4 * STANDARD_GRAVITY:
        raise UnusableSamples(
            "no-gravity",
            f"the accelerometer reads {middle:.3g} m/s2 most of the time; held still it must read about 9.8 in every "
            'attitude: declare its unit ("m/s2", "[g]", "m[g]"), and leave gravity in',
        )


def _calibration(accel: accel_fit.AccelFit, gyro: gyro_fit.GyroFit, gravity: float) -> Calibration:
    sd, turning = accel.sd, gyro.sd[gyro_fit.MATRIX].reshape(3, 3)
    shown = gyro.turns > 0
    square = np.eye(3) + gyro.theta[gyro_fit.MATRIX].reshape(3, 3)
    return Calibration(
        accel_bias=_vector(accel.theta[accel_fit.BIAS]),
        accel_matrix=_matrix(accel_fit.matrix(accel.theta)),
        gyro_bias=_vector(gyro.theta[gyro_fit.BIAS]),
        gyro_matrix=_matrix(square) if shown else SAME,
        accel_bias_sd=float(sd[accel_fit.BIAS].max()),
        accel_scale_sd=float(sd[accel_fit.SCALE].max()),
        accel_cross_sd=float(sd[accel_fit.CROSS].max()),
        gyro_bias_sd=float(gyro.sd[gyro_fit.BIAS].max()),
        gyro_scale_sd=float(np.diag(turning).max()) if shown else None,
        gyro_cross_sd=float((turning - np.diag(np.diag(turning))).max()) if shown else None,
        gravity=gravity,
    )


def _accel_figures(fit: accel_fit.AccelFit) -> dict[str, Figures]:
    return {
        "bias": _figures(AXES, fit.theta[accel_fit.BIAS], fit.sd[accel_fit.BIAS], "m/s2"),
        "scale": _figures(AXES, fit.theta[accel_fit.SCALE], fit.sd[accel_fit.SCALE], "1"),
        "cross_axis": _figures(PAIRS, fit.theta[accel_fit.CROSS], fit.sd[accel_fit.CROSS], "1"),
    }


def _gyro_figures(fit: gyro_fit.GyroFit, recorded: bool) -> dict[str, Figures]:
    bias = _figures(AXES, fit.theta[gyro_fit.BIAS], fit.sd[gyro_fit.BIAS], "rad/s")
    if not fit.turns:
        why = (
            "no turn between two poses was recorded without a hole, below full scale and within 20 s"
            if recorded
            else "still poses do not show it: send a recording that holds the turns between them"
        )
        none = unknown("1", why)
        return {"bias": bias, "scale": dict.fromkeys(AXES, none), "cross_axis": dict.fromkeys(ALL_PAIRS, none)}
    value, sd = (x[gyro_fit.MATRIX].reshape(3, 3) for x in (fit.theta, fit.sd))
    off = ~np.eye(3, dtype=bool)
    return {
        "bias": bias,
        "scale": _figures(AXES, np.diag(value), np.diag(sd), "1"),
        "cross_axis": _figures(ALL_PAIRS, value[off], sd[off], "1"),
    }


def noise_of(poses: Sequence[Pose], even: Sequence[EvenSamples]) -> Noise | None:
    """Noise of the longest pose that was laid down, else of the longest in hands; None without samples."""
    if not even:
        return None
    longest = max(poses, key=lambda pose: (pose.firm, pose.samples * even[pose.part].period_s))
    assert longest.span is not None
    assert longest.start_s is not None
    assert longest.stop_s is not None
    one = even[longest.part]
    if not longest.firm:
        values = one.values[longest.span.as_slice()]
        hands = "hands do not hold still for it: lay the sensor down for some minutes"
        return Noise(
            density_in_hands(values[:, :3], one.rate_hz, "m/s2"),
            unknown("m/s2", hands),
            density_in_hands(values[:, 3:], one.rate_hz, "rad/s"),
            unknown("rad/s", hands),
            longest.start_s,
            longest.stop_s,
        )
    curves = [allan_deviation(column, one.rate_hz) for column in one.values[longest.span.as_slice()].T]
    accel, gyro = together(curves[:3]), together(curves[3:])
    return Noise(
        noise_density(accel, "m/s2"),
        bias_instability(accel, "m/s2"),
        noise_density(gyro, "rad/s"),
        bias_instability(gyro, "rad/s"),
        longest.start_s,
        longest.stop_s,
    )


def _figures(names: Sequence[str], values: Floats, sd: Floats, unit: str) -> Figures:
    return {name: Estimate(float(v), float(u), unit) for name, v, u in zip(names, values, sd, strict=True)}


def _vector(x: Floats) -> Vector:
    return float(x[0]), float(x[1]), float(x[2])


def _matrix(x: Floats) -> Matrix:
    return _vector(x[0]), _vector(x[1]), _vector(x[2])
