"""Normal gravity against the published figures of WGS 84 (NIMA TR8350.2, 2000, table 3.4)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from barwright.analysis.quantities.gravity import ECCENTRICITY_2, normal_gravity


def test_gravity_at_the_equator_and_at_the_poles():
    """Published: 9.7803253359 and 9.8321849378 m/s2."""
    assert normal_gravity(0.0) == pytest.approx(9.7803253359, abs=1e-10)
    assert normal_gravity(90.0) == pytest.approx(9.8321849378, abs=2e-10)
    assert normal_gravity(-90.0) == normal_gravity(90.0)


def test_its_mean_over_the_ellipsoid():
    """Published mean value: 9.7976432222 m/s2, the ellipsoid's surface as the weight."""
    phi = np.linspace(-math.pi / 2, math.pi / 2, 20001)
    weight = np.cos(phi) / (1 - ECCENTRICITY_2 * np.sin(phi) ** 2) ** 2
    values = np.array([normal_gravity(math.degrees(one)) for one in phi])
    assert np.trapezoid(weight * values, phi) / np.trapezoid(weight, phi) == pytest.approx(9.7976432222, abs=2e-9)


def test_it_falls_by_about_0_3086_milligal_a_metre():
    """The free-air gradient every textbook gives."""
    assert 1e5 * (normal_gravity(45.0) - normal_gravity(45.0, 1.0)) == pytest.approx(0.3086, abs=0.0003)
