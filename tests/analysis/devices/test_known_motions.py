"""Known motions against the laws of mechanics (tests/analysis/devices/at_home.py integrates them)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipk

from analysis.devices.at_home import G, dropped, lifted, spun, swinging
from barwright.analysis.devices.known_motions import Told, _agm, check_motion
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.unusable import UnusableSamples

HERE = Estimate(G, 0.0005, "m/s2")
SETUP = SensorSetup(device_class="good")


def metres(value: float, u: float = 0.002) -> Estimate:
    return Estimate(value, u, "m")


def checked(samples, motion, **told):
    found = check_motion(samples, SETUP, Told(motion, HERE, **told))
    return {one.name: one for one in found.figures}, found


@pytest.mark.parametrize("height", [0.3, 0.6, 1.2])
def test_a_drop_takes_as_long_as_gravity_says(height):
    inside = 0
    for seed in range(12):
        figures, _ = checked(dropped(np.random.default_rng(seed), height), "drop", length=metres(height))
        time, force = figures["fall_time"], figures["force_in_fall"]
        assert time.expected.value == pytest.approx(math.sqrt(2 * height / G))
        assert time.measured.value == pytest.approx(time.expected.value, abs=0.006)
        assert force.verdict == "agrees"
        inside += time.verdict == "agrees"
    assert inside >= 11


def test_a_drop_shows_a_wrong_zero_and_a_wrong_clock():
    rng = np.random.default_rng(1)
    figures, found = checked(dropped(rng, 0.6, bias=np.array([0.3, 0.0, -0.4])), "drop", length=metres(0.6))
    assert figures["force_in_fall"].verdict == "differs"
    assert figures["force_in_fall"].measured.value == pytest.approx(0.5, abs=0.03)
    assert any("calibrate" in word for word in found.words)
    figures, _ = checked(dropped(rng, 0.6, clock=1.1), "drop", length=metres(0.6))
    assert figures["fall_time"].verdict == "differs"


def test_the_mean_of_the_pendulum_is_the_elliptic_integral_of_another_library():
    """Period over small-swing period is 2 K(sin^2(swing / 2)) / pi (scipy's ellipk)."""
    for swing in (0.1, 0.7, 1.5, 2.8):
        expected = 2 / math.pi * ellipk(math.sin(swing / 2) ** 2)
        assert 1 / _agm(math.cos(swing / 2)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("swing", [10, 30, 60])
def test_a_pendulum_of_any_swing_agrees_with_its_length(swing):
    figures, found = checked(
        swinging(np.random.default_rng(swing), 0.75, swing), "pendulum", length=metres(0.75, 0.003)
    )
    period = figures["period"]
    assert period.verdict == "agrees", period
    assert period.measured.value == pytest.approx(period.expected.value, rel=1e-3)
    assert period.measured.u < 0.002
    assert figures["force_at_bottom"].verdict == "agrees"
    small = 2 * math.pi * math.sqrt(0.75 / G)
    if swing == 60:  # without the correction it would be wrong by 6 %
        assert period.measured.value > 1.04 * small
    assert any("degrees" in word for word in found.words)


def test_a_pendulum_shows_a_wrong_length_and_a_gyroscope_out_of_scale():
    rng = np.random.default_rng(3)
    figures, _ = checked(swinging(rng, 0.75, 30), "pendulum", length=metres(0.80, 0.003))
    assert figures["period"].verdict == "differs"
    figures, _ = checked(swinging(rng, 0.75, 60, gyro_scale=1.05), "pendulum", length=metres(0.75, 0.001))
    assert figures["force_at_bottom"].verdict == "differs"


@pytest.mark.parametrize("level", [True, False])
def test_a_spin_counts_its_turns_and_shows_the_radius(level):
    samples = spun(np.random.default_rng(5), 10, 0.2, level)
    figures, _ = checked(samples, "spin", turns=Estimate(10.0, 0.01, "1"), radius=metres(0.2))
    assert figures["turns"].verdict == "agrees"
    assert figures["turns"].measured.value == pytest.approx(10, abs=0.01)
    assert figures["radius"].measured.value == pytest.approx(0.2, abs=0.003)
    assert figures["radius"].verdict == "agrees"


def test_a_spin_shows_a_gyroscope_out_of_scale():
    samples = spun(np.random.default_rng(6), 10, 0.2, gyro_scale=1.02)
    figures, _ = checked(samples, "spin", turns=Estimate(10.0, 0.01, "1"))
    assert figures["turns"].verdict == "differs"
    assert figures["turns"].measured.value == pytest.approx(10.2, abs=0.01)
    assert "radius" not in figures


def test_a_lift_between_two_heights():
    for seed in range(6):
        figures, _ = checked(lifted(np.random.default_rng(seed), 0.75), "two_heights", length=metres(0.75))
        assert figures["rise"].verdict == "agrees"
        assert figures["rise"].measured.value == pytest.approx(0.75, abs=0.03)
    figures, _ = checked(lifted(np.random.default_rng(9), 0.75), "two_heights", length=metres(0.95))
    assert figures["rise"].verdict == "differs"


@pytest.mark.parametrize(
    ("motion", "more"),
    [
        ("drop", {"length": metres(0.5)}),
        ("pendulum", {"length": metres(0.5)}),
        ("spin", {"turns": Estimate(5.0, 0.01, "1")}),
    ],
)
def test_what_holds_no_such_motion_is_refused_with_what_would_be_right(motion, more):
    still = ImuSamples(np.arange(800) / 200, np.tile([0.0, 0.0, G], (800, 1)), np.zeros((800, 3)))
    with pytest.raises(UnusableSamples) as refused:
        check_motion(still, SETUP, Told(motion, HERE, **more))
    assert refused.value.code == "motion-not-found"
    assert ":" in refused.value.detail or ";" in refused.value.detail
