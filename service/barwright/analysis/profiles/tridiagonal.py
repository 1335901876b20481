"""Chains of unknowns in which each is tied to the next: solved, many chains end to end, in one pass of LAPACK."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Chain:
    """A symmetric positive definite tridiagonal matrix, factorised: L D L^T (LAPACK xPTTRF).

    pivots (n,): D. ratios (n - 1,): below the diagonal of L. beside (n - 1,): the matrix's own off-diagonal.
    """

    pivots: Floats
    ratios: Floats
    diagonal: Floats
    beside: Floats

    def solve(self, right: Floats) -> Floats:
        """The solutions (k, n) for k right sides (k, n)."""
        if len(self.pivots) == 1:
            return right / self.pivots
        from scipy.linalg.lapack import dpttrs  # a start of the service should not wait for it

        solution, info = dpttrs(self.pivots, self.ratios, right.T)
        if info:
            raise ValueError(f"right: not of the chain's length {len(self.pivots)}")
        return np.asarray(solution.T, dtype=np.float64)

    def variances(self) -> Floats:
        """The diagonal of the inverse, (n,), from the pivots of both directions (a two-filter smoother)."""
        back = factorise(self.diagonal[::-1], self.beside[::-1]).pivots[::-1]
        return np.asarray(1.0 / (self.pivots + back - self.diagonal), dtype=np.float64)


def factorise(diagonal: Floats, beside: Floats) -> Chain:
    """Factorise; diagonal (n,), beside (n - 1,): 0 where one chain ends and the next begins."""
    if len(diagonal) == 1:
        return Chain(diagonal, beside, diagonal, beside)
    from scipy.linalg.lapack import dpttrf

    pivots, ratios, info = dpttrf(diagonal, beside)
    if info:
        raise ValueError(f"diagonal: not positive definite at {info - 1}")
    return Chain(pivots, ratios, diagonal, beside)
