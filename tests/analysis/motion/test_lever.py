"""A sensor far out on a bar that tilts: what its place, when told, takes out of the path."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barsim import Unmodelled, simulate
from barwright.analysis.motion.lever import Lever, at_middle, swing_force, swing_of
from barwright.analysis.motion.strapdown import Strapdown, attitude
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.rotations import matrices
from barwright.analysis.reps.set_analysis import analyse_set

OUT = Unmodelled(outboard_m=0.75, tilt_deg=3.5)


def peak_errors(told: bool, place: str) -> tuple[np.ndarray, np.ndarray]:
    errors, sds = [], []
    for seed in range(6):
        one = simulate("snatch", seed=seed, device="good", unmodelled=replace(OUT, place_told=told))
        setup = replace(one.recording.setup, place=place)
        (rep,) = analyse_set(replace(one.recording, setup=setup), LIFTS["snatch"]).reps
        figure = rep.measures["peak_velocity"]
        assert figure.value is not None
        assert figure.u is not None
        errors.append(figure.value - one.truth.reps[0].measures["peak_velocity"])
        sds.append(figure.u)
    return np.array(errors), np.array(sds)


def test_a_told_place_takes_the_tilting_out() -> None:
    told, _ = peak_errors(told=True, place="shaft")
    untold, _ = peak_errors(told=False, place="shaft")
    assert np.sqrt(np.mean(told**2)) < 0.012
    assert np.sqrt(np.mean(told**2)) < 0.5 * np.sqrt(np.mean(untold**2))


def test_an_untold_place_on_a_sleeve_widens_u_until_it_covers() -> None:
    errors, sds = peak_errors(told=False, place="sleeve")
    assert np.all(np.abs(errors) < 3 * sds)
    assert np.mean(sds) > 0.02


def test_rests_are_those_of_the_middle_where_the_place_is_told() -> None:
    """Hands turn a bar by half a degree: 0.75 m out the sensor goes up and down by 6 mm, which is no rest at all."""
    one = simulate("back_squat", seed=4, device="good", reps=3, unmodelled=OUT)
    answer = analyse_set(one.recording, LIFTS["back_squat"])
    assert [rep.outcome for rep in answer.reps] == ["made"] * 3
    for rep, true in zip(answer.reps, one.truth.reps, strict=True):
        assert rep.measures["peak_velocity"].value == pytest.approx(true.measures["peak_velocity"], abs=0.02)
        assert rep.measures["range_of_motion"].value == pytest.approx(true.measures["range_of_motion"], abs=0.015)


def test_dead_reckoning_moves_to_the_middle_of_a_rigid_bar() -> None:
    """Rigid body: a sensor 0.7 m out on a tilting bar swings by w x r; the middle stays (mechanics)."""
    dt, arm = 0.002, np.array([0.0, 0.7, 0.0])
    t = np.arange(0, 2, dt)
    rate = np.zeros((len(t), 3))
    rate[:, 0] = 0.05 * 2 * np.pi * np.cos(2 * np.pi * t)
    q = attitude(rate, dt, np.array([1.0, 0.0, 0.0, 0.0]))
    turn = matrices(q)
    place = turn @ arm
    velocity = np.gradient(place, dt, axis=0, edge_order=2)
    force = np.gradient(velocity, dt, axis=0, edge_order=2) + np.array([0.0, 0.0, 9.80665])
    sensor = Strapdown(turn, force, velocity - velocity[0], place - place[0] - velocity[0] * t[:, None])
    middle = at_middle(sensor, swing_of(sensor, rate, arm, dt), arm, dt)
    inner = slice(20, -20)
    assert middle.velocity[inner] - middle.velocity[20] == pytest.approx(0.0, abs=0.003)
    assert middle.acceleration[inner] == pytest.approx(0.0, abs=0.02)
    assert np.ptp(sensor.velocity[:, 2]) > 0.4


def test_a_rigid_bar_turning_about_its_middle_leaves_the_middle_still() -> None:
    """Rigid body: the sensor at L b(t) moves by the change of L b alone (mechanics)."""
    t = np.arange(0, 1, 0.001)
    angle = 0.05 * np.sin(2 * np.pi * t)
    along = np.column_stack((np.zeros_like(t), np.cos(angle), np.sin(angle)))
    position = 0.7 * along
    velocity = np.gradient(position, t, axis=0)
    lever = Lever(t, along, 0.7, 0.01)
    left = lever.middle_of_bar(velocity, position, np.gradient(velocity, t, axis=0))
    for part in left:
        assert part == pytest.approx(0.0, abs=1e-9)


def test_the_force_of_a_swinging_sensor_is_that_of_a_rigid_body() -> None:
    """A bar that turns by half a degree about 1 Hz, its middle still: r w' and r w^2 at the sensor (mechanics)."""
    dt, arm = 0.0025, np.array([0.0, 0.9, 0.0])
    t = np.arange(0, 3, dt)
    angle, omega = np.radians(0.5), 2 * np.pi
    rate = np.zeros((len(t), 3))
    rate[:, 0] = angle * omega * np.cos(omega * t)
    felt = swing_force(rate, arm, dt)[20:-20]
    inner = t[20:-20]
    assert felt[:, 2] == pytest.approx(-0.9 * angle * omega**2 * np.sin(omega * inner), abs=0.01)
    assert felt[:, 1] == pytest.approx(-0.9 * rate[20:-20, 0] ** 2, abs=1e-4)
