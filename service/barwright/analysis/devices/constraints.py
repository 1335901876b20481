"""What each constraint of a fit did: how far it missed, how surely it was held to, what changes without it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve

from barwright.analysis.motion.error_model import CONSTANTS
from barwright.analysis.motion.rest_solve import ROWS, Solution

Floats = NDArray[np.float64]
VELOCITY_ROW = 8  # of a rest's rows: upward velocity
LOOKED_S = 0.02


@dataclass(frozen=True, slots=True)
class Constraint:
    """One constraint of one stretch. kind: rest, same_height or not_believed. start_s, stop_s: since the recording's
    first sample.

    missed: upward velocity at a rest (m/s), or difference of heights (m), that the fit left; held_to: standard
    deviation it was held to, same unit. sigmas: how far all its rows miss what the others expect of them, root mean
    square over their joint covariance. moved_m_s: greatest change of upward velocity anywhere when it is left out;
    at_s: where.
    """

    kind: str
    start_s: float
    stop_s: float
    firm: bool
    missed: float
    held_to: float
    sigmas: float
    moved_m_s: float
    at_s: float


def constraints_of(solution: Solution, start_s: float, dt: float) -> tuple[Constraint, ...]:
    """Of one fitted stretch that begins at start_s, in order of time; candidates that were not believed too."""
    believed = solution.believed
    t: Floats = np.arange(0.0, len(solution.at.nominal.velocity) * dt, LOOKED_S)
    upward = solution.at.model.velocity_rows(t)[:, 2]
    noise = _noise(solution)
    miss = solution.wanted - solution.rows @ solution.latent
    out = []
    for place, (left, spread, number) in enumerate(zip(*solution.left_out_misses(), believed, strict=True)):
        rows = np.arange(ROWS * place, ROWS * (place + 1))
        moved, at = _moved(solution, noise, rows, upward, t)
        span, firm = solution.candidates[number].span, solution.candidates[number].firm
        row = rows[VELOCITY_ROW]
        out.append(
            Constraint(
                "rest", start_s + span.start * dt, start_s + span.stop * dt, firm, -float(miss[row]),
                float(np.sqrt(noise[row])), _sigmas(left, spread), moved, start_s + at,
            )
        )  # fmt: skip
    firm_ones = [number for number in believed if solution.candidates[number].firm]
    first_height = ROWS * len(believed)
    for place, number in enumerate(firm_ones[1:]):
        row = first_height + place
        moved, at = _moved(solution, noise, np.array([row]), upward, t)
        first, span = solution.candidates[firm_ones[0]].span, solution.candidates[number].span
        out.append(
            Constraint(
                "same_height", start_s + first.start * dt, start_s + span.stop * dt, True, -float(miss[row]),
                float(np.sqrt(noise[row])), abs(float(miss[row])) / float(np.sqrt(noise[row])), moved, start_s + at,
            )
        )  # fmt: skip
    for number, rest in enumerate(solution.candidates):
        if number in believed:
            continue
        (left,), (spread,) = solution.expected_misses([number])
        out.append(
            Constraint(
                "not_believed", start_s + rest.span.start * dt, start_s + rest.span.stop * dt, rest.firm,
                -float(left[VELOCITY_ROW]), float(np.sqrt(spread[VELOCITY_ROW, VELOCITY_ROW])), _sigmas(left, spread),
                0.0, start_s + rest.span.start * dt,
            )
        )  # fmt: skip
    return tuple(sorted(out, key=lambda one: (one.start_s, one.stop_s)))


def _noise(solution: Solution) -> Floats:
    lower = np.tril(solution.factor[0])
    rows = solution.rows
    whole = np.einsum("mk,mk->m", lower, lower) - np.einsum("mc,mc->m", rows, rows)
    return np.asarray(np.maximum(whole, 1e-12))


def _moved(
    solution: Solution, noise: Floats, without: NDArray[np.intp], upward: Floats, t: Floats
) -> tuple[float, float]:
    """Greatest change of upward velocity when these rows are left out of the last linear solve, and when, s."""
    kept = np.setdiff1d(np.arange(len(noise)), without)
    if not len(kept):
        return 0.0, 0.0
    rows = solution.rows[kept]
    spread = rows @ rows.T
    spread[np.diag_indices_from(spread)] += noise[kept]
    latent = rows.T @ np.linalg.solve(spread, solution.wanted[kept])
    change = latent - solution.latent
    columns = np.concatenate((solution.prior.factor @ change[:CONSTANTS], change[CONSTANTS:]))
    velocity = upward @ columns
    most = int(np.argmax(np.abs(velocity)))
    return abs(float(velocity[most])), float(t[most])


def _sigmas(miss: Floats, spread: Floats) -> float:
    factor = np.linalg.cholesky(spread + 1e-15 * np.eye(len(spread)))
    return float(np.sqrt(miss @ cho_solve((factor, True), miss) / len(miss)))
