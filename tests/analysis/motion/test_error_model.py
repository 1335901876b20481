"""Sensitivities against finite differences of dead reckoning, and noise against the growth laws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import periodogram
from scipy.spatial.transform import Rotation

from analysis.motion.stretches import PRIOR, START, G, linearised, tumble
from barwright.analysis.motion.error_model import CONSTANTS, ErrorModel, build_error_model
from barwright.analysis.motion.rest_solve import dead_reckon
from barwright.analysis.motion.strapdown import strapdown
from barwright.analysis.motion.wandering import plan_wandering

Floats = NDArray[np.float64]
STRETCH = tumble()
AT = linearised(STRETCH)
ARM = np.array([0.1, 0.8, -0.2])  # m, sensor frame
NODES = np.rint(AT.model.t_s / STRETCH.dt).astype(int)


@pytest.mark.parametrize("constant", range(CONSTANTS))
def test_every_constant_moves_the_solution_as_its_column_says(constant: int) -> None:
    step = np.zeros(CONSTANTS)
    step[constant] = 1e-5
    more, less = dead_reckon(STRETCH, step, START)[0], dead_reckon(STRETCH, -step, START)[0]
    velocity, position = (
        (a - b)[NODES] / 2e-5 for a, b in ((more.velocity, less.velocity), (more.position, less.position))
    )
    acceleration = (more.acceleration - less.acceleration)[NODES] / 2e-5
    turned = Rotation.from_matrix(more.turn[NODES]) * Rotation.from_matrix(less.turn[NODES]).inv()
    unit = np.eye(CONSTANTS)[constant]
    at_rest = AT.model.accel_at(AT.model.t_s, np.zeros(3)).constants[:, :, constant]
    place = AT.nominal.turn[NODES] @ ARM
    arm_ends = np.stack([AT.model.swing_rows(AT.model.t_s, place, axis)[:, constant] for axis in np.eye(3)], axis=1)
    for name, found, expected in (
        ("tilt", AT.model.turned_by(unit), turned.as_rotvec() / 2e-5),
        ("acceleration", AT.model.pushed_by(unit), acceleration),
        ("acceleration at moments", at_rest, acceleration),
        ("end of an arm", arm_ends, (more.turn - less.turn)[NODES] @ ARM / 2e-5),
        ("velocity", AT.model.velocity[:, :, constant], velocity),
        ("position", AT.model.position[:, :, constant], position),
    ):
        size = max(float(np.abs(expected).max()), 1e-3)
        np.testing.assert_allclose(found, expected, atol=4e-3 * size, err_msg=name)


@pytest.mark.parametrize("kind", ["white", "tilt", "walk"])
def test_every_wandering_step_moves_the_solution_as_its_column_says(kind: str) -> None:
    wander, k = AT.model.wander, 4
    count = len(wander.knots_s)
    t = np.arange(len(STRETCH.accel)) * STRETCH.dt
    at = np.array([wander.knots_s[k] + 0.1, 1.7, 2.2, 3.9])
    rows_v, rows_p = AT.model.velocity_rows(at), AT.model.position_rows(at)
    nominal = AT.nominal
    place = np.stack([np.interp(at, t, (nominal.turn @ ARM)[:, k]) for k in range(3)], axis=1)
    rows_a = np.stack([AT.model.swing_rows(at, place, axis) for axis in np.eye(3)], axis=1)
    for axis in range(3):
        size, jolts, push = 1e-5, None, np.zeros((len(t), 3))
        if kind == "white":  # a force over one interval
            scale, column = wander.white_sd[k], CONSTANTS + axis * count + k
            push[(t >= wander.knots_s[k]) & (t < wander.knots_s[k] + wander.lengths_s[k]), axis] = size * scale
        elif kind == "walk":  # a force from a moment on
            scale, column = wander.walk_sd[k], CONSTANTS + (6 + axis) * count + k
            push[t >= wander.steps_s[k], axis] = size * scale
        else:  # a turn at a moment
            column = CONSTANTS + (3 + axis) * count + k
            jolts = np.zeros((count, 3))
            jolts[:, axis] = size * wander.tilt_factor[:, k]  # a zero that has walked turns the later steps as well
        accel = STRETCH.accel + np.einsum("nji,nj->ni", nominal.turn, push)
        moved = dead_reckon(replace(STRETCH, accel=accel), np.zeros(CONSTANTS), START, jolts)[0]
        for rows, now, before in (
            (rows_v, moved.velocity, nominal.velocity),
            (rows_p, moved.position, nominal.position),
            (rows_a, moved.turn @ ARM, nominal.turn @ ARM),
        ):
            change = np.stack([np.interp(at, t, (now - before)[:, j] / size) for j in range(3)], axis=1)
            # the step falls between two samples
            np.testing.assert_allclose(rows[:, :, column], change, atol=0.03 * np.abs(change).max() + 1e-9)


def test_corrections_are_the_rows_times_the_weights() -> None:
    weights = np.random.default_rng(3).normal(size=AT.model.columns)
    weights[:CONSTANTS] *= 1e-2
    velocity, position, _ = AT.model.corrections(weights)
    t = AT.model.t_s[5::20]
    for rows, found in ((AT.model.velocity_rows(t), velocity), (AT.model.position_rows(t), position)):
        expected = np.einsum("mac,c->ma", rows, weights)
        np.testing.assert_allclose(found[5::20], expected, atol=0.01 * np.abs(expected).max())


def still_model(walk: float, seconds: float) -> ErrorModel:
    """The error model of a sensor at rest with white force noise alone, of the velocity random walk N, m/s/sqrt(s)."""
    n = int(seconds * 100) + 1
    accel, gyro, quiet = np.tile([0.0, 0.0, G], (n, 1)), np.zeros((n, 3)), np.zeros(n)
    density = np.sqrt(2) * walk  # one-sided, as sensors' data sheets give it (IEEE Std 952-1997, annex C)
    noise = replace(PRIOR, accel_noise=density, accel_walk=0.0, gyro_noise=0.0, tilt_walk=0.0)
    wander = plan_wandering(accel, gyro, 0.01, noise, quiet, quiet, quiet > 0, noise_margin=1.0)
    return build_error_model(strapdown(accel, gyro, 0.01, START), accel, gyro, 0.01, wander)


@pytest.mark.parametrize(
    ("micro_g", "velocity", "position"),
    [(60, 0.0006, 0.96), (100, 0.0010, 1.6), (160, 0.0016, 2.6), (220, 0.0022, 3.5)],
)
def test_white_noise_grows_as_published(micro_g: float, velocity: float, position: float) -> None:
    """N sqrt(t) m/s at 1 s and N sqrt(t^3 / 3) at 2 s, in mm (Titterton and Weston 2004; Woodman 2007).

    N is the random walk, in micro-g times sqrt(s) here.
    """
    v = still_model(micro_g * 1e-6 * G, 1.0).velocity_rows(np.array([1.0]))[0, 2, CONSTANTS:]
    p = still_model(micro_g * 1e-6 * G, 2.0).position_rows(np.array([2.0]))[0, 2, CONSTANTS:]
    assert np.linalg.norm(v) == pytest.approx(velocity, abs=6e-5)
    assert 1000 * np.linalg.norm(p) == pytest.approx(position, rel=0.03)


def test_noise_of_a_one_sided_density_grows_as_drawn_samples_do() -> None:
    """Samples whose one-sided spectrum (scipy's periodogram) is n^2, summed over 4 s: the spread of 1000 such sums is
    known to 2.2 %, so that 10 % is never left by chance, and a wrong factor of sqrt(2) always is.
    """
    density, length, rate = 150e-6 * G, 4.0, 200.0
    rng = np.random.default_rng(12)
    samples = rng.normal(0.0, 1.0, (1000, int(length * rate)))
    _, power = periodogram(samples, rate, scaling="density", detrend=False)
    samples *= density / np.sqrt(power[:, 1:-1].mean())
    drawn = (samples.sum(axis=1) / rate).std()
    noise = replace(PRIOR, accel_noise=density, gyro_noise=density, accel_walk=0.0, tilt_walk=0.0)
    n = samples.shape[1] + 1
    accel, gyro, quiet = np.tile([0.0, 0.0, G], (n, 1)), np.zeros((n, 3)), np.zeros(n)
    wander = plan_wandering(accel, gyro, 1 / rate, noise, quiet, quiet, quiet > 0, noise_margin=1.0)
    assert np.sqrt(np.sum((wander.white_sd * wander.lengths_s) ** 2)) == pytest.approx(drawn, rel=0.1)
    assert np.sqrt(np.sum(wander.tilt_sd**2)) == pytest.approx(drawn, rel=0.1)


def test_a_wandering_zero_of_the_gyroscope_turns_the_bar_as_drawn_walks_do() -> None:
    """Random walks of the zero of K rad/s/sqrt(s), summed: the angle between two times, against 4000 drawn ones.

    From a zero known in the middle of 20 s the angle to the end spreads by K sqrt(T^3 / 3), T = 10 s (Wiener process).
    """
    walk, rate, half = np.radians(0.01), 20.0, 10.0
    n = int(2 * half * rate) + 1
    accel, gyro, quiet = np.tile([0.0, 0.0, G], (n, 1)), np.zeros((n, 3)), np.zeros(n)
    noise = replace(PRIOR, gyro_noise=0.0, tilt_walk=1e-9, gyro_walk=walk)
    wander = plan_wandering(accel, gyro, 1 / rate, noise, quiet, quiet, quiet > 0, noise_margin=1.0)
    rng = np.random.default_rng(15)
    zero = np.cumsum(rng.normal(0.0, walk / np.sqrt(rate), (4000, int(half * rate))), axis=1)
    angle = np.cumsum(zero, axis=1) / rate
    later = wander.steps_s > half
    for steps, drawn in ((later, angle[:, -1]), (later & (wander.steps_s < 14.0), angle[:, int(4 * rate) - 1])):
        told = np.sqrt(np.sum((wander.tilt_factor[steps].sum(axis=0)) ** 2))
        assert told == pytest.approx(drawn.std(), rel=0.06)
    assert drawn.std() < angle[:, -1].std() == pytest.approx(walk * np.sqrt(half**3 / 3), rel=0.05)


def test_between_two_rests_white_noise_peaks_half_way() -> None:
    """Pinned at both ends of T the residual is N sqrt(T) / 2 in the middle (Brownian bridge)."""
    walk, length = 100e-6 * G, 4.0
    model = still_model(walk, length)
    t = np.array([1.2, 2.0, 2.8])
    rows = model.velocity_rows(np.append(t, length))[:, 2, CONSTANTS:]
    shared = rows @ rows.T
    left = np.diag(shared)[:3] - shared[:3, 3] ** 2 / shared[3, 3]
    np.testing.assert_allclose(np.sqrt(left), walk * np.sqrt(t * (length - t) / length), rtol=1e-6)


def test_a_constant_bias_is_a_straight_line_in_velocity() -> None:
    """So that a line between two rests takes it off exactly."""
    model = still_model(1e-4, 3.0)
    line = model.velocity[:, 2, 5]
    np.testing.assert_allclose(line, -model.t_s, atol=1e-12)
