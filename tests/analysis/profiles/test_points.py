"""Which reps a profile rests on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.profiles.training import DAY, effort, speed
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.points import (
    Attempt,
    Effort,
    LoadVelocityPoint,
    MeasuredMax,
    best_points,
    missed_loads,
)
from barwright.analysis.quantities.estimate import unknown


def test_the_fastest_made_rep_of_each_load_and_day() -> None:
    reps = [
        effort(100, 0.70), effort(100, 0.74), effort(100, 0.72), effort(120, 0.55), effort(120, 0.90, outcome="failed"),
        effort(100, 0.68, DAY + 1), effort(120, 0.95, outcome="partial"),
    ]  # fmt: skip
    found = best_points(reps)
    assert [(p.day - DAY, p.load_kg, p.velocity.value, p.among) for p in found] == [
        (0, 100, 0.74, 3), (0, 120, 0.55, 1), (1, 100, 0.68, 1),
    ]  # fmt: skip


def test_a_rep_without_a_velocity_says_nothing() -> None:
    assert best_points([Effort(100, unknown("m/s", "no rest"), DAY)]) == ()


def test_misses_are_kept_as_attempts_once_a_load_and_day() -> None:
    reps = [effort(100, 0.7), effort(120, 0.5, outcome="failed"), effort(120, 0.4, outcome="failed")]
    assert missed_loads(reps) == (Attempt(120, DAY, made=False),)


def test_one_rep_has_no_luck_and_a_bad_rep_adds_none() -> None:
    (alone,) = best_points([effort(100, 0.7)])
    (beside,) = best_points([effort(100, 0.7), effort(100, 0.3)])
    assert alone.luck == 0.0
    assert beside.luck == 0.0


def test_the_luck_of_the_best_of_three_is_mostly_taken_off() -> None:
    """The greatest of three normal values is expected 3 / (2 sqrt(pi)) = 0.846 sd above the mean (order statistics)."""
    rng = np.random.default_rng(3)
    found = [best_points([effort(100, 0.7 + 0.03 * x) for x in rng.normal(size=3)])[0] for _ in range(4000)]
    raw = np.mean([p.velocity.value - 0.7 for p in found])
    assert raw == pytest.approx(0.03 * 3 / (2 * math.sqrt(math.pi)), rel=0.05)
    left = np.mean([(p.velocity.value or 0) - p.luck - 0.7 for p in found])
    assert abs(left) < 0.25 * raw


@pytest.mark.parametrize(
    ("make", "member"),
    [
        (lambda: effort(-20, 0.7), "load_kg"),
        (lambda: effort(0, 0.7), "load_kg"),
        (lambda: effort(601, 0.7), "load_kg"),
        (lambda: effort(math.nan, 0.7), "load_kg"),
        (lambda: effort(100, 6.1), "velocity"),
        (lambda: effort(100, -0.5), "velocity"),
        (lambda: LoadVelocityPoint(100, speed(7.0), DAY), "velocity"),
        (lambda: LoadVelocityPoint(100, speed(0.7), 5), "day"),
        (lambda: MeasuredMax(601, DAY), "load_kg"),
        (lambda: MeasuredMax(100, DAY, -1.0), "u_kg"),
        (lambda: Attempt(-1, DAY, made=True), "load_kg"),
    ],
)
def test_what_cannot_be_true_is_refused_with_its_member(make: object, member: str) -> None:
    with pytest.raises(NotPlausible) as told:
        make()  # type: ignore[operator]
    assert told.value.member == member
    assert "right" in told.value.detail


@given(st.lists(st.tuples(st.sampled_from([60.0, 80.0, 100.0]), st.floats(0.1, 1.5), st.integers(0, 2)), max_size=30))
def test_points_are_one_a_load_and_day_and_none_is_beaten(reps: list[tuple[float, float, int]]) -> None:
    found = best_points(effort(load, v, DAY + day) for load, v, day in reps)
    assert len({(p.load_kg, p.day) for p in found}) == len(found) == len({(load, day) for load, _, day in reps})
    for p in found:
        same = [v for load, v, day in reps if load == p.load_kg and DAY + day == p.day]
        assert p.velocity.value == max(same)
        assert 0.0 <= p.luck <= max(same) - min(same) + 1e-12
