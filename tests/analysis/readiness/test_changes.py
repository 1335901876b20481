"""Typical error, detectable and worthwhile change: worked examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.readiness.changes import minimal_detectable_change, smallest_worthwhile_percent, typical_error


def test_typical_error_of_a_worked_example() -> None:
    """Hopkins 2000 (from memory): sd of differences over sqrt 2. Differences +2, -1, +3, 0, +1: sd 1.5811."""
    assert typical_error([100, 110, 95, 120, 105], [102, 109, 98, 120, 106]) == pytest.approx(1.118034, abs=1e-6)


def test_typical_error_finds_the_noise_of_one_trial() -> None:
    rng = np.random.default_rng(1)
    true = rng.normal(100, 15, 20_000)
    assert typical_error(list(true + rng.normal(0, 2, 20_000)), list(true + rng.normal(0, 2, 20_000))) == pytest.approx(
        2.0, rel=0.02
    )


def test_detectable_change() -> None:
    """Weir 2005 (from memory): 1.96 sqrt(2) SEM = 2.77 SEM; 0.03 m/s gives 0.083, 0.02 gives 0.055; means of n less."""
    assert minimal_detectable_change(1.0) == pytest.approx(2.77, abs=0.005)
    assert minimal_detectable_change(0.03) == pytest.approx(0.083, abs=5e-4)
    assert minimal_detectable_change(0.02) == pytest.approx(0.055, abs=5e-4)
    assert minimal_detectable_change(0.03, 4) == pytest.approx(0.0416, abs=1e-4)


def test_worthwhile_change_is_a_fifth_of_the_spread_between_athletes() -> None:
    """Hopkins 2000 (from memory). 80, 100, 120 kg: sd 20, mean 100."""
    assert smallest_worthwhile_percent([80, 100, 120]) == pytest.approx(4.0)
    assert math.isclose(smallest_worthwhile_percent([100, 100]), 0.0)


def test_too_little_is_refused_with_its_member() -> None:
    with pytest.raises(NotPlausible, match="maxima_kg"):
        smallest_worthwhile_percent([100])
    with pytest.raises(NotPlausible, match="second"):
        typical_error([1, 2], [1])
