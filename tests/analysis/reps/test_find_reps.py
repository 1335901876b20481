"""Reps counted on hand-drawn motions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.reps.shapes import from_velocity
from analysis.truths import KnownErrors
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.find_reps import find_reps


def squats(
    depths: list[float], down_s: float = 1.4, up_s: float = 1.0, pause_s: float = 1.0
) -> list[tuple[float, float]]:
    """Velocity knots of squats of the given depths in m."""
    knots, t = [(1.0, 0.0)], 1.0
    for depth in depths:
        for length, way in ((down_s, -1.0), (up_s, 1.0)):
            knots += [(t + length / 2, way * 2 * depth / length), (t + length, 0.0)]
            t += length
        t += pause_s
        knots.append((t, 0.0))
    return knots


@pytest.mark.parametrize("count", [1, 2, 5, 10])
@pytest.mark.parametrize("down_s", [0.8, 1.5, 4.0])
def test_squats_are_counted(count: int, down_s: float) -> None:
    knots = squats([0.6] * count, down_s)
    found = find_reps(from_velocity(knots, knots[-1][0] + 1.0, 0.003), LIFTS["back_squat"])
    assert [rep.outcome for rep in found] == ["made"] * count


def test_reps_without_a_pause_are_counted() -> None:
    knots = squats([0.6] * 6, 0.9, 0.7, 0.05)
    assert len(find_reps(from_velocity(knots, knots[-1][0] + 1.0), LIFTS["back_squat"])) == 6


def test_a_half_squat_among_whole_ones_is_partial() -> None:
    knots = squats([0.6, 0.6, 0.3, 0.6])
    found = find_reps(from_velocity(knots, knots[-1][0] + 1.0), LIFTS["back_squat"])
    assert [rep.outcome for rep in found] == ["made", "made", "partial", "made"]


def test_a_few_centimetres_of_fidgeting_are_no_rep() -> None:
    knots = squats([0.04, 0.06, 0.05])
    assert find_reps(from_velocity(knots, knots[-1][0] + 1.0), LIFTS["back_squat"]) == []


def test_a_still_bar_holds_no_rep_of_any_lift() -> None:
    still = from_velocity([(2.0, 0.0), (2.1, 0.0)], 5.0, 0.003)
    for lift in LIFTS.values():
        assert find_reps(still, lift) == []


@pytest.mark.parametrize("lift", ["deadlift", "press", "bent_over_row"])
def test_lifts_that_go_up_first_are_counted(lift: str) -> None:
    knots, t = [(1.0, 0.0)], 1.0
    for _ in range(3):
        for way in (0.8, 0.0, -0.7):
            knots += [(t + 0.5, way), (t + 1.0, 0.0)]
            t += 1.0
    found = find_reps(from_velocity(knots, t + 1.5), LIFTS[lift])
    assert [rep.outcome for rep in found] == ["made"] * 3


@pytest.mark.parametrize(("u_z", "outcome"), [(0.003, "failed"), (0.06, "made")])
def test_a_jerk_is_lost_only_where_its_height_is_known_to_have_gone(u_z: float, outcome: str) -> None:
    """Dip 0.2 m, up by 0.5 m, 0.27 m down again: 3 cm over the shoulders, then stood up with.

    Known to 3 mm the bar was back at the shoulders; known to 6 cm it may well have stayed overhead, where it ends.
    """
    knots = [(1.0, 0.0), (1.25, -0.8), (1.5, 0.0), (1.8, 1.7), (2.09, 0.0), (2.36, -1.0), (2.63, 0.0), (3.2, 0.0)]
    knots += [(3.7, 0.8), (4.2, 0.0)]
    motion = from_velocity(knots, 6.0)
    height = motion.position[:, 2]
    assert 0.02 < height[3000] < 0.045
    assert height[5000] > 0.4
    found = find_reps(replace(motion, errors=KnownErrors(u_z=u_z)), LIFTS["jerk"])
    assert found[0].outcome == outcome
