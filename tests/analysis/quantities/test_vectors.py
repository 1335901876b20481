"""Sums over three axes against numpy's own."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from barwright.analysis.quantities.vectors import cross, norms, turned

RNG = np.random.default_rng(4)
A, B = RNG.normal(size=(2, 50, 3))


def test_lengths_and_products_are_those_of_numpy() -> None:
    np.testing.assert_allclose(norms(A), np.linalg.norm(A, axis=1), rtol=1e-14)
    np.testing.assert_allclose(cross(A, B), np.cross(A, B), atol=1e-14)
    np.testing.assert_allclose(cross(A, B[0]), np.cross(A, B[0]), atol=1e-14)


def test_each_vector_is_turned_by_its_own_matrix() -> None:
    turn = Rotation.from_rotvec(B)
    np.testing.assert_allclose(turned(turn.as_matrix(), A), turn.apply(A), atol=1e-12)
