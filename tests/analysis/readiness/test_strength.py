"""Strength over months against another implementation of the local level, and its course in words."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from analysis.profiles.training import DAY, point, year
from barwright.analysis.profiles.columns import columns_of, join
from barwright.analysis.profiles.many_days import Solved, Spreads, begin, certainty, line_of, one_round
from barwright.analysis.profiles.points import MeasuredMax
from barwright.analysis.profiles.priors import FIRST_SD, prior_for
from barwright.analysis.profiles.spreads import centres_of, learn_day_and_drift
from barwright.analysis.profiles.tridiagonal import factorise
from barwright.analysis.readiness.strength import strength_over_months

SQUAT = prior_for("back_squat")
DAY_SD, DRIFT, TEST_SD = 0.03, 4e-5, 0.01


def simulated(seed: int, count: int, most_gap: int) -> tuple[list[MeasuredMax], np.ndarray, np.ndarray]:
    """Tested maxima of days with gaps: what is told, the days, and the log maxima told."""
    rng = np.random.default_rng(seed)
    days = np.cumsum(rng.integers(1, most_gap + 1, count))
    level = math.log(100) + np.cumsum(np.sqrt(DRIFT * np.diff(days, prepend=days[0])) * rng.normal(size=count))
    told = level + np.clip(rng.normal(size=count), -2, 2) * math.hypot(DAY_SD, TEST_SD)
    kg = np.exp(told)
    return [MeasuredMax(k, int(DAY + d), TEST_SD * k) for k, d in zip(kg, days, strict=True)], days, told


def reference(days: np.ndarray, told: np.ndarray, start: float) -> Any:
    """The local level of statsmodels on every day, nan where there was no training."""
    from statsmodels.tsa.statespace.structural import UnobservedComponents  # slow to load

    series = np.full(days[-1] - days[0] + 1, np.nan)
    series[days - days[0]] = told
    model = UnobservedComponents(series, "llevel")
    model.ssm.initialize_known(np.array([start]), np.array([[FIRST_SD**2]]))
    return model


def ours(maxima: list[MeasuredMax]) -> tuple[Solved, float, np.ndarray, np.ndarray]:
    """Level and its variance with the variances known."""
    joined = join([columns_of([], maxima)])
    line = line_of(joined, [SQUAT])
    spreads = Spreads(np.array([DAY_SD]), np.array([DRIFT]), np.array([0.03]))
    now = begin(joined, line)
    for _ in range(6):
        solved = one_round(joined, line, spreads, now)
        now = solved.fitted
    return solved, float(line.start[0]), now.level, certainty(joined, solved).level_var


@pytest.mark.parametrize(("count", "most_gap"), [(60, 1), (60, 12), (25, 40)])
def test_smoothed_and_filtered_level_equal_statsmodels(count: int, most_gap: int) -> None:
    """statsmodels UnobservedComponents, local level, the same variances; gaps are missing days."""
    maxima, days, told = simulated(count, count, most_gap)
    _, start, level, variance = ours(maxima)
    found = reference(days, told, start).smooth([DAY_SD**2 + TEST_SD**2, DRIFT])
    rows = days - days[0]
    assert level == pytest.approx(found.smoothed_state[0, rows], abs=2e-5)
    assert variance == pytest.approx(found.smoothed_state_cov[0, 0, rows], rel=2e-3)
    # the last day has nothing after it: the smoother is the filter there
    assert level[-1] == pytest.approx(found.filtered_state[0, -1], abs=2e-5)
    for k in (5, count // 2):
        _, _, cut, cut_variance = ours(maxima[: k + 1])
        again = reference(days[: k + 1], told[: k + 1], float(np.mean(told[: k + 1])))
        filtered = again.filter([DAY_SD**2 + TEST_SD**2, DRIFT])
        assert cut[-1] == pytest.approx(filtered.filtered_state[0, -1], abs=5e-5)
        assert cut_variance[-1] == pytest.approx(filtered.filtered_state_cov[0, 0, -1], rel=2e-3)


def test_variances_come_near_the_greatest_likelihood_of_statsmodels() -> None:
    """With 500 tested days the prior says little: within a quarter (day_sd) and 60 % (sd of the drift) of the fit."""
    maxima, days, told = simulated(9, 500, 3)
    solved, start, _, _ = ours(maxima)
    best = reference(days, told, start).fit(disp=False)
    joined = join([columns_of([], maxima)])
    day_sd, drift = learn_day_and_drift(joined, solved, line_of(joined, [SQUAT]), centres_of([SQUAT]))
    assert math.hypot(day_sd[0], TEST_SD) == pytest.approx(math.sqrt(best.params[0]), rel=0.25)
    assert math.sqrt(drift[0]) == pytest.approx(math.sqrt(best.params[1]), rel=0.6)


def test_little_data_keeps_the_usual_spreads() -> None:
    """Shrinkage: after three days the figures are near the prior's, after many they are the athlete's."""
    few = strength_over_months("back_squat", year(days=3)).belief
    assert few.day_sd == pytest.approx(SQUAT.day_sd, rel=0.35)
    assert 0.2 < few.drift / SQUAT.drift < 8


def test_chains_are_solved_like_whole_matrices() -> None:
    rng = np.random.default_rng(1)
    for n in (1, 2, 7):
        beside = -rng.uniform(0.5, 2, max(n - 1, 0))
        diagonal = np.abs(np.r_[beside, 0]) + np.abs(np.r_[0, beside]) + rng.uniform(0.1, 1, n)
        whole = np.diag(diagonal) + np.diag(beside, 1) + np.diag(beside, -1)
        chain, right = factorise(diagonal, beside), rng.normal(size=(3, n))
        assert chain.solve(right) == pytest.approx(np.linalg.solve(whole, right.T).T)
        assert chain.variances() == pytest.approx(np.diag(np.linalg.inv(whole)))
        assert np.sum(np.log(chain.pivots)) == pytest.approx(np.linalg.slogdet(whole)[1])
    with pytest.raises(ValueError, match="positive definite"):
        factorise(np.array([1.0, 1.0]), np.array([-3.0]))


def test_a_course_shows_growth_and_each_day() -> None:
    """120 to 132 kg over a year: the usual maximum follows, the days scatter about it."""
    points = []
    rng = np.random.default_rng(4)
    for k in range(110):
        today = (120 + 12 * k / 109) * np.exp(0.03 * rng.normal())
        for load in (70.0, 85.0, 100.0):
            points.append(point(load, float(0.32 + 1.5 * (1 - load / today) + 0.02 * rng.normal()), DAY + 3 * k))
    found = strength_over_months("back_squat", points)
    assert len(found.days) == 110
    first, last = found.days[5].usual.value or 0, found.days[-1].usual.value or 0
    assert last / first == pytest.approx(1.09, abs=0.03)
    usual = np.array([d.usual.value for d in found.days])
    days = np.array([d.day_max.estimate.value for d in found.days])
    assert np.std(np.log(days / usual)) == pytest.approx(0.03, rel=0.4)
    assert np.std(np.diff(np.log(usual))) < 0.3 * np.std(np.diff(np.log(days)))
    for d in found.days:
        assert d.day_max.interval_95[0] < d.day_max.interval_50[0] < d.day_max.interval_50[1] < d.day_max.interval_95[1]


def test_nothing_seen_is_an_error_in_words() -> None:
    with pytest.raises(ValueError, match="nothing to follow"):
        strength_over_months("snatch", [])
