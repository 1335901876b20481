"""How much velocity was lost within a set, and whether the plan's limit is reached."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from barwright.analysis.profiles.bounds import NotPlausible, check_velocity
from barwright.analysis.quantities.estimate import Estimate, unknown

SURE = 0.5  # chance of being past the limit from which to advise stopping


@dataclass(frozen=True, slots=True)
class VelocityLoss:
    """loss: % of the fastest rep lost in the last one, with u. stop: None without a limit or with fewer than two reps.

    chance: that the loss truly is at or past the limit. words: one plain sentence.
    """

    loss: Estimate
    stop: bool | None
    chance: float | None
    words: str


def velocity_loss(velocities: Sequence[Estimate], limit_percent: float | None = None) -> VelocityLoss:
    """Loss in the set so far, 100 (fastest - last) / fastest (Sánchez-Medina and González-Badillo 2011).

    velocities: of the reps in order, m/s. u is carried over from both reps, taken as independent. limit_percent: the
    plan's limit; above 0, below 100, else NotPlausible.
    """
    if limit_percent is not None and not 0 < limit_percent < 100:
        raise NotPlausible("limit_percent", f"{limit_percent:g} % is no limit; above 0 and below 100 is right")
    known = [(v.value, v.u or 0.0) for v in velocities if v.value is not None]
    for value, _ in known:
        check_velocity(value)
    if len(known) < 2:
        reason = "a loss needs two reps with a velocity"
        return VelocityLoss(unknown("%", reason), None, None, reason)
    top, top_u = max(known, key=lambda pair: pair[0])
    last, last_u = known[-1]
    loss = 100.0 * (top - last) / top
    u = 0.0 if last == top else 100.0 * math.hypot(last_u / top, last * top_u / top**2)
    figure = Estimate(loss, u, "%")
    if limit_percent is None:
        return VelocityLoss(figure, None, None, f"{loss:.0f} ± {u:.0f} % slower than the fastest rep of the set")
    chance = _above(loss - limit_percent, u)
    stop = chance >= SURE - 1e-9  # exactly at the limit is at the limit
    advice = "stop the set" if stop else "the set may go on"
    words = f"{loss:.0f} ± {u:.0f} % slower than the fastest rep, the plan's limit is {limit_percent:g} %: {advice}"
    return VelocityLoss(figure, stop, chance, words)


def _above(excess: float, u: float) -> float:
    if u == 0.0:
        return 1.0 if excess >= 0 else 0.0
    return 0.5 * math.erfc(-excess / (u * math.sqrt(2.0)))
