"""Spans, figures and lifts."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright.analysis.quantities.chances import in_percent
from barwright.analysis.quantities.estimate import Estimate, unknown
from barwright.analysis.quantities.lifts import LIFTS, Pattern
from barwright.analysis.quantities.spans import Span, spans_of


@given(st.lists(st.booleans(), max_size=60))
def test_spans_are_the_runs_of_true(mask: list[bool]) -> None:
    found = spans_of(np.array(mask, dtype=bool))
    again = np.zeros(len(mask), dtype=bool)
    for span in found:
        assert len(span) > 0
        again[span.as_slice()] = True
    assert again.tolist() == mask
    assert all(a.stop < b.start for a, b in pairwise(found))


def test_an_empty_span_has_no_length() -> None:
    assert len(Span(5, 3)) == 0


def test_a_figure_has_value_and_uncertainty_or_a_reason() -> None:
    assert Estimate(1.8, 0.01, "m/s").reason is None
    assert unknown("m", "no horizontal").value is None
    for bad in (
        {"value": 1.0, "u": None}, {"value": None, "u": 0.1}, {"value": None, "u": None}, {"value": math.nan, "u": 0.1},
        {"value": 1.0, "u": -0.1}, {"value": 1.0, "u": math.nan},
    ):  # fmt: skip
        with pytest.raises(ValueError):
            Estimate(bad["value"], bad["u"], "m")


def test_lifts_are_known_by_their_code() -> None:
    assert len(LIFTS) > 25
    for code, lift in LIFTS.items():
        assert lift.code == code
        assert lift.start in {"floor", "hang", "blocks", "shoulders", "arms", "overhead"}
    # profiles of slow lifts are drawn with mean velocity, of ballistic ones with peak velocity (common practice)
    for lift in LIFTS.values():
        slow = lift.pattern in (Pattern.DOWN_UP, Pattern.UP_DOWN)
        assert lift.key_velocity == ("mean_velocity" if slow else "peak_velocity")


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "less than 1 %"), (0.004, "less than 1 %"), (0.006, "1 %"), (0.5, "50 %"), (0.994, "99 %"),
     (0.996, "more than 99 %"), (1.0, "more than 99 %")],
)  # fmt: skip
def test_no_chance_is_told_as_certain(chance: float, said: str) -> None:
    assert in_percent(chance) == said
