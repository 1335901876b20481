"""Unit quaternions (n, 4), scalar first, turning sensor axes into world axes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def multiply(p: Floats, q: Floats) -> Floats:
    """Hamilton product of (..., 4) quaternions: first q, then p.

    As pairs of complex numbers a + b j with a = w + x i, b = y + z i (Cayley and Dickson), which needs fewer passes.
    """
    pc, qc = np.ascontiguousarray(p).view(np.complex128), np.ascontiguousarray(q).view(np.complex128)
    a, b, c, d = pc[..., 0], pc[..., 1], qc[..., 0], qc[..., 1]
    out = np.empty(np.broadcast_shapes(pc.shape, qc.shape), dtype=np.complex128)
    np.subtract(a * c, b * np.conj(d), out=out[..., 0])
    np.add(a * d, b * np.conj(c), out=out[..., 1])
    return out.view(np.float64)


def from_rotation_vector(phi: Floats) -> Floats:
    """Quaternions of (..., 3) rotation vectors in radians (exponential map)."""
    half = 0.5 * np.sqrt(np.einsum("...i,...i->...", phi, phi))
    out = np.empty((*phi.shape[:-1], 4))
    np.cos(half, out=out[..., 0])
    np.multiply(phi, 0.5 * np.sinc(half / np.pi)[..., None], out=out[..., 1:])
    return out


def matrices(q: Floats) -> Floats:
    """Rotation matrices (n, 3, 3) of (n, 4) unit quaternions."""
    w, x, y, z = np.ascontiguousarray(q.T)
    x2, y2, z2 = x + x, y + y, z + z
    xx, yy, zz = x * x2, y * y2, z * z2
    out = np.empty((len(q), 3, 3))
    for i, j, k, across, along in ((0, 1, 2, x * y2, w * z2), (1, 2, 0, y * z2, w * x2), (2, 0, 1, x * z2, w * y2)):
        np.subtract(across, along, out=out[:, i, j])
        np.add(across, along, out=out[:, j, i])
        np.subtract(1.0 - (xx, yy, zz)[i], (xx, yy, zz)[j], out=out[:, k, k])
    return out


def prefix_products(steps: Floats, start: Floats) -> Floats:
    """(n+1, 4): start, start*steps[0], start*steps[0]*steps[1], ...

    As pairs of complex numbers a product is linear in its left factor, so that all of them are one banded triangular
    system, x[k+1] - M(steps[k]) x[k] = 0, which LAPACK solves from the top down.
    """
    from scipy.linalg.lapack import ztbtrs

    n = len(steps)
    bands = np.zeros((2 * n + 2, 4), dtype=np.complex128)  # by column: what is below the diagonal of ones
    w, x, y, z = steps.T
    of_first, of_second = bands[:-2:2].view(np.float64), bands[1:-1:2].view(np.float64)
    of_first[:, 4], of_first[:, 5], of_first[:, 6], of_first[:, 7] = -w, -x, -y, -z
    of_second[:, 2], of_second[:, 3], of_second[:, 4], of_second[:, 5] = y, -z, -w, x
    right = np.zeros((2 * n + 2, 1), dtype=np.complex128)
    right[:2, 0] = np.ascontiguousarray(start).view(np.complex128)
    out = ztbtrs(bands.T, right, uplo="L", diag="U", overwrite_b=1)[0].view(np.float64).reshape(n + 1, 4)
    return np.asarray(out / np.sqrt(np.einsum("ij,ij->i", out, out))[:, None])


def from_up(up: Floats) -> Floats:
    """The quaternion (4,) with the least turn that carries the sensor-frame direction `up` (3,) to world +z."""
    u = up / np.linalg.norm(up)
    if u[2] < -0.999999:
        return np.array([0.0, 1.0, 0.0, 0.0])
    q = np.array([1.0 + u[2], u[1], -u[0], 0.0])
    return np.asarray(q / np.linalg.norm(q))
