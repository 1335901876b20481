"""The line of one athlete: against other methods, and what it does with little, much, bad and strange data."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.profiles.training import DAY, point, year
from barwright.analysis.profiles.belief import DayEfforts, see_day, wait_until
from barwright.analysis.profiles.columns import columns_of, point_columns
from barwright.analysis.profiles.courses import fit_courses
from barwright.analysis.profiles.fit import fit_profile, learn
from barwright.analysis.profiles.points import Attempt, LoadVelocityPoint, MeasuredMax
from barwright.analysis.profiles.priors import LiftPrior, prior_for
from bench.athletes import Habits, athlete

SQUAT = prior_for("back_squat")
VAGUE = LiftPrior("back_squat", "mean_velocity", 0.3, 0.6, 1.5, 2.0, "no prior to speak of, but straight", 0.0, 1e-3)


def relative_u(points: list[LoadVelocityPoint]) -> float:
    """u of the predicted maximum over itself."""
    found = fit_profile("back_squat", points).predicted_max
    assert found.value
    assert found.u is not None
    return found.u / found.value


def test_line_against_theil_sen_and_a_robust_regression_with_two_bad_reps() -> None:
    """scipy.stats.theilslopes (Theil 1950, Sen 1968), statsmodels RLM (Tukey's biweight); least squares goes astray."""
    from scipy.stats import theilslopes  # both are slow to load, and only this test needs them
    from statsmodels.robust.norms import TukeyBiweight
    from statsmodels.robust.robust_linear_model import RLM

    rng = np.random.default_rng(5)
    load = np.arange(40.0, 112.0, 4.0)
    velocity = 1.75 - 0.0135 * load + 0.02 * rng.normal(size=len(load))
    velocity[[12, 16]] -= (0.35, 0.30)
    theil = theilslopes(velocity, load)
    robust = RLM(velocity, np.stack([np.ones_like(load), load], axis=1), M=TukeyBiweight()).fit()
    plain = np.polyfit(load, velocity, 1)[0]
    found = fit_profile("back_squat", [point(x, v) for x, v in zip(load, velocity, strict=True)], prior=VAGUE)
    se = math.sqrt(found.covariance[1][1])
    assert abs(found.slope - theil[0]) < 1.5 * se
    assert abs(found.slope - robust.params[1]) < 1.0 * se
    assert abs(found.intercept - robust.params[0]) < 1.0 * math.sqrt(found.covariance[0][0])
    assert abs(plain - found.slope) > 2.0 * se
    assert found.slope == pytest.approx(-0.0135, abs=2.5 * se)


def test_without_bad_reps_the_line_is_weighted_least_squares() -> None:
    """Heteroscedastic by u: numpy.polyfit with weights 1/u on the same points (normal noise, vague prior)."""
    rng = np.random.default_rng(2)
    load = np.linspace(40, 110, 15)
    u = np.where(load > 80, 0.08, 0.02)
    velocity = 1.75 - 0.0135 * load + u * rng.normal(size=len(load))
    weighted = np.polyfit(load, velocity, 1, w=1 / u)
    points = [point(x, v, u=s) for x, v, s in zip(load, velocity, u, strict=True)]
    found = fit_profile("back_squat", points, prior=replace(VAGUE, spread=0.002))
    assert abs(found.slope - weighted[0]) < 0.5 * math.sqrt(found.covariance[1][1])


def test_many_days_give_a_narrow_and_a_first_day_a_wide_interval() -> None:
    days = year()
    first = relative_u(days[:2])
    assert first > 0.05
    assert relative_u(days[:30]) < 0.75 * first
    # what is left after a year is the one-rep velocity, which only heavy singles tell: 0.04 / 1.5
    assert 0.02 < relative_u(days) < 0.032


def test_a_tested_maximum_tells_the_one_rep_velocity_too() -> None:
    """An athlete far from the group's 0.32 m/s: velocities alone cannot know, one tested maximum can."""
    days = year(one_rep=0.22)
    alone = fit_profile("back_squat", days)
    tested = fit_profile("back_squat", days, [MeasuredMax(120, DAY + 9), MeasuredMax(119, DAY + 150)])
    assert abs(tested.predicted_max.value - 120) < abs(alone.predicted_max.value - 120)  # type: ignore[operator]
    assert tested.predicted_max.value == pytest.approx(120, rel=0.03)
    assert abs(tested.one_rep_velocity.value - 0.22) < 0.03  # type: ignore[operator]
    assert tested.predicted_max.u < 0.8 * alone.predicted_max.u  # type: ignore[operator]


def test_the_truth_lies_in_the_stated_intervals_of_a_year() -> None:
    inside = 0
    for seed in range(40):
        rng = np.random.default_rng(100 + seed)
        one_rep, slope = 0.32 + 0.04 * rng.normal(), 1.5 + 0.2 * rng.normal()
        low, high = fit_profile("back_squat", year(seed, 40, one_rep=one_rep, slope=slope)).interval_95
        inside += low <= 120 <= high
    assert inside >= 35


def test_a_bad_rep_moves_the_maximum_little() -> None:
    days = year(days=10)
    bad = [*days[:-1], point(days[-1].load_kg, 0.15, days[-1].day)]
    good = fit_profile("back_squat", days).predicted_max.value
    assert fit_profile("back_squat", bad).predicted_max.value == pytest.approx(good, rel=0.012)


def test_a_made_lift_is_a_lower_bound_and_a_miss_says_little() -> None:
    days = year(days=4, maximum=100)
    before = fit_profile("back_squat", days)
    last = days[-1].day
    made = fit_profile("back_squat", days, attempts=[Attempt(112, last, made=True)])
    missed = fit_profile("back_squat", days, attempts=[Attempt(96, last, made=False)])
    light = fit_profile("back_squat", days, attempts=[Attempt(80, last, made=True)])
    low, high = (made.predicted_max.value or 0) - 100, 100 - (missed.predicted_max.value or 0)
    assert made.predicted_max.value > before.predicted_max.value + 2  # type: ignore[operator]
    assert missed.predicted_max.value < before.predicted_max.value  # type: ignore[operator]
    assert high < low, "a miss pulls less than a made lift pushes"
    assert light.predicted_max.value == pytest.approx(before.predicted_max.value, rel=1e-3)


def test_what_a_profile_lacks_is_said() -> None:
    light = fit_profile("back_squat", [point(50, 1.1), point(70, 0.8)])
    assert [note.split()[0] for note in light.notes] == ["rests", "the", "the"]
    assert "% of the maximum" in light.notes[1]
    tests = [MeasuredMax(120, DAY + 30 * k) for k in range(6)]
    assert fit_profile("back_squat", year(), tests).notes == ()


def test_light_sets_without_a_velocity_change_nothing() -> None:
    days = year(days=6)
    plain = fit_profile("back_squat", days)
    light = fit_profile("back_squat", days, attempts=[Attempt(30, DAY + 3 * k, made=True) for k in range(6)])
    assert light.predicted_max.value == pytest.approx(plain.predicted_max.value, rel=1e-6)


def test_days_after_the_asked_one_do_not_count() -> None:
    days = year(days=20)
    cut = days[29].day
    assert fit_profile("back_squat", days, on=cut) == fit_profile("back_squat", days[:30], on=cut)


def test_nothing_seen_is_an_error_in_words() -> None:
    with pytest.raises(ValueError, match="one made rep"):
        fit_profile("back_squat", [])


def test_velocity_load_and_percentage_are_one_line() -> None:
    found = fit_profile("back_squat", year(days=20))
    for load in (50.0, 90.0, 115.0):
        velocity = found.velocity_at(load).value or 0.0
        assert found.load_at(velocity).value == pytest.approx(load)
        share = found.percent_at(velocity).value
        assert share == pytest.approx(100 * load / (found.predicted_max.value or 1), abs=0.01)
    at_max = found.velocity_at(found.predicted_max.value or 1)
    assert at_max.value == pytest.approx(found.one_rep_velocity.value)
    assert (found.days, found.loads) == (20, 3)


def test_a_time_without_training_widens_what_is_believed() -> None:
    belief = learn(SQUAT, year(days=20))
    later = wait_until(belief, belief.day + 60)
    assert later.usual_max_sd**2 > belief.usual_max_sd**2 + 50 * belief.drift
    assert wait_until(belief, belief.day - 5) == belief


def test_one_athlete_or_many_together_give_the_same() -> None:
    courses = [columns_of(year(seed, 5 + 7 * seed), [MeasuredMax(118, DAY)] if seed % 2 else []) for seed in range(6)]
    together = fit_courses(courses, [SQUAT] * 6)
    for course, one in zip(courses, together, strict=True):
        (alone,) = fit_courses([course], [SQUAT])
        assert alone.belief.mean == pytest.approx(one.belief.mean, abs=1e-7)
        assert alone.log_max == pytest.approx(one.log_max, abs=1e-7)
        assert alone.belief.days == one.belief.days


def test_the_day_by_day_update_agrees_with_the_fit_of_all_days() -> None:
    """Two ways of computing: the last day added to the belief of the others, and everything at once."""
    days = year(days=60)
    before = learn(SQUAT, days[:-3])
    step = see_day(wait_until(before, days[-1].day), DayEfforts(days[-3:]))
    (whole,) = fit_courses([columns_of(days)], [SQUAT])
    assert step.log_max == pytest.approx(float(whole.log_max[-1]), abs=0.004)
    assert step.log_max_sd == pytest.approx(float(whole.log_max_sd[-1]), rel=0.1)
    assert step.after.mean[2] == pytest.approx(whole.belief.mean[2], abs=0.003)


def test_spreads_are_learnt() -> None:
    """Days of 1.5 and 5 %, reps of 0.02 and 0.05 m/s with u 0.02 told: found within a third after a long history."""
    for day_sd, noise in ((0.015, 0.02), (0.05, 0.02), (0.015, 0.05), (0.05, 0.05)):
        habits = Habits(days=(150, 150), day_sd=(day_sd, day_sd), noise=(noise, noise), bad=0.0, drift=(0.006, 0.006))
        fits = fit_courses([athlete(seed, SQUAT, habits).columns() for seed in range(30)], [SQUAT] * 30)
        found = np.median([fit.belief.day_sd for fit in fits])
        assert found == pytest.approx(day_sd, rel=0.34)
        whole = np.median([math.hypot(fit.belief.spread, 0.02) for fit in fits])
        assert whole == pytest.approx(noise, rel=0.2)


def test_arrays_with_nonsense_are_refused_with_the_place() -> None:
    days = np.full(3, DAY)
    with pytest.raises(ValueError, match="load_kg/1"):
        point_columns(days, np.array([50.0, -1.0, 60.0]), np.full(3, 0.8), np.full(3, 0.02))
    with pytest.raises(ValueError, match="velocity/2"):
        point_columns(days, np.full(3, 60.0), np.array([0.8, 0.7, 6.5]), np.full(3, 0.02))


def test_two_hundred_athletes_of_200_sessions_are_quick() -> None:
    """The bench times 1,000 on a quiet machine (2 s); here a fifth of them in CPU time, with room to spare."""
    courses = [athlete(seed, SQUAT, Habits(days=(200, 200))).columns() for seed in range(200)]
    start = time.process_time()
    fit_courses(courses, [SQUAT] * 200)
    assert time.process_time() - start < 1.6


rows = st.tuples(st.floats(0.5, 600), st.floats(0.01, 6), st.integers(0, 400), st.floats(0, 2))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(rows, min_size=1, max_size=12),
    st.lists(st.tuples(st.floats(1, 600), st.integers(0, 400)), max_size=3),
    st.lists(st.tuples(st.floats(1, 600), st.integers(0, 400), st.booleans()), max_size=3),
    st.sampled_from(["back_squat", "snatch", "deadlift", "tall_clean"]),
)
def test_whatever_was_seen_the_answer_is_finite(
    seen: list[tuple[float, float, int, float]],
    maxima: list[tuple[float, int]],
    tries: list[tuple[float, int, bool]],
    lift: str,
) -> None:
    points = [point(load, v, DAY + day, u) for load, v, day, u in seen]
    measured = [MeasuredMax(kg, DAY + day) for kg, day in maxima]
    attempts = [Attempt(kg, DAY + day, made) for kg, day, made in tries]
    found = fit_profile(lift, points, measured, attempts)
    assert found.predicted_max.value is not None
    assert 0 < found.predicted_max.value < 1e5
    assert found.slope < 0
    assert np.linalg.eigvalsh(np.array(found.belief.covariance)).min() > -1e-9
    seen_day = see_day(wait_until(found.belief, found.on + 1), DayEfforts(points, measured, attempts))
    assert math.isfinite(seen_day.log_max)
