"""Did it help: change against daily wandering, over sessions."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from barwright.analysis.technique.limits import SNATCH
from barwright.analysis.technique.response import Response, Session, response_to, sessions_of
from lifts_by_hand import reps

(S9,) = (limit for limit in SNATCH if limit.code == "S9")
GIVEN = date(2026, 10, 1)


def sessions(values, start: date) -> list[Session]:
    return [Session(start + timedelta(days=3 * k), float(v), 0.003, 3) for k, v in enumerate(values)]


def told(before, after, today: date | None = None):
    one = sessions(before, GIVEN - timedelta(days=3 * len(before)))
    two = sessions(after, GIVEN + timedelta(days=2))
    return response_to([*one, *two], S9, GIVEN, today or GIVEN + timedelta(days=40))


def test_a_clear_fall_has_helped_and_a_clear_rise_is_worse():
    fell = told([0.12, 0.13, 0.12, 0.125], [0.11, 0.1, 0.09, 0.08, 0.07])
    assert fell.response is Response.HELPED
    assert fell.change.value == pytest.approx(-0.055, abs=0.012)
    assert fell.low < fell.change.value < fell.high < 0
    assert fell.better > 0.97
    assert told([0.06, 0.065, 0.06], [0.08, 0.09, 0.11, 0.12]).response is Response.WORSE


def test_wandering_alone_is_no_change_and_asks_for_the_next_drill_after_three_weeks():
    same = [0.12, 0.11, 0.13, 0.125]
    later = told(same, same)
    assert (later.response, later.swap) == (Response.NO_CHANGE, True)
    assert told(same, same, GIVEN + timedelta(days=20)).swap is False


def test_few_sessions_are_too_early():
    early = told([0.12, 0.11, 0.13], [0.05, 0.05])
    assert (early.response, early.change, early.swap) == (Response.TOO_EARLY, None, False)
    assert "2 of at least 3" in early.words
    assert told([0.12], [0.05] * 6).response is Response.TOO_EARLY


def test_only_made_lifts_at_a_like_load_count():
    seen = [*reps(3), *reps(2, first=3, load_kg=60.0)]
    assert [s.reps for s in sessions_of(seen, S9, 80.0)] == [3, 3, 3]
    assert len(sessions_of(seen, S9, 60.0)) == 2


def test_rates_over_many_histories():
    """A fault halved over 12 sessions is called helped in >= 80 %; no true change in <= 5 %."""
    rng = np.random.default_rng(5)
    helped = {True: 0, False: 0}
    for _ in range(300):
        fault = float(rng.uniform(1.5, 3.0)) * S9.own
        for better in (True, False):
            fall = 0.5 * fault * np.arange(1, 13) / 12 if better else np.zeros(12)
            days = rng.normal(0, 0.008, 18)  # of a day, and of three reps
            values = 0.05 + fault + days + rng.normal(0, S9.spread / np.sqrt(3), 18)
            found = told(values[:6], values[6:] - fall)
            helped[better] += found.response is Response.HELPED
    assert helped[True] / 300 >= 0.80
    assert helped[False] / 300 <= 0.05
