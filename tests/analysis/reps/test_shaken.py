"""How far a swinging error moves a peak, against theory for sharp, flat and double peaks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.reps.shapes import from_velocity
from barwright.analysis.motion.bar_motion import Motion, Shake
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.find_reps import find_reps
from barwright.analysis.reps.measures import measure_rep
from barwright.analysis.reps.shaken import crossing_u, peak_time_u, shaken_peak_u, shaken_velocity

Floats = NDArray[np.float64]
SQUAT = LIFTS["back_squat"]
LOWERED = [(1.0, 0.0), (1.6, -0.6), (2.2, 0.0)]
SHARP = [*LOWERED, (2.5, 0.6), (2.9, 0.0)]


def shaken(motion: Motion, velocity_sd: float, hz: float, ring: bool = True) -> Motion:
    """With a swing of one size all along."""
    n, turn = len(motion.t_s), 2 * np.pi * hz
    same = np.full(n, velocity_sd)
    return replace(motion, shake=Shake(same, turn * same, same / turn), ring_hz=hz if ring else None)


def spread_of_peak(motion: Motion) -> float:
    (window,) = find_reps(motion, SQUAT)
    return shaken_peak_u(motion, window.rise, float(motion.t_s[window.rise.fastest]))


def test_the_swings_have_the_sizes_they_are_to_have() -> None:
    motion = shaken(from_velocity(SHARP, 5.0), 0.02, 7.0)
    found = shaken_velocity(motion, slice(1000, 4000))
    assert found is not None
    swing = found - motion.velocity[1000:4000, 2]
    assert np.sqrt(np.mean(swing**2)) == pytest.approx(0.02, rel=0.01)
    assert np.sqrt(np.mean(np.gradient(swing, motion.dt, axis=1) ** 2)) == pytest.approx(0.02 * 2 * np.pi * 7, rel=0.01)
    assert np.abs(swing.mean(axis=0)).max() < 1e-6


def test_a_sharp_peak_moves_by_acceleration_over_jerk() -> None:
    """To first order the zero of a + e lies at -e / jerk; a half cosine of 0.6 m/s over 0.3 s bends by 33 m/s3.

    An error of a fiftieth of the bend's own acceleration leaves the peak a parabola.
    """
    knots = [*LOWERED, (2.5, 0.6), (2.8, 0.0)]
    jerk = 0.6 / 2 * (np.pi / 0.3) ** 2
    motion = shaken(from_velocity(knots, 5.0), 0.003, 4.0)
    assert spread_of_peak(motion) == pytest.approx(0.003 * 2 * np.pi * 4.0 / jerk, rel=0.15)


@pytest.mark.parametrize("length", [0.3, 0.6])
def test_a_flat_peak_lies_anywhere_along_it(length: float) -> None:
    """Any place of a plateau is as likely: length / sqrt(12) about its middle, and more about an end of it."""
    flat = shaken(from_velocity([*LOWERED, (2.5, 0.6), (2.5 + length, 0.6), (2.8 + length, 0.0)], 6.0), 0.01, 8.0)
    assert length / np.sqrt(12) * 0.8 < spread_of_peak(flat) < length


def test_a_second_peak_counts_when_it_may_be_the_higher_one() -> None:
    def double(lower_by: float) -> Motion:
        knots = [*LOWERED, (2.5, 0.6), (2.75, 0.4), (3.0, 0.6 - lower_by), (3.3, 0.0)]
        return shaken(from_velocity(knots, 6.0), 0.01, 6.3)

    assert spread_of_peak(double(0.004)) > 0.15
    assert spread_of_peak(double(0.1)) < 0.03


def test_without_a_ring_nothing_is_added() -> None:
    calm = from_velocity(SHARP, 5.0)
    (window,) = find_reps(calm, SQUAT)
    at = window.rise.fastest
    assert shaken_peak_u(calm, window.rise, float(calm.t_s[at])) == 0.0
    assert crossing_u(calm, 0.01, at) == 0.01
    rung = shaken(calm, 0.02, 7.0)
    az = calm.acceleration[:, 2]
    peak_s = float(calm.t_s[at])
    assert peak_time_u(rung, window.rise, peak_s, az) > 2 * peak_time_u(calm, window.rise, peak_s, az)


def test_a_crossing_moves_by_velocity_over_acceleration() -> None:
    motion = shaken(from_velocity(SHARP, 5.0), 0.02, 7.0)
    at = 2350  # half way up the ramp of 0.6 m/s in 0.3 s: pi / 2 times its mean slope
    slope = np.pi / 2 * 0.6 / 0.3
    assert crossing_u(motion, 0.0, at) == pytest.approx(0.02 / slope, rel=0.02)
    assert crossing_u(motion, 0.01, at) == pytest.approx(np.hypot(0.01, 0.02 / slope), rel=0.02)


def test_a_ring_that_may_end_the_push_is_in_the_propulsive_u() -> None:
    """Braking at 9.5 m/s2, a little less than gravity: an error of 1 m/s2 may call it the end of the push."""
    knots = [*LOWERED, (2.45, 1.6)]
    calm = from_velocity([*knots, (2.45 + 1.6 * np.pi / 2 / 9.5, 0.0)], 5.0)
    (window,) = find_reps(calm, SQUAT)
    plain = measure_rep(calm, window, SQUAT)["mean_propulsive_velocity"]
    rung = shaken(calm, 0.02, 8.0)
    told = measure_rep(rung, window, SQUAT)["mean_propulsive_velocity"]
    # truth is the whole rise or, had it braked a little harder, the rise up to where 9.81 was passed
    t, a, z = calm.t_s, calm.acceleration[:, 2], calm.position[:, 2]
    top = int(np.argmin(np.where(t > 2.4, a, 0.0)))
    first, last = (int(np.flatnonzero((t > 2.2) & (calm.velocity[:, 2] > 0.03))[k]) for k in (0, -1))
    either = [(z[k] - z[first]) / (t[k] - t[first]) for k in (top, last)]
    assert plain.u is not None
    assert told.u is not None
    assert told.value is not None
    assert told.u > plain.u
    for value in either:
        assert abs(told.value - value) < 2 * told.u
