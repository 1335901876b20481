"""String encoders: against Savitzky-Golay, against simulated truth, and through slips, wild values and slant."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import savgol_filter

from barsim import EncoderKind, SimulatedRecording, simulate
from barwright.analysis.motion.encoder_motion import EncoderMotion, encoder_motion
from barwright.analysis.motion.samples import EncoderSamples, SensorSetup
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.set_analysis import analyse_set


def moved(one: SimulatedRecording) -> EncoderMotion:
    (part,) = one.recording.parts
    assert isinstance(part, EncoderSamples)
    return encoder_motion(part, one.recording.setup)


def string(lift: str, seed: int, reps: int = 1, **kind: float) -> SimulatedRecording:
    return simulate(lift, seed=seed, device=None, reps=reps, encoder=EncoderKind(**{"rate_hz": 200, **kind}))  # type: ignore[arg-type]


@pytest.mark.parametrize("lift", ["snatch", "back_squat", "deadlift"])
def test_velocity_is_that_of_savitzky_and_golay_on_a_clean_lift(lift: str) -> None:
    """Local cubics over 55 ms (Savitzky and Golay 1964), up to the drop of the bar."""
    one = string(lift, 4, resolution_m=0.0, noise_m=0.00005)
    found, rep = moved(one).motion, one.truth.reps[0]
    plain = savgol_filter(one.string_m, 11, 3, deriv=1, delta=1 / 200)
    lifted = (found.t_s > rep.concentric[0] - 0.3) & (found.t_s < rep.concentric[1])
    assert np.abs(found.velocity[lifted, 2] - plain[lifted]).max() < 0.012
    x, z = one.truth.x_m, one.truth.z_m
    lengthening = (x * one.truth.vx + z * one.truth.vz) / np.hypot(x, z)
    assert np.sqrt(np.mean((found.velocity[lifted, 2] - lengthening[lifted]) ** 2)) < 0.003


@pytest.mark.parametrize(("lift", "seed"), [("snatch", 1), ("snatch", 2), ("clean", 3), ("jerk", 4)])
def test_the_peak_is_kept_better_than_by_a_wide_moving_fit(lift: str, seed: int) -> None:
    one = string(lift, seed, resolution_m=0.0003)
    rep = one.truth.reps[0]
    near = np.abs(one.truth.t_s - rep.concentric[0] - rep.measures["time_to_peak"]) < 0.1
    wide = savgol_filter(one.string_m, 51, 2, deriv=1, delta=1 / 200)
    true = rep.measures["peak_velocity"]
    ours = float(moved(one).motion.velocity[near, 2].max())
    assert abs(ours - true) < 0.015
    assert abs(ours - true) < abs(float(wide[near].max()) - true)


def test_the_bar_lies_225_mm_up_on_full_plates() -> None:
    """Large plates are 450 mm across, so the string is 225 mm long at rest and the apex is peak height above that."""
    one = string("snatch", 5)
    assert np.median(one.string_m[: 200 // 2]) == pytest.approx(0.225, abs=0.0005)
    (rep,) = analyse_set(one.recording, LIFTS["snatch"]).reps
    height = rep.measures["peak_height"]
    assert height.value is not None
    near = np.abs(one.truth.t_s - one.truth.reps[0].edges["apex"]) < 0.02
    assert height.value + 0.225 == pytest.approx(float(one.truth.z_m[near].max()), abs=0.004)


def test_wild_values_are_replaced_and_counted() -> None:
    one = string("back_squat", 6, reps=2, outliers=0.004, outlier_m=0.3)
    clean = string("back_squat", 6, reps=2)
    found = moved(one)
    wild = np.count_nonzero(np.abs(one.string_m - np.hypot(one.truth.x_m, one.truth.z_m)) > 0.03)
    assert wild > 5
    assert found.outliers >= wild
    assert np.abs(found.motion.position[:, 2] - moved(clean).motion.position[:, 2]).max() < 0.004


def test_a_slipped_count_is_taken_out_and_told() -> None:
    kind = EncoderKind(rate_hz=200, slips=1, slip_m=0.03)
    one = simulate("back_squat", seed=14, device=None, encoder=kind, reps=2)
    answer = analyse_set(one.recording, LIFTS["back_squat"])
    assert moved(one).slips == 1
    assert any("slipped" in word for word in answer.quality.words)
    for rep, true in zip(answer.reps, one.truth.reps, strict=True):
        assert rep.measures["range_of_motion"].value == pytest.approx(true.measures["range_of_motion"], abs=0.008)


def test_a_slanting_string_gives_height_where_the_bar_rises_straight() -> None:
    """Pythagoras: a bar that rises in a vertical line 0.5 m beside the anchor."""
    t = np.arange(800) / 200
    height = 0.3 + 0.4 * (1 - np.cos(np.clip(t - 1, 0, 2) * np.pi)) / 2 * 1.5
    samples = EncoderSamples(t, position_m=np.hypot(height, 0.5))
    found = encoder_motion(samples, SensorSetup(anchor_offset_m=0.5))
    assert found.geometry == "corrected"
    np.testing.assert_allclose(found.motion.position[:, 2], height - 0.3, atol=0.002)
    plumb = encoder_motion(samples, SensorSetup())
    assert np.ptp(plumb.motion.position[:, 2]) < 0.9 * np.ptp(height)


def test_a_bar_that_swings_aside_on_its_way_down_is_not_taken_for_higher() -> None:
    """Pythagoras: a string that hangs plumb at the top is longer than the bar is high where the bar is 8 cm aside."""
    t = np.arange(800) / 200
    down = (1 - np.cos(np.clip(t - 1, 0, 2) * np.pi)) / 2
    height, aside = 0.95 - 0.4 * down, 0.08 * down
    samples = EncoderSamples(t, position_m=np.hypot(height, aside))
    fooled, told = (encoder_motion(samples, SensorSetup(), swing) for swing in (None, (0.08, 0.0)))
    assert abs(np.ptp(fooled.motion.position[:, 2]) - 0.4) > 0.004
    np.testing.assert_allclose(told.motion.position[:, 2], height - 0.95, atol=0.001)
    doubt = encoder_motion(samples, SensorSetup(), (0.08, 0.02)).motion.errors
    assert doubt.displacement_sd(1.0, np.array([2.0]), np.zeros(3))[0] > 0.0015


@pytest.mark.parametrize("seed", range(20))
def test_values_no_bar_can_reach_are_not_smoothed_into_a_lift(seed: int) -> None:
    """Metres apart at 2 kHz: hardly a sample is one, and the smoother has nothing to hold on to."""
    x = np.random.default_rng(seed).normal(0.0, 0.4, 8)
    with pytest.raises(UnusableSamples, match="at least 8"):
        encoder_motion(EncoderSamples(np.arange(8) * 0.0005, x), SensorSetup())


def test_lengths_from_an_unknown_nought_are_left_as_they_are() -> None:
    t = np.arange(800) / 200
    sunk = np.zeros(800) - 0.2 * (1 - np.cos(np.clip(t - 1, 0, 2) * np.pi))
    swung, plain = (encoder_motion(EncoderSamples(t, sunk), SensorSetup(), s) for s in ((0.08, 0.02), None))
    np.testing.assert_array_equal(swung.motion.position, plain.motion.position)


def test_a_string_shorter_than_its_anchor_is_away_is_said_to_be_impossible() -> None:
    t = np.arange(800) / 200
    samples = EncoderSamples(t, position_m=0.3 + 0.2 * np.sin(t))
    assert encoder_motion(samples, SensorSetup(anchor_offset_m=0.5)).geometry == "impossible"


def test_there_is_no_fore_aft_in_a_string() -> None:
    (rep,) = analyse_set(string("snatch", 7).recording, LIFTS["snatch"]).reps
    assert rep.path.x_m is None
    fore_aft = ("most_rearward", "most_forward", "rearward_in_pull", "forward_swing", "x_at_knee", "x_at_catch")
    for figure in (rep.path_measures[name] for name in fore_aft):
        assert figure.value is None
        assert figure.reason
        assert "vertical" in figure.reason


def test_velocity_samples_are_integrated() -> None:
    t = np.arange(1000) / 200
    v = np.where((t > 1) & (t < 3), 0.6 * np.sin((t - 1) * np.pi / 2), 0.0)
    found = encoder_motion(EncoderSamples(t, velocity_m_s=v), SensorSetup())
    exact = 0.6 * 2 / np.pi * (1 - np.cos((np.clip(t, 1, 3) - 1) * np.pi / 2))
    np.testing.assert_allclose(found.motion.position[:, 2], exact, atol=0.003)


@pytest.mark.parametrize("rate_hz", [50, 100, 200])
def test_slips_and_wild_values_cost_next_to_nothing(rate_hz: int) -> None:
    """Ten-millimetre slips and single wild values of 5 to 50 mm, in motion and at rest."""
    errors = []
    for seed in range(12):
        kind = EncoderKind(rate_hz=rate_hz, slips=2, slip_m=0.01, outliers=0.005, outlier_m=0.05)
        one = simulate("deadlift", seed=seed, device=None, encoder=kind, reps=2)
        for rep, true in zip(analyse_set(one.recording, LIFTS["deadlift"]).reps, one.truth.reps, strict=True):
            value = rep.measures["peak_velocity"].value
            assert value is not None
            errors.append(value - true.measures["peak_velocity"])
    assert np.abs(errors).max() < 0.03


def test_a_dropped_bar_is_no_wild_value() -> None:
    """Fall from 1.2 m, two bounces and still; no sample is off by more than a count."""
    t = np.arange(0.0, 3.0, 0.01)
    z = np.where(t < 1.0, 1.2, np.maximum(1.2 - 0.5 * 9.80665 * (t - 1.0) ** 2, 0.0))
    hit = 1.0 + np.sqrt(2 * 1.2 / 9.80665)
    for speed, begin in ((1.0, hit), (0.4, hit + 2 * 1.0 / 9.80665)):
        up = speed * (t - begin) - 0.5 * 9.80665 * (t - begin) ** 2
        z = np.where((t > begin) & (up > 0), up, z)
    found = encoder_motion(EncoderSamples(t, np.round((z + 0.3) / 0.0003) * 0.0003, None), SensorSetup())
    assert (found.outliers, found.slips) == (0, 0)
