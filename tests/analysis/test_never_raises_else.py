"""Whatever samples come in: a set in words, or UnusableSamples, never anything else, and never a warning."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, Recording, SensorSetup
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.quantities.unusable import UnusableSamples
from barwright.analysis.reps.results import SetAnalysis
from barwright.analysis.reps.set_analysis import analyse_set

Floats = NDArray[np.float64]
QUICK = settings(deadline=None, max_examples=120, suppress_health_check=[HealthCheck.too_slow])
PATTERNS = st.sampled_from(["snatch", "clean_and_jerk", "jerk", "snatch_pull", "back_squat", "deadlift", "hang_clean"])


@st.composite
def clocks(draw: st.DrawFn) -> Floats:
    """Stamps of 0-400 samples: even, wobbling, with holes, repeats, bursts, jumps back, or at a crawl."""
    n = draw(st.integers(0, 400))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    period = draw(st.sampled_from([0.0005, 0.005, 0.01, 0.04, 0.2, 1.0]))
    t = np.arange(n) * period + draw(st.sampled_from([0.0, 1e6, -50.0]))
    how = draw(st.sampled_from(["even", "wobble", "holes", "repeats", "bursts", "random", "back", "one"]))
    if how == "wobble":
        t = t + rng.normal(0, period, n)
    elif how == "holes":
        t = t + np.cumsum(rng.random(n) < 0.05) * rng.uniform(0, 3)
    elif how == "repeats":
        t = np.sort(rng.choice(t, n)) if n else t
    elif how == "bursts":
        t = np.floor(t / (7 * period)) * 7 * period
    elif how == "random":
        t = rng.normal(0, 1, n)
    elif how == "back" and n > 2:
        t[n // 2 :] -= n * period / 3
    elif how == "one":
        t = np.zeros(n)
    return np.asarray(t, dtype=np.float64)


@st.composite
def waves(draw: st.DrawFn, t: Floats, size: float, centre: float) -> Floats:
    """One channel: flat, noisy, swinging, stepping, clipped, or absurd."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    n = len(t)
    how = draw(st.sampled_from(["flat", "noise", "swing", "steps", "clipped", "spikes", "huge", "tiny"]))
    made = {
        "flat": np.zeros(n),
        "noise": rng.normal(0, size, n),
        "swing": size * np.sin(np.arange(n) * rng.uniform(0, 1)),
        "steps": size * np.cumsum(rng.normal(0, 1, n) * (rng.random(n) < 0.03)),
        "clipped": np.clip(rng.normal(0, 3 * size, n), -size, size),
        "spikes": size * 20 * (rng.random(n) < 0.02),
        "huge": rng.normal(0, 1e6, n),
        "tiny": rng.normal(0, 1e-9, n),
    }[how]
    return np.asarray(made + centre, dtype=np.float64)


@st.composite
def imu_samples(draw: st.DrawFn) -> ImuSamples:
    """Random force and rates, mostly with gravity somewhere."""
    t = draw(clocks())
    up = draw(st.sampled_from([(0.0, 0.0, 9.8), (9.8, 0.0, 0.0), (5.7, -5.7, 5.7), (0.0, 0.0, 0.0)]))
    accel = np.stack([draw(waves(t, draw(st.sampled_from([0.02, 0.5, 20.0])), c)) for c in up], axis=1)
    gyro = np.stack([draw(waves(t, draw(st.sampled_from([0.002, 0.3, 30.0])), 0.0)) for _ in range(3)], axis=1)
    return ImuSamples(t, accel.reshape(-1, 3), gyro.reshape(-1, 3))


SETUPS = st.builds(
    SensorSetup,
    bar_axis=st.sampled_from([None, np.array([1.0, 0, 0]), np.array([0, 0, -1.0]), np.array([0.6, 0.8, 0])]),
    device_class=st.sampled_from([None, "good", "fast", "hobby", "poor", "calibrated", "never heard of"]),
    accel_range_m_s2=st.sampled_from([None, 20.0, 156.9]),
    gyro_range_rad_s=st.sampled_from([None, 4.0, 34.9]),
    anchor_offset_m=st.sampled_from([None, 0.0, 0.2, 5.0]),
)


def checked(recording: Recording, lift: str) -> None:
    """Either answer is fine; a set must be sound."""
    try:
        answer = analyse_set(recording, LIFTS[lift])
    except UnusableSamples as refused:
        told = (refused.code, refused.detail)
        assert all(told)
        return
    assert isinstance(answer, SetAnalysis)
    assert answer.quality.words
    assert answer.reps or answer.notes
    for index, rep in enumerate(answer.reps):
        assert rep.index == index
        assert rep.outcome in {"made", "failed", "partial"}
        assert rep.start_s <= rep.stop_s
        for name, figure in {**rep.measures, **rep.path_measures}.items():
            if figure.value is None or figure.u is None:
                assert figure.reason, name
            else:
                assert math.isfinite(figure.value), name
                assert math.isfinite(figure.u), name
                assert figure.u > 0, name
        for column in (rep.path.t_s, rep.path.z_m, rep.path.vz, rep.path.az, rep.path.u_z, rep.path.u_vz):
            assert np.isfinite(column).all()
        for phase in rep.phases:
            assert 0 <= phase.sure <= 1


@given(samples=imu_samples(), setup=SETUPS, lift=PATTERNS)
@QUICK
def test_any_inertial_samples(samples: ImuSamples, setup: SensorSetup, lift: str) -> None:
    checked(Recording((samples,), setup), lift)


@given(data=st.data(), setup=SETUPS, lift=PATTERNS, velocity=st.booleans())
@QUICK
def test_any_encoder_samples(data: st.DataObject, setup: SensorSetup, lift: str, velocity: bool) -> None:
    t = data.draw(clocks())
    size, centre = data.draw(st.sampled_from([0.001, 0.3, 3.0])), data.draw(st.sampled_from([0.0, 0.8]))
    column = data.draw(waves(t, size, centre))
    samples = EncoderSamples(t, velocity_m_s=column) if velocity else EncoderSamples(t, position_m=column)
    checked(Recording((samples,), setup), lift)


def test_nothing_at_all_is_refused() -> None:
    with pytest.raises(UnusableSamples):
        analyse_set(Recording(()), LIFTS["snatch"])


def test_samples_of_two_device_starts_are_joined_with_a_note() -> None:
    from barsim import simulate

    one = simulate("snatch", seed=3, device="hobby")
    answer = analyse_set(Recording((one.imu_samples, one.imu_samples), one.recording.setup), LIFTS["snatch"])
    assert [rep.outcome for rep in answer.reps] == ["made", "made"]
    assert any("started 2 times" in note for note in answer.notes)
    assert answer.reps[0].measures == answer.reps[1].measures
    assert answer.reps[1].start_s > answer.reps[0].stop_s
