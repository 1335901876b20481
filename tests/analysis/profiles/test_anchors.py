"""Beliefs that are kept: fitted anew after some days, stepped between."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.profiles.training import DAY, year
from barwright.analysis.profiles.anchors import EVERY, anchors, efforts_by_day, is_anchor, step_on
from barwright.analysis.profiles.columns import columns_of
from barwright.analysis.profiles.fit import learn
from barwright.analysis.profiles.points import Attempt, MeasuredMax
from barwright.analysis.profiles.priors import prior_for

SQUAT = prior_for("back_squat")


def test_anchors_are_fits_of_everything_up_to_their_day() -> None:
    points = year(days=30)
    found = anchors(SQUAT, columns_of(points))
    assert [one.days for one in found] == [*range(1, EVERY + 1), 16, 24]
    alone = learn(SQUAT, [point for point in points if point.day <= found[-1].day])
    assert found[-1].mean == pytest.approx(alone.mean, abs=1e-6)
    (later,) = anchors(SQUAT, columns_of(points), found[-2].day)
    assert (later.day, later.mean) == (found[-1].day, pytest.approx(found[-1].mean, abs=1e-9))
    assert anchors(SQUAT, columns_of(points), found[-1].day) == []
    assert not is_anchor(23)


def test_the_steps_since_an_anchor_come_near_a_fit_of_everything() -> None:
    """Seven days, the farthest there is, maxima and attempts among them: within a third of what is not known anyway."""
    points = year(days=63)
    last = sorted({point.day for point in points})
    seen = columns_of(points, [MeasuredMax(118, last[58])], [Attempt(110, last[60], made=False)])
    anchor = next(one for one in anchors(SQUAT, seen) if one.days == 56)
    days = efforts_by_day(seen, anchor.day)
    assert [len(one.points) for _, one in days] == [3] * 7
    assert (len(days[2][1].maxima), len(days[4][1].attempts)) == (1, 1)
    stepped, whole = (
        step_on(anchor, days),
        learn(SQUAT, points, [MeasuredMax(118, last[58])], [Attempt(110, last[60], False)]),
    )
    assert (stepped.day, stepped.days) == (whole.day, whole.days)
    assert stepped.mean[3] == pytest.approx(whole.mean[3], abs=whole.usual_max_sd / 3)
    assert stepped.usual_max_sd == pytest.approx(whole.usual_max_sd, rel=0.1)


def test_days_are_told_from_columns_as_they_were() -> None:
    points = year(days=3)
    days = efforts_by_day(columns_of(points), DAY)
    assert [day for day, _ in days] == sorted({point.day for point in points})[1:]
    told = [(one.load_kg, one.velocity.value) for _, efforts in days for one in efforts.points]
    assert np.array(told) == pytest.approx(np.array([(p.load_kg, p.velocity.value) for p in points[3:]]))
