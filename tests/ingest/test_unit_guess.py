"""Units that nobody told: right where they are said, on simulated sets; silent where two would do."""

from __future__ import annotations

import numpy as np
import pytest

from barsim import simulate
from barwright.ingest.tables.unit_guess import force_at_rest, guess_force, guess_rate, rests_of

ACCEL = {"m/s2": 1.0, "[g]": 1 / 9.80665, "m[g]": 1000 / 9.80665}
GYRO = {"rad/s": 1.0, "deg/s": 180 / np.pi}
SETS = [("snatch", "good"), ("back_squat", "hobby"), ("clean_and_jerk", "poor"), ("bench_press", "good")]


@pytest.mark.parametrize(("lift", "device"), SETS)
def test_never_wrong_and_always_sure_of_degrees(lift: str, device: str) -> None:
    samples = simulate(lift, seed=2, device=device).imu_samples
    said = {}
    for unit, factor in ACCEL.items():
        force = samples.accel_m_s2 * factor
        rests = rests_of(samples.t_s, force)
        assert guess_force(force, rests).unit == unit
        for rate_unit, rate_factor in GYRO.items():
            said[unit, rate_unit] = guess_rate(samples.t_s, samples.gyro_rad_s * rate_factor, force, rests).unit
    assert all(said[unit, "deg/s"] == "deg/s" for unit in ACCEL)
    assert {said[unit, "rad/s"] for unit in ACCEL} <= {"rad/s", None}  # a bar that hardly turns tells nothing


def test_a_sensor_on_a_table_tells_its_force_and_not_its_rates() -> None:
    rng = np.random.default_rng(3)
    t_s = np.arange(2000) / 200
    force = rng.normal((0.0, 0.0, 9.8), 0.02, (2000, 3))
    rests = rests_of(t_s, force)
    assert rests == [(0, 2000)]
    found = force_at_rest(force, rests)
    assert found is not None
    assert found.size == pytest.approx(9.8, abs=0.01)
    assert guess_force(force, rests).unit == "m/s2"
    assert guess_rate(t_s, rng.normal(0.02, 0.01, (2000, 3)), force, rests).unit is None
    biased = guess_rate(t_s, rng.normal(2.0, 0.05, (2000, 3)), force, rests)
    assert biased.unit == "deg/s"  # 2 rad/s at rest would be 115 deg/s


@pytest.mark.parametrize(
    ("size", "words"), [(0.02, "gravity had been taken out"), (2048.0, "`scale`"), (5.0, "gravity in no unit")]
)
def test_what_is_no_gravity_is_not_guessed(size: float, words: str) -> None:
    force = np.random.default_rng(1).normal((0.0, 0.0, size), size * 0.001, (400, 3))
    guess = guess_force(force, rests_of(np.arange(400) / 200, force))
    assert guess.unit is None
    assert words in guess.why


def test_without_a_rest_nothing_is_said() -> None:
    force = np.random.default_rng(1).normal(0, 9.8, (400, 3))
    assert rests_of(np.arange(400) / 200, force) == []
    assert "never at rest" in guess_force(force, []).why
    assert rests_of(np.zeros(3), np.zeros((3, 3))) == []
