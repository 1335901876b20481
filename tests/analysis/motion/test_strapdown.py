"""Dead reckoning against an adaptive solver (scipy.integrate) and against the growth laws of inertial errors."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from analysis.truths import G, reckoned_by_ode
from barwright.analysis.motion.strapdown import attitude, integrate_steps, running_integral, strapdown

Floats = NDArray[np.float64]
LEVEL = np.array([1.0, 0.0, 0.0, 0.0])


def tumbling(t: float) -> Floats:
    """Rates of a turnover with wobble, rad/s: up to 9 rad/s within a third of a second."""
    return np.array(
        [
            0.5 * np.sin(7 * t) + 9 * np.exp(-(((t - 1.0) / 0.12) ** 2)),
            0.8 * np.cos(5 * t),
            -0.3 + 0.4 * np.sin(11 * t),
        ]
    )


def pushed(t: float) -> Floats:
    """Specific force of a pull, sensor frame, m/s2."""
    return np.array(
        [
            1.5 * np.sin(6 * t),
            2.0 * np.cos(9 * t),
            G + 12 * np.exp(-(((t - 0.8) / 0.15) ** 2)) - 9 * np.exp(-(((t - 1.1) / 0.1) ** 2)),
        ]
    )


@pytest.mark.parametrize(
    ("rate_hz", "angle", "speed", "way"), [(1000, 1e-6, 3e-6, 5e-6), (416, 3e-5, 1e-4, 1e-4), (200, 5e-4, 2e-3, 2e-3)]
)
def test_dead_reckoning_agrees_with_an_adaptive_solver(rate_hz: float, angle: float, speed: float, way: float) -> None:
    t = np.arange(int(2.5 * rate_hz)) / rate_hz
    start = Rotation.from_rotvec([0.3, -0.2, 1.0]).as_quat(scalar_first=True)
    q, v, p = reckoned_by_ode(tumbling, pushed, t, start)
    rates, forces = np.array([tumbling(k) for k in t]), np.array([pushed(k) for k in t])
    found = attitude(rates, 1 / rate_hz, start)
    apart = Rotation.from_quat(found, scalar_first=True).inv() * Rotation.from_quat(q, scalar_first=True)
    assert apart.magnitude().max() < angle
    told = strapdown(forces, rates, 1 / rate_hz, start)
    assert np.abs(told.velocity - v).max() < speed
    assert np.abs(told.position - p).max() < way
    np.testing.assert_allclose(told.turn, Rotation.from_quat(found, scalar_first=True).as_matrix(), atol=1e-12)


def test_halving_the_step_divides_the_error_by_more_than_eight() -> None:
    """Third order at least: what coning correction and fourth-order increments are for (Savage 1998)."""
    start = LEVEL
    worst = []
    for rate_hz in (100, 200, 400):
        t = np.arange(2 * rate_hz + 1) / rate_hz
        q, _, _ = reckoned_by_ode(tumbling, pushed, t, start)
        found = attitude(np.array([tumbling(k) for k in t]), 1 / rate_hz, start)
        apart = Rotation.from_quat(found, scalar_first=True).inv() * Rotation.from_quat(q, scalar_first=True)
        worst.append(float(apart.magnitude().max()))
    assert worst[0] > 8 * worst[1] > 64 * worst[2]


def test_pure_coning_keeps_its_drift() -> None:
    """A cone of half-angle a swept at w turns the body at w (1 - cos a) about its axis (Goodman and Robinson 1958)."""
    half, w, rate_hz = 0.05, 2 * np.pi * 5, 200.0
    t = np.arange(int(4 * rate_hz)) / rate_hz
    pose = Rotation.from_rotvec(np.stack((half * np.cos(w * t), half * np.sin(w * t), 0 * t), axis=1))
    h = 1e-6
    later = Rotation.from_rotvec(np.stack((half * np.cos(w * (t + h)), half * np.sin(w * (t + h)), 0 * t), axis=1))
    rates = (pose.inv() * later).as_rotvec() / h
    naive = np.abs(np.mean(rates[:, 2]))
    assert naive == pytest.approx(w * (1 - np.cos(half)), rel=1e-3)
    found = Rotation.from_quat(attitude(rates, 1 / rate_hz, pose[0].as_quat(scalar_first=True)), scalar_first=True)
    drift = (found[-1].inv() * pose[-1]).magnitude()
    assert drift < 0.01 * naive * t[-1]


def test_quadrature_is_exact_for_cubics_inside() -> None:
    t = np.linspace(0, 1, 21)
    cubic = np.stack((t**3 - 2 * t, 1 + t**2), axis=1)
    exact = np.stack((t**4 / 4 - t**2, t + t**3 / 3), axis=1)
    np.testing.assert_allclose(integrate_steps(cubic, 0.05)[1:-1], np.diff(exact, axis=0)[1:-1], atol=1e-14)
    np.testing.assert_allclose(running_integral(cubic, 0.05), exact, atol=1e-4)


def test_free_flight_rises_by_v_squared_over_2g() -> None:
    """Ballistics: 1.8 m/s at release rises 0.165 m in 0.184 s."""
    t = np.linspace(0, 1.8 / G, 400)
    flying = strapdown(np.zeros((len(t), 3)), np.zeros((len(t), 3)), float(t[1]), LEVEL)
    height = 1.8 * t + flying.position[:, 2]
    assert height[-1] == pytest.approx(1.8**2 / (2 * G), abs=1e-6)
    assert height[-1] == pytest.approx(0.165, abs=5e-4)
    assert 1.8 + flying.velocity[-1, 2] == pytest.approx(0.0, abs=1e-9)
    assert t[-1] == pytest.approx(0.184, abs=5e-4)


@pytest.mark.parametrize(("milli_g", "after_1_s"), [(1, 0.0098), (5, 0.049), (10, 0.098), (20, 0.196), (40, 0.392)])
def test_a_constant_bias_grows_as_published(milli_g: float, after_1_s: float) -> None:
    """Error growth b t and b t^2 / 2 (Titterton and Weston 2004; Woodman 2007)."""
    n = 1001
    force = np.tile([0.0, 0.0, G * (1 + milli_g * 1e-3)], (n, 1))
    still = strapdown(force, np.zeros((n, 3)), 1e-3, LEVEL)
    assert still.velocity[-1, 2] == pytest.approx(after_1_s, rel=0.01)
    assert still.position[-1, 2] == pytest.approx(0.5 * milli_g * 1e-3 * G, rel=1e-6)


@pytest.mark.parametrize(
    ("degrees", "across", "down"), [(0.5, 0.0856, 0.0004), (1, 0.171, 0.0015), (2, 0.342, 0.0060), (5, 0.855, 0.0373)]
)
def test_a_tilt_error_leaks_gravity_across(degrees: float, across: float, down: float) -> None:
    """g sin and g (1 - cos) of the tilt: why the horizontal path is the hard part."""
    start = Rotation.from_euler("x", degrees, degrees=True).as_quat(scalar_first=True)
    still = strapdown(np.tile([0.0, 0.0, G], (3, 1)), np.zeros((3, 3)), 0.01, start)
    assert np.linalg.norm(still.acceleration[0, :2]) == pytest.approx(across, rel=5e-3)
    assert -still.acceleration[0, 2] == pytest.approx(down, abs=6e-5)


def test_white_noise_walks_with_the_root_of_time() -> None:
    """sigma_v = N sqrt(t), sigma_p = N sqrt(t^3 / 3): 100 ug/sqrt(Hz) is 0.0010 m/s after 1 s, 1.6 mm after 2 s."""
    density, rate_hz, seconds = 100e-6 * G, 200.0, 2.0
    n = int(seconds * rate_hz) + 1
    rng = np.random.default_rng(11)
    runs = []
    for _ in range(400):
        # a two-sided density N^2 means a standard deviation of N sqrt(rate) a sample
        force = np.array([0.0, 0.0, G]) + rng.normal(0, density * np.sqrt(rate_hz), (n, 3))
        still = strapdown(force, np.zeros((n, 3)), 1 / rate_hz, LEVEL)
        runs.append((still.velocity[int(rate_hz)], still.position[-1]))
    velocity, position = (np.std([run[k] for run in runs]) for k in range(2))
    assert velocity == pytest.approx(0.0010, rel=0.08)
    assert position == pytest.approx(1.6e-3, rel=0.08)
