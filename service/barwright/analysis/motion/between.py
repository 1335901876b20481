"""Values between nodes: a cubic through the four about each moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FOUR, SAME = np.arange(4), np.eye(4, dtype=bool)
# Of four even nodes, a step apart: the product of the ways from each to the other three
EVEN = np.array([-6.0, 2.0, -2.0, 6.0])


@dataclass(frozen=True, slots=True)
class Between:
    """Where moments (m,) lie among nodes: the four about each (m, 4), and how a cubic through them weighs them."""

    near: NDArray[np.intp]
    weights: Floats

    def values(self, table: Floats) -> Floats:
        """Values (m, ...) of a table (G, ...)."""
        m = len(self.near)
        found = self.weights[:, None, :] @ table.take(self.near, axis=0).reshape(m, 4, -1)
        return np.asarray(found.reshape(m, *table.shape[1:]))


@dataclass(frozen=True, slots=True)
class Nodes:
    """Rising moments t_s (G,), four and more, evenly spaced but for the last one.

    ways (G - 3, 4): the product of the ways from each of four nodes that follow each other to the other three.
    """

    t_s: Floats
    ways: Floats

    @classmethod
    def at(cls, t_s: Floats) -> Nodes:
        """Nodes at t_s (G,)."""
        ways = np.empty((len(t_s) - 3, 4))
        ways[:] = (t_s[1] - t_s[0]) ** 3 * EVEN
        last = t_s[-4:]
        ways[-1] = np.where(SAME, 1.0, last[:, None] - last).prod(axis=1)
        return cls(t_s, ways)

    def about(self, t: Floats) -> Between:
        """Where t (m,) lie; what lies outside the nodes counts as the first or the last."""
        nodes = self.t_s
        first = np.minimum(np.maximum(np.searchsorted(nodes, t) - 2, 0), len(nodes) - 4)
        near = first[:, None] + FOUR
        way = np.minimum(np.maximum(t, nodes[0]), nodes[-1])[:, None] - nodes.take(near)
        shares = np.where(SAME, 1.0, way[:, None, :]).prod(axis=2)
        return Between(near, shares / self.ways.take(first, axis=0))
