"""Quaternions against scipy.spatial.transform.Rotation and against a plain loop."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from barwright.analysis.quantities.rotations import from_rotation_vector, from_up, matrices, multiply, prefix_products

Floats = NDArray[np.float64]


def of_scipy(rotation: Rotation) -> Floats:
    """Scalar first."""
    return np.asarray(rotation.as_quat(scalar_first=True))


def alike(p: Floats, q: Floats) -> Floats:
    """q with the sign of p: q and -q are one turn."""
    return np.asarray(q * np.sign(np.sum(p * q, axis=-1, keepdims=True)))


@pytest.mark.parametrize("size", [1e-12, 1e-9, 1e-3, 1.0, 3.1, 6.0])
def test_the_exponential_map_is_that_of_scipy(size: float) -> None:
    phi = np.random.default_rng(1).normal(size=(50, 3))
    phi *= size / np.linalg.norm(phi, axis=1)[:, None]
    ours, theirs = from_rotation_vector(phi), of_scipy(Rotation.from_rotvec(phi))
    np.testing.assert_allclose(alike(ours, theirs), ours, atol=1e-14)


def test_products_and_matrices_are_those_of_scipy() -> None:
    p, q = Rotation.random(60, rng=2), Rotation.random(60, rng=3)
    product = multiply(of_scipy(p), of_scipy(q))
    np.testing.assert_allclose(alike(product, of_scipy(p * q)), product, atol=1e-14)
    np.testing.assert_allclose(matrices(of_scipy(p)), p.as_matrix(), atol=1e-14)


@pytest.mark.parametrize("count", [0, 1, 2, 7, 8, 9, 63, 64, 65, 1000])
def test_prefix_products_are_those_of_a_plain_loop(count: int) -> None:
    steps = from_rotation_vector(np.random.default_rng(count).normal(0, 0.3, (count, 3)))
    start = of_scipy(Rotation.random(rng=5))
    expected = [start]
    for step in steps:
        expected.append(multiply(expected[-1], step))
    np.testing.assert_allclose(prefix_products(steps, start), np.array(expected), atol=1e-12)


def test_long_products_stay_unit_turns() -> None:
    steps = from_rotation_vector(np.random.default_rng(6).normal(0, 0.05, (200_000, 3)))
    turned = prefix_products(steps, np.array([1.0, 0.0, 0.0, 0.0]))
    np.testing.assert_allclose(np.linalg.norm(turned, axis=1), 1.0, atol=1e-12)


@pytest.mark.parametrize(
    "up", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0, -1, 0), (0.3, -0.5, -0.8), (1e-5, 0, -1), (0, 0, 9.8)]
)
def test_from_up_lifts_a_direction_to_the_zenith(up: tuple[float, float, float]) -> None:
    direction = np.array(up, dtype=float)
    turn = matrices(from_up(direction)[None])[0]
    np.testing.assert_allclose(turn @ direction / np.linalg.norm(direction), [0, 0, 1], atol=2e-5)
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-12)


def test_from_up_turns_no_more_than_it_must() -> None:
    direction = np.array([0.6, 0.0, 0.8])
    turn = Rotation.from_quat(from_up(direction), scalar_first=True)
    assert turn.magnitude() == pytest.approx(np.arccos(0.8))
