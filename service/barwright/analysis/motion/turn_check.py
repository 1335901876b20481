"""Does the gyroscope tell the turn that gravity shows between rests? With a wrong unit, sign or axis it does not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from barwright.analysis.motion.rest_solve import Solution
from barwright.analysis.quantities.vectors import angle_between

TURNED_RAD = 0.5  # less of a turn tells nothing of a gyroscope
# Hands that sway, a scale 2 % off and a lost sample come to a few degrees; a wrong axis to most of the turn
MISSED_RAD, MISSED_SHARE = 0.35, 0.4


@dataclass(frozen=True, slots=True)
class TurnMissed:
    """The greatest turn between two rests (rad, by gravity in the sensor's axes), how far the gyroscope misses it."""

    turned_rad: float
    missed_rad: float


def turn_missed(solutions: Iterable[Solution]) -> TurnMissed | None:
    """What the gyroscope misses of the greatest turn; None where it tells most turns, or the sensor hardly turned."""
    turns = [turn for solution in solutions for turn in _turns(solution) if turn.turned_rad > TURNED_RAD]
    missed = [t for t in turns if t.missed_rad > max(MISSED_RAD, MISSED_SHARE * t.turned_rad)]
    if 2 * len(missed) <= len(turns):
        return None
    return max(missed, key=lambda turn: turn.turned_rad)


def _turns(solution: Solution) -> Iterator[TurnMissed]:
    """From each candidate rest to the next, whether the fit believed it or not."""
    turn, force = solution.at.nominal.turn, solution.at.nominal.force
    spans = [rest.span.as_slice() for rest in solution.candidates]
    felt = [np.einsum("nij,ni->j", turn[part], force[part]) for part in spans]
    upward = [force[part].sum(axis=0) for part in spans]
    for before in range(len(spans) - 1):
        yield TurnMissed(angle_between(*felt[before : before + 2]), angle_between(*upward[before : before + 2]))
