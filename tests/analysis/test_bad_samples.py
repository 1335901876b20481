"""Samples no analysis can use: refused in words, or answered in words without a rep."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from barsim import EncoderKind, simulate
from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording, SensorSetup
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.set_analysis import analyse_set

Floats = NDArray[np.float64]
SNATCH = LIFTS["snatch"]
ONE = simulate("snatch", seed=41, device="hobby")
GOOD = ONE.imu_samples
SETUP = ONE.recording.setup
N = len(GOOD.t_s)


def analysed(samples: ImuSamples | EncoderSamples):  # type: ignore[no-untyped-def]
    parts = (samples,)
    return analyse_set(Recording(parts, SETUP), SNATCH)  # type: ignore[arg-type]


def with_a_nan(samples: ImuSamples) -> ImuSamples:
    accel = samples.accel_m_s2.copy()
    accel[N // 2, 1] = np.nan
    return replace(samples, accel_m_s2=accel)


REFUSED: dict[str, tuple[Callable[[ImuSamples], ImuSamples], str]] = {
    "constant zeros": (lambda s: replace(s, accel_m_s2=0 * s.accel_m_s2, gyro_rad_s=0 * s.gyro_rad_s), "no-gravity"),
    "units of g taken for m/s2": (lambda s: replace(s, accel_m_s2=s.accel_m_s2 / 9.80665), "no-gravity"),
    "milli-g taken for m/s2": (lambda s: replace(s, accel_m_s2=s.accel_m_s2 * 102), "too-much-gravity"),
    "frozen": (
        lambda s: replace(s, accel_m_s2=np.tile(s.accel_m_s2[:1], (N, 1)), gyro_rad_s=0 * s.gyro_rad_s),
        "frozen",
    ),
    "a value that is not a number": (with_a_nan, "not-finite"),
    "infinite": (lambda s: replace(s, gyro_rad_s=s.gyro_rad_s + np.inf), "not-finite"),
    "seven samples": (lambda s: ImuSamples(s.t_s[:7], s.accel_m_s2[:7], s.gyro_rad_s[:7]), "too-few-samples"),
    "five samples a second": (
        lambda s: ImuSamples(s.t_s[::40], s.accel_m_s2[::40], s.gyro_rad_s[::40]),
        "rate-too-low",
    ),
    "all stamped alike": (lambda s: replace(s, t_s=0 * s.t_s), "no-time"),
}


@pytest.mark.parametrize("name", list(REFUSED))
def test_refused_with_what_was_wrong_and_what_would_be_right(name: str) -> None:
    spoil, code = REFUSED[name]
    with pytest.raises(UnusableSamples) as refused:
        analysed(spoil(GOOD))
    assert refused.value.code == code
    assert len(refused.value.detail.split()) >= 5


def moving_all_the_time(s: ImuSamples) -> ImuSamples:
    shake = np.stack([4 * np.sin(2 * np.pi * f * s.t_s) for f in (1.1, 1.7, 2.3)], axis=1)
    return replace(s, accel_m_s2=np.array([0, 0, 9.81]) + shake, gyro_rad_s=shake)


def clipped_throughout(s: ImuSamples) -> ImuSamples:
    return replace(s, accel_m_s2=np.clip(s.accel_m_s2 * 3, -19.6, 19.6) * 0 + 16.0, gyro_rad_s=s.gyro_rad_s * 0 + 34.9)


WITHOUT_REPS: dict[str, Callable[[ImuSamples], ImuSamples]] = {
    "no rest at all": moving_all_the_time,
    "nothing but noise at rest": lambda s: replace(
        s,
        accel_m_s2=np.array([0, 0, 9.81]) + np.random.default_rng(1).normal(0, 0.03, (N, 3)),
        gyro_rad_s=np.random.default_rng(2).normal(0, 0.003, (N, 3)),
    ),
}


@pytest.mark.parametrize("name", list(WITHOUT_REPS))
def test_no_reps_and_it_says_why(name: str) -> None:
    answer = analysed(WITHOUT_REPS[name](GOOD))
    assert answer.reps == ()
    assert any("No rep of a snatch" in note for note in answer.notes)
    assert answer.quality.words


def test_no_rest_is_unusable_and_said_so() -> None:
    answer = analysed(moving_all_the_time(GOOD))
    assert answer.quality.verdict == "unusable"
    assert any("rest" in word for word in answer.quality.words)


def test_a_sensor_at_full_scale_throughout_gives_no_reps() -> None:
    setup = replace(SETUP, accel_range_m_s2=16.0, gyro_range_rad_s=34.9)
    clipped = clipped_throughout(GOOD)
    noisy = replace(clipped, accel_m_s2=clipped.accel_m_s2 - 0.01 * (np.arange(N) % 2)[:, None])
    try:
        answer = analyse_set(Recording((noisy,), setup), SNATCH)
    except UnusableSamples as refused:
        assert "m/s2" in refused.detail or "full scale" in refused.detail  # noqa: PT017 - either answer is right
        return
    assert answer.reps == ()
    assert answer.quality.verdict == "unusable"


def test_a_range_too_small_for_the_lift_is_told_and_invents_no_height() -> None:
    one = simulate("snatch", seed=42, device="hobby")
    samples = one.imu_samples
    narrow = replace(samples, accel_m_s2=np.clip(samples.accel_m_s2, -12.0, 12.0))
    answer = analyse_set(Recording((narrow,), replace(SETUP, accel_range_m_s2=12.0)), SNATCH)
    assert any("full scale" in word for word in answer.quality.words)
    for rep in answer.reps:
        height = rep.measures["peak_height"]
        if height.value is not None and height.u is not None:
            assert abs(height.value - one.truth.reps[0].measures["peak_height"]) < 3 * height.u


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_gyroscope_in_another_unit_than_declared_is_told(seed: int) -> None:
    samples = simulate("snatch", seed=seed, device="good", reps=2).imu_samples
    right = analysed(samples)
    wrong = analysed(replace(samples, gyro_rad_s=np.deg2rad(samples.gyro_rad_s)))
    assert not any("gyroscope misses" in word for word in right.quality.words)
    assert any("gyroscope misses" in word and "rad/s" in word for word in wrong.quality.words)
    assert wrong.quality.verdict == "poor"


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_an_encoder_that_says_no_number_is_refused(value: float) -> None:
    one = simulate("back_squat", seed=1, device=None, encoder=EncoderKind())
    position = np.array(one.string_m, dtype=np.float64)
    position[10] = value
    with pytest.raises(UnusableSamples) as refused:
        analyse_set(Recording((EncoderSamples(one.truth.t_s, position_m=position),)), LIFTS["back_squat"])
    assert refused.value.code == "not-finite"
    assert "position" in refused.value.detail


@pytest.mark.parametrize("scale", [1000.0, 100.0, 10.0])
def test_a_string_in_another_unit_than_declared_is_refused(scale: float) -> None:
    one = simulate("back_squat", seed=1, device=None, encoder=EncoderKind())
    with pytest.raises(UnusableSamples) as refused:
        analyse_set(Recording((EncoderSamples(one.truth.t_s, position_m=scale * one.string_m),)), LIFTS["back_squat"])
    assert refused.value.code == "position-too-far"
    assert "unit of position" in refused.value.detail
    speed = np.gradient(one.string_m, one.truth.t_s)
    fast = EncoderSamples(one.truth.t_s, velocity_m_s=1000 * speed)
    with pytest.raises(UnusableSamples) as refused:
        analyse_set(Recording((fast,)), LIFTS["back_squat"])
    assert refused.value.code == "velocity-too-fast"


@pytest.mark.parametrize("after", [1, 2, 10])
def test_a_string_with_a_hole_longer_than_all_its_samples_is_no_crash(after: int) -> None:
    t = np.concatenate((np.arange(51) / 2000, 2.4 + np.arange(after) / 2000))
    answer = analyse_set(Recording((EncoderSamples(t, position_m=0 * t),)), LIFTS["back_squat"])
    assert answer.reps == ()


def test_a_snatch_dropped_from_overhead_is_no_wrong_unit() -> None:
    one = simulate("snatch", seed=1, device=None, encoder=EncoderKind())
    answer = analyse_set(Recording((EncoderSamples(one.truth.t_s, position_m=one.string_m),)), SNATCH)
    assert len(answer.reps) == 1


def test_a_string_that_never_moves_holds_no_rep() -> None:
    t = np.arange(1000) / 100
    for length in (np.full(1000, 0.7), 0.7 + 0.0003 * (np.arange(1000) % 2)):
        answer = analyse_set(
            Recording((EncoderSamples(t, position_m=np.asarray(length, np.float64)),), SensorSetup()),
            LIFTS["back_squat"],
        )
        assert answer.reps == ()
        assert answer.notes
