"""Velocity lost within a set, and whether that is a reason to stop.

Loss of a rep = 1 - its velocity / the fastest of the set so far (a common measure in the trade: Pareja-Blanco et al.
2017, Scand J Med Sci Sports 27:724). u by the law of propagation for a ratio of two independent figures (GUM, JCGM
100:2008, 5.1.6). The limit is the coach's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.live.run import KnownRep


@dataclass(frozen=True, slots=True)
class VelocityLoss:
    """loss, u: shares of the fastest (1). rep, best: indices. sure: how probable (0-1) a loss over the limit is."""

    rep: int
    best: int
    loss: float
    u: float
    limit: float
    sure: float

    @property
    def over(self) -> bool:
        """Whether the limit is reached."""
        return self.loss >= self.limit


def velocity_loss(reps: Sequence[KnownRep], limit: float) -> VelocityLoss | None:
    """The loss of the last made rep against the fastest one before it; None before there are two.

    limit: share (0-1).
    """
    made = [rep for rep in reps if rep.outcome == "made" and rep.velocity and rep.velocity > 0 and rep.u is not None]
    if len(made) < 2:
        return None
    last, best = made[-1], max(made[:-1], key=lambda rep: rep.velocity or 0.0)
    assert last.velocity is not None
    assert last.u is not None
    assert best.velocity is not None
    assert best.u is not None
    ratio = last.velocity / best.velocity
    u = ratio * math.hypot(last.u / last.velocity, best.u / best.velocity)
    loss = 1.0 - ratio
    sure = 0.5 * (1.0 + math.erf((loss - limit) / (u * math.sqrt(2.0)))) if u > 0 else float(loss >= limit)
    return VelocityLoss(last.index, best.index, loss, u, limit, sure)
