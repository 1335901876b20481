"""Unit quaternions (n, 4), scalar first, turning sensor axes into world axes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def multiply(p: Floats, q: Floats) -> Floats:
    """Hamilton product of (..., 4) quaternions: first q, then p."""
    pw, px, py, pz = p[..., 0], p[..., 1], p[..., 2], p[..., 3]
    qw, qx, qy, qz = q[..., 0], q[..., 1], q[..., 2], q[..., 3]
    out = np.empty(np.broadcast_shapes(p.shape, q.shape))
    out[..., 0] = pw * qw - px * qx - py * qy - pz * qz
    out[..., 1] = pw * qx + px * qw + py * qz - pz * qy
    out[..., 2] = pw * qy - px * qz + py * qw + pz * qx
    out[..., 3] = pw * qz + px * qy - py * qx + pz * qw
    return out


def from_rotation_vector(phi: Floats) -> Floats:
    """Quaternions of (..., 3) rotation vectors in radians (exponential map)."""
    angle = np.sqrt(np.einsum("...i,...i->...", phi, phi))
    half = 0.5 * angle
    small = angle < 1e-8
    scale = np.where(small, 0.5, np.sin(half) / np.where(small, 1.0, angle))
    return np.concatenate((np.cos(half)[..., None], phi * scale[..., None]), axis=-1)


def matrices(q: Floats) -> Floats:
    """Rotation matrices (n, 3, 3) of (n, 4) unit quaternions."""
    w, x, y, z = q.T
    out = np.empty((len(q), 3, 3))
    out[:, 0, 0] = 1 - 2 * (y * y + z * z)
    out[:, 0, 1] = 2 * (x * y - w * z)
    out[:, 0, 2] = 2 * (x * z + w * y)
    out[:, 1, 0] = 2 * (x * y + w * z)
    out[:, 1, 1] = 1 - 2 * (x * x + z * z)
    out[:, 1, 2] = 2 * (y * z - w * x)
    out[:, 2, 0] = 2 * (x * z - w * y)
    out[:, 2, 1] = 2 * (y * z + w * x)
    out[:, 2, 2] = 1 - 2 * (x * x + y * y)
    return out


def prefix_products(steps: Floats, start: Floats) -> Floats:
    """(n+1, 4): start, start*steps[0], start*steps[0]*steps[1], ...

    Blocked scan: about 2 sqrt(n) vectorised steps instead of n.
    """
    n = len(steps)
    width = max(1, round(np.sqrt(n)))
    rows = -(-n // width)
    padded = np.zeros((rows * width, 4))
    padded[:, 0] = 1.0
    padded[:n] = steps
    # (width, rows, 4): the scan runs down axis 0 with all rows side by side
    inside = np.ascontiguousarray(padded.reshape(rows, width, 4).transpose(1, 0, 2))
    for k in range(1, width):
        inside[k] = multiply(inside[k - 1], inside[k])
    heads = np.empty((rows, 4))
    head = start
    for row in range(rows):
        heads[row] = head
        head = multiply(head, inside[width - 1, row])
        head = head / np.sqrt(head @ head)
    out = np.empty((n + 1, 4))
    out[0] = start
    out[1:] = multiply(heads[None], inside).transpose(1, 0, 2).reshape(-1, 4)[:n]
    return np.asarray(out / np.sqrt(np.einsum("ij,ij->i", out, out))[:, None])


def from_up(up: Floats) -> Floats:
    """The quaternion (4,) with the least turn that carries the sensor-frame direction `up` (3,) to world +z."""
    u = up / np.linalg.norm(up)
    if u[2] < -0.999999:
        return np.array([0.0, 1.0, 0.0, 0.0])
    q = np.array([1.0 + u[2], u[1], -u[0], 0.0])
    return np.asarray(q / np.linalg.norm(q))
