"""The averaged spectrum against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import welch

from barwright.analysis.motion.whip import averaged_spectrum


@pytest.mark.parametrize(("n", "size"), [(61, 61), (128, 128), (300, 128), (501, 128), (333, 77)])
def test_power_is_that_of_welchs_method(n: int, size: int) -> None:
    """scipy.signal.welch with its usual Hann window, half overlap and constant detrending."""
    x = np.random.default_rng(n).normal(size=n).cumsum()
    f, power = averaged_spectrum(x, 0.01, size)
    expected_f, expected = welch(x, 100.0, nperseg=size, noverlap=size // 2)
    np.testing.assert_allclose(f, expected_f)
    np.testing.assert_allclose(power, expected, rtol=1e-9)
