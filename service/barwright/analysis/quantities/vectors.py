"""Sums over the three axes of many vectors at once, column by column: numpy's own go through them one by one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def norms(x: Floats) -> Floats:
    """(n,) Euclidean lengths of (n, k) vectors."""
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", x, x)))


def cross(a: Floats, b: Floats) -> Floats:
    """(n, 3) vector products a x b of (n, 3) vectors, or of one (3,) with all."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for axis in range(3):
        i, j = (axis + 1) % 3, (axis + 2) % 3
        np.subtract(a[..., i] * b[..., j], a[..., j] * b[..., i], out=out[..., axis])
    return out


def turned(turn: Floats, x: Floats) -> Floats:
    """(n, 3) vectors (n, 3) after the rotation matrices (n, 3, 3)."""
    return np.asarray(np.einsum("nij,nj->ni", turn, x))


def angle_between(a: Floats, b: Floats) -> float:
    """The angle between two vectors (3,), rad."""
    return float(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))
