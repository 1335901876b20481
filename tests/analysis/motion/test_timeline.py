"""One even time axis out of whatever stamps a device sent."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from barwright.analysis.motion.timeline import even_samples
from barwright.analysis.quantities.unusable import UnusableSamples

Floats = NDArray[np.float64]


def signal(t: Floats) -> Floats:
    """Two channels with content up to 8 Hz."""
    return np.stack((np.sin(2 * np.pi * 1.3 * t), np.cos(2 * np.pi * 8 * t) + 0.2 * t), axis=1)


def test_even_samples_stay_as_they_are() -> None:
    t = 17.0 + np.arange(400) / 200
    even = even_samples(t, signal(t))
    np.testing.assert_allclose(even.values, signal(t), atol=1e-9)
    np.testing.assert_allclose(even.t_s, t - 17.0, atol=1e-9)
    assert even.rate_hz == pytest.approx(200)
    assert not even.filled.any()
    assert even.gaps == ()


def test_lost_samples_are_found_and_filled_from_their_neighbours() -> None:
    t = np.arange(600) / 200
    keep = np.ones(600, dtype=bool)
    keep[[50, 51, 200, 333]] = False
    even = even_samples(t[keep], signal(t[keep]))
    assert np.flatnonzero(even.filled).tolist() == [50, 51, 200, 333]
    assert [(g.start, g.stop) for g in even.gaps] == [(50, 52), (200, 201), (333, 334)]
    np.testing.assert_allclose(even.values, signal(t), atol=3e-3)


def test_a_long_hole_is_bridged_by_a_straight_line() -> None:
    t = np.arange(600) / 200
    keep = (t < 1.0) | (t > 1.4)
    even = even_samples(t[keep], signal(t[keep]))
    hole = even.values[even.filled]
    assert len(even.gaps) == 1
    assert np.abs(np.diff(hole, n=2, axis=0)).max() < 1e-9


def test_repeated_samples_are_dropped_and_counted() -> None:
    t = np.arange(600) / 200
    order = np.sort(np.concatenate((np.arange(600), [10, 11, 300])))
    even = even_samples(t[order], signal(t[order]))
    assert even.repeated == 3
    np.testing.assert_allclose(even.values, signal(t), atol=1e-9)


def test_wobbling_sampling_is_resampled() -> None:
    rng = np.random.default_rng(2)
    t = np.arange(1000) / 100
    real = t + np.clip(rng.normal(0, 0.001, 1000), -0.004, 0.004)
    even = even_samples(real, signal(real))
    # the axis begins at the first sample, wherever its wobble put it
    shift = real[0] + (even.t_s[0] - even.t_s[0])
    np.testing.assert_allclose(even.values[5:-5], signal(even.t_s[5:-5] + shift), atol=0.06)
    assert even.jitter_s == pytest.approx(0.001, rel=0.15)


def test_stamps_in_whole_microseconds_leave_the_values_as_they_were() -> None:
    t = np.arange(2000) / 997.3
    even = even_samples(np.round(t, 6), signal(t))
    np.testing.assert_array_equal(even.values, signal(t))
    np.testing.assert_allclose(even.t_s, t, atol=2e-6)


def test_wobbling_stamps_are_smoothed_away() -> None:
    rng = np.random.default_rng(3)
    t = np.arange(1000) / 100
    stamps = np.sort(t + np.clip(rng.normal(0, 0.001, 1000), -0.004, 0.004))
    even = even_samples(stamps, signal(t))
    np.testing.assert_allclose(even.values, signal(t), atol=1e-6)
    assert even.jitter_s == pytest.approx(0.001, rel=0.15)


def test_stamps_in_bursts_are_spread() -> None:
    """A radio that sends ten samples at once stamps them alike."""
    t = np.arange(1000) / 100
    stamps = np.floor(t * 10) / 10
    even = even_samples(stamps, signal(t))
    assert even.rate_hz == pytest.approx(100, rel=0.01)
    np.testing.assert_allclose(even.values, signal(t), atol=1e-6)


def test_a_fast_or_slow_clock_sets_the_rate() -> None:
    t = np.arange(1000) / 100 * 1.02
    assert even_samples(t, signal(t)).rate_hz == pytest.approx(100 / 1.02, rel=1e-6)


@pytest.mark.parametrize(
    ("t", "code"),
    [(np.arange(7) / 100, "too-few-samples"), (np.zeros(50), "too-few-samples"), (np.arange(60) / 5, "rate-too-low")],
)
def test_what_cannot_be_used_is_refused_in_words(t: Floats, code: str) -> None:
    with pytest.raises(UnusableSamples) as refused:
        even_samples(t, np.zeros((len(t), 2)))
    assert refused.value.code == code
    assert "at least" in refused.value.detail
