"""Allan deviation, noise density and bias instability."""

from __future__ import annotations

import allantools
import numpy as np
import pandas as pd
import pytest
from scipy.signal import lfilter

from barwright.analysis.motion.allan import (
    allan_deviation,
    bias_instability,
    density_in_hands,
    noise_density,
    together,
)
from barwright.analysis.motion.timeline import even_samples
from real_recordings import FOLDER

RATE = 200.0


def white(rng, n, density):
    """Noise of a one-sided density: variance density^2 times half the sample rate."""
    return rng.normal(0, density * np.sqrt(RATE / 2), n)


SIGNALS = {
    "white": lambda rng: white(rng, 20_000, 0.003),
    "random walk": lambda rng: np.cumsum(rng.normal(0, 1e-4, 20_000)) + 9.8,
    "both": lambda rng: white(rng, 20_000, 0.003) + np.cumsum(rng.normal(0, 1e-4, 20_000)),
    "few": lambda rng: rng.normal(0, 1, 50),
}


@pytest.mark.parametrize("name", SIGNALS)
def test_the_deviation_is_that_of_allantools(name):
    """Outside source: allantools 2024.6 (LGPL), oadev() of frequency data."""
    x = SIGNALS[name](np.random.default_rng(1))
    curve = allan_deviation(x, RATE)
    tau, deviation, _, _ = allantools.oadev(x - x.mean(), rate=RATE, data_type="freq", taus=curve.tau_s)
    assert curve.tau_s == pytest.approx(tau)
    assert curve.deviation == pytest.approx(deviation, rel=1e-9)


def test_degrees_of_freedom_are_those_of_allantools():
    """Outside source: allantools 2024.6, edf_simple() for white frequency noise, which is table 5 of NIST SP 1065."""
    curve = allan_deviation(np.random.default_rng(2).normal(0, 1, 4000), RATE)
    for m, freedom in zip(2 ** np.arange(len(curve.tau_s)), curve.freedom, strict=True):
        assert freedom == pytest.approx(allantools.edf_simple(4001, int(m), 0), rel=0.01)


def test_a_rest_of_a_real_sensor_reads_as_allantools_reads_it():
    """Outside sources: a recording of Laidig et al. 2021 (Data 6(7):72, CC-BY-4.0), and allantools 2024.6."""
    path = FOLDER / "broad_14_undisturbed_slow_translation_with_breaks_B.parquet"
    if not path.exists():
        pytest.skip(f"the recordings with optical truth are not beside the repository ({path})")
    table = pd.read_parquet(path)
    t = table["t_s"].to_numpy(np.float64)
    values = table[["ax", "ay", "az", "gx", "gy", "gz"]].to_numpy(np.float64)
    even = even_samples(t, values)
    spread = pd.DataFrame(even.values[:, 3:]).rolling(round(5 / even.period_s)).std().max(axis=1).to_numpy()
    stop = int(np.nanargmin(spread)) + 1
    rest = even.values[stop - round(5 / even.period_s) : stop]
    for column in rest.T:
        curve = allan_deviation(column, even.rate_hz)
        found = allantools.oadev(column - column.mean(), rate=even.rate_hz, data_type="freq", taus=curve.tau_s)
        assert curve.deviation == pytest.approx(found[1], rel=1e-9)
    gyro = noise_density(together([allan_deviation(column, even.rate_hz) for column in rest[:, 3:].T]), "rad/s")
    assert gyro.value is not None
    assert 0.001 < np.degrees(gyro.value) < 0.05  # MEMS gyroscopes: some thousandths to hundredths of a dps/sqrt(Hz)


def test_density_of_white_noise_within_its_uncertainty():
    """Drawn with a known density: N of IEEE Std 952 is that density over sqrt(2)."""
    rng = np.random.default_rng(3)
    z = []
    for _ in range(200):
        found = noise_density(allan_deviation(white(rng, 2000, 0.003), RATE), "m/s2")
        assert found.unit == "m/s2/sqrt(Hz)"
        z.append((found.value - 0.003) / found.u)
    assert 0.90 <= np.mean(np.abs(z) < 2) <= 0.99
    assert abs(np.mean(z)) < 0.3


def test_density_is_found_below_a_random_walk_and_not_in_one():
    rng = np.random.default_rng(4)
    walk = np.cumsum(rng.normal(0, 3e-4, 100_000))
    found = noise_density(allan_deviation(walk + white(rng, 100_000, 0.003), RATE), "m/s2")
    assert found.value == pytest.approx(0.003, rel=0.05)
    alone = noise_density(allan_deviation(walk, RATE), "m/s2")
    assert alone.value is None
    assert "lay the sensor down" in alone.reason


def test_bias_instability_of_flicker_noise():
    """Outside source: IEEE Std 952 annex C: two-sided density B^2 / (2 pi f), deviation 0.664 B where it lies flat."""
    rng = np.random.default_rng(5)
    n, rate, b = 400_000, 10.0, 0.01
    f = np.fft.rfftfreq(n, 1 / rate)
    size = np.zeros(len(f))
    size[1:] = np.sqrt(b**2 / (2 * np.pi * f[1:]) * rate * n)
    flicker = np.fft.irfft(size * (rng.normal(0, 1, len(f)) + 1j * rng.normal(0, 1, len(f))) / np.sqrt(2), n)
    found = bias_instability(allan_deviation(flicker + rng.normal(0, 0.03, n), rate), "m/s2")
    assert found.value == pytest.approx(b, rel=0.15)


def test_bias_instability_is_not_told_while_the_curve_falls():
    found = bias_instability(allan_deviation(white(np.random.default_rng(6), 2000, 0.003), RATE), "m/s2")
    assert found.value is None
    assert "longer log" in found.reason


def test_density_in_hands_is_not_the_sway():
    rng = np.random.default_rng(7)
    t = np.arange(700) / RATE
    sway = 0.08 * np.sin(2 * np.pi * 0.9 * t) + 0.06 * np.sin(2 * np.pi * 9.0 * t)
    z = []
    for _ in range(200):
        x = np.stack([white(rng, len(t), 0.003) + sway * rng.normal() for _ in range(3)], axis=1)
        found = density_in_hands(x, RATE, "m/s2")
        z.append((found.value - 0.003) / found.u)
    assert 0.90 <= np.mean(np.abs(z) < 2) <= 0.99


def test_density_in_hands_is_not_told_of_filtered_noise():
    x = np.random.default_rng(8).normal(0, 1, (800, 3))
    low_pass = lfilter([0.6], [1.0, -0.4], x, axis=0)  # 30 Hz, first order
    assert density_in_hands(low_pass, RATE, "m/s2").value is None


def test_too_few_or_constant_samples_have_a_reason():
    for x in (np.zeros(0), np.zeros(5), np.full(500, 9.8)):
        curve = allan_deviation(x, RATE)
        for found in (noise_density(curve, "m/s2"), bias_instability(curve, "m/s2")):
            assert found.value is None
            assert found.reason
    assert density_in_hands(np.zeros((500, 3)), RATE, "m/s2").value is None
