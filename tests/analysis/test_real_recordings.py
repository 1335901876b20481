"""Real recordings with measured truth. They are kept beside the repository, in ../shared/data, and skipped elsewhere.

Limits of velocity are those the recordings' README gives for an offline orientation filter with linear zero-velocity
correction (medians 0.013 m/s slow and medium, 0.029 m/s fast, 0.016 m/s tapping), and our own tighter ones; the filter
is run here too, in the same windows.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

import real_recordings as real

Floats = NDArray[np.float64]
pytestmark = [
    pytest.mark.skipif(
        not real.FOLDER.is_dir(), reason="the real recordings are not there (../shared/data beside the repository)"
    ),
    pytest.mark.xdist_group("recordings"),  # each recording is fitted once
]


def rms(x: Floats) -> float:
    return float(np.sqrt(np.mean(x**2)))


@pytest.fixture(scope="module")
def arm() -> Floats:
    return real.marker_arm()


def test_the_marker_sits_about_a_centimetre_from_the_sensor(arm: Floats) -> None:
    assert 0.007 < float(np.linalg.norm(arm)) < 0.014


@pytest.mark.parametrize(
    ("files", "median", "highest"),
    [(real.SLOW, 0.010, 0.02), (real.FAST, 0.022, 0.04), (real.TAPPING, 0.016, 0.05)],
    ids=["slow", "fast", "tapping"],
)
def test_vertical_velocity_between_moments_of_rest(
    files: tuple[str, ...], median: float, highest: float, arm: Floats
) -> None:
    found = [real.window_errors(real.hand_moved(file), arm) for file in files]
    here, by_filter = (np.concatenate([getattr(one, by) for one in found]) for by in ("here", "by_filter"))
    assert len(here) > 30
    assert float(np.median(here)) <= 1.2 * float(np.median(by_filter))
    assert float(np.median(here)) <= median
    assert float(np.quantile(here, 0.95)) <= highest


def test_tilt_is_that_of_an_offline_filter_and_near_it_against_optics() -> None:
    found = [real.tilt_errors(real.hand_moved(file)) for file in (*real.SLOW, *real.FAST, *real.SLOW_ROTATION)]
    to_filter, to_truth, filter_to_truth = (
        rms(np.concatenate([getattr(one, name) for one in found]))
        for name in ("to_filter", "to_truth", "filter_to_truth")
    )
    assert to_filter <= 0.5
    assert to_truth <= 1.5 * filter_to_truth


def test_stride_lengths_of_a_foot() -> None:
    errors = real.stride_errors()
    assert len(errors) == 31
    assert rms(errors) <= 0.045
