"""The posterior against a dense generalised least squares, and its variances against Monte-Carlo draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.motion.stretches import BELIEVED, constant_prior, linearised, tumble
from barwright.analysis.motion.error_model import CONSTANTS
from barwright.analysis.motion.rest_solve import FLOOR_SD_M, ConstantPrior, Solution, solve

Floats = NDArray[np.float64]
STRETCH = tumble()
AT = linearised(STRETCH)


def plain_fit(prior: ConstantPrior, believed: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Mean and covariance of constants and wandering: every prior and every rest as one whitened row, then lstsq."""
    columns = AT.model.columns
    rows, values = [], []

    def say(row: Floats, value: float, sd: float) -> None:
        rows.append(row / sd)
        values.append(value / sd)

    whiten = np.linalg.inv(prior.factor)
    for k in range(CONSTANTS):
        row = np.zeros(columns)
        row[:CONSTANTS] = whiten[k]
        say(row, float(whiten[k] @ prior.mean), 1.0)
    for k in range(CONSTANTS, columns):
        row = np.zeros(columns)
        row[k] = 1.0
        say(row, 0.0, 1.0)
    told = AT.rests
    for i in believed:
        for k in range(9):
            say(told.jacobian[i, k], told.wanted[i, k], float(np.sqrt(told.variance[i, k])))
    firm = [i for i in believed if STRETCH.candidates[i].firm]
    for i in firm[1:]:
        lower = told.height[firm[0]] - told.height[i]
        say(told.height_rows[i] - told.height_rows[firm[0]], float(lower), FLOOR_SD_M)
    stacked = np.array(rows)
    mean = np.linalg.lstsq(stacked, np.array(values), rcond=None)[0]
    return np.asarray(mean), np.asarray(np.linalg.inv(stacked.T @ stacked))


def correlated_prior() -> ConstantPrior:
    """A prior as another stretch of the recording would give it: not at nought, constants hanging together."""
    base = constant_prior()
    rng = np.random.default_rng(8)
    mixed = base.factor @ (np.eye(CONSTANTS) + np.tril(rng.normal(0, 0.2, (CONSTANTS, CONSTANTS)), -1))
    mixed[26] = base.factor[26]  # nothing observes the heading: it stays pinned
    return ConstantPrior(0.5 * base.factor @ rng.normal(size=CONSTANTS), mixed)


@pytest.mark.parametrize("prior", [constant_prior(), correlated_prior()], ids=["independent", "correlated"])
@pytest.mark.parametrize("believed", [(0,), (0, 1), BELIEVED])
def test_the_posterior_is_that_of_a_dense_least_squares(prior: ConstantPrior, believed: tuple[int, ...]) -> None:
    found = solve(STRETCH, AT, believed, prior)
    mean, covariance = plain_fit(prior, believed)
    sd = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(found.theta / sd[:CONSTANTS], mean[:CONSTANTS] / sd[:CONSTANTS], atol=1e-5)
    np.testing.assert_allclose(found.latent[CONSTANTS:], mean[CONSTANTS:], atol=1e-6)
    rows = AT.model.velocity_rows(np.linspace(0.0, 3.9, 9))[:, 2]
    np.testing.assert_allclose(found.variances(rows), np.einsum("ij,jk,ik->i", rows, covariance, rows), rtol=1e-4)
    np.testing.assert_allclose(found.covariance(rows), rows @ covariance @ rows.T, rtol=1e-3, atol=1e-9)
    shared = found.shared_covariance(24)
    np.testing.assert_allclose(
        shared / np.outer(sd[:24], sd[:24]), covariance[:24, :24] / np.outer(sd[:24], sd[:24]), atol=1e-4
    )


def test_a_rest_left_out_is_missed_by_what_the_others_expect() -> None:
    """expected_misses of a rest not used and left_out_misses of one used are the same question asked twice."""
    prior = constant_prior()
    whole, without = solve(STRETCH, AT, BELIEVED, prior), solve(STRETCH, AT, (0, 2), prior)
    (miss,), (spread,) = without.expected_misses([1])
    again, spread_again = (told[1] for told in whole.left_out_misses())
    sd = np.sqrt(np.diag(spread))
    np.testing.assert_allclose(again / sd, miss / sd, atol=1e-5)
    np.testing.assert_allclose(spread_again / np.outer(sd, sd), spread / np.outer(sd, sd), atol=1e-5)


def drawn(rng: np.random.Generator, prior: ConstantPrior) -> tuple[Floats, Solution]:
    """True columns drawn from the prior, and the posterior from rests observed with their own noise."""
    true = np.concatenate(
        (prior.mean + prior.factor @ rng.normal(size=CONSTANTS), rng.normal(size=AT.model.columns - CONSTANTS))
    )
    told = AT.rests
    wanted = told.jacobian @ true + rng.normal(size=told.wanted.shape) * np.sqrt(told.variance)
    floor = told.height_rows @ true
    height = -floor + rng.normal(size=len(floor)) * FLOOR_SD_M / np.sqrt(2)
    seen = replace(AT, rests=replace(told, wanted=wanted, height=height))
    return true, solve(STRETCH, seen, BELIEVED, prior)


def test_variances_are_those_of_monte_carlo_draws() -> None:
    prior, rng = constant_prior(), np.random.default_rng(5)
    t = np.array([1.3, 1.7, 2.0, 2.3])
    rows = np.concatenate((AT.model.velocity_rows(t)[:, 2], AT.model.velocity_rows(t)[:, 0]))
    heights = AT.model.position_rows(np.array([0.5, 1.7, 2.0]))
    rows = np.concatenate((rows, heights[1:, 2] - heights[0, 2], heights[1:, 0] - heights[0, 0]))
    errors = []
    for _ in range(1500):
        true, found = drawn(rng, prior)
        guess = np.concatenate((found.theta, found.latent[CONSTANTS:]))
        errors.append(rows @ (guess - true))
    spread = np.sqrt(np.mean(np.square(errors), axis=0))
    # 1500 draws tell a standard deviation to 1.8 %
    np.testing.assert_allclose(spread, np.sqrt(found.variances(rows)), rtol=0.07)
