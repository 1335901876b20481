"""Half-open ranges of sample numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Samples start, start+1, ..., stop-1."""

    start: int
    stop: int

    def __len__(self) -> int:
        return max(0, self.stop - self.start)

    def as_slice(self) -> slice:
        """The span as an index."""
        return slice(self.start, self.stop)


def spans_of(mask: NDArray[np.bool_]) -> list[Span]:
    """Every run of True in a (n,) mask, in order."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [Span(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
