"""What stretches of one recording tell each other of the sensor they share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from barwright.analysis.motion.error_model import SHARED
from barwright.analysis.motion.rest_solve import ConstantPrior, Solution

Floats = NDArray[np.float64]

CHANGE_SHARE = 0.1  # of a constant's prior sd: what one stretch learnt need not hold to the last digit in the next


def agree(solution: Solution, shared: ConstantPrior) -> bool:
    """Whether a stretch and the others saw the same sensor: their constants lie within what both allow."""
    block = shared.factor[:SHARED, :SHARED]
    spread = block @ block.T + solution.shared_covariance(SHARED)
    gap = solution.theta[:SHARED] - shared.mean[:SHARED]
    return float(gap @ np.linalg.solve(spread, gap)) < 3.0 * SHARED


@dataclass(frozen=True, slots=True)
class Told:
    """What one stretch's own data say of the shared constants in units of their prior: information (24, 24) beyond the
    prior's own, and pull (24,), the information times what they are. Both add up over stretches.
    """

    information: Floats
    pull: Floats

    @classmethod
    def of(cls, parts: Sequence[Told]) -> Told:
        """What several tell together."""
        information, pull = np.zeros((SHARED, SHARED)), np.zeros(SHARED)
        for one in parts:
            information += one.information
            pull += one.pull
        return cls(information, pull)

    def without(self, own: Told | None) -> Told:
        """What is left where one of them is taken away."""
        return self if own is None else Told(self.information - own.information, self.pull - own.pull)


def told_by(solution: Solution, alone: ConstantPrior) -> Told:
    """What one fitted stretch tells, its prior `alone` taken away."""
    sd = np.diag(alone.factor)[:SHARED]
    posterior = solution.shared_covariance(SHARED) / np.outer(sd, sd)
    seen = np.linalg.inv(posterior + CHANGE_SHARE**2 * np.eye(SHARED))
    return Told(seen - np.eye(SHARED) / (1.0 + CHANGE_SHARE**2), seen @ (solution.theta[:SHARED] / sd))


def prior_from(others: Told, alone: ConstantPrior) -> ConstantPrior:
    """The prior sharpened by what other stretches tell (information adds up)."""
    sd = np.diag(alone.factor)[:SHARED]
    covariance = np.linalg.inv(np.eye(SHARED) + others.information)
    covariance = 0.5 * (covariance + covariance.T)
    factor = alone.factor.copy()
    factor[:SHARED, :SHARED] = sd[:, None] * np.linalg.cholesky(covariance + 1e-12 * np.eye(SHARED))
    mean = alone.mean.copy()
    mean[:SHARED] = sd * (covariance @ others.pull)
    return ConstantPrior(mean, factor)
