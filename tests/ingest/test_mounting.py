from __future__ import annotations

import math
from typing import Any

import pytest

from barwright.ingest.mounting import parse_bar_axis
from ingest.bodies import refusal_of


@pytest.mark.parametrize(
    ("declared", "axis"),
    [
        ("+x", (1, 0, 0)),
        ("-x", (-1, 0, 0)),
        ("+Y", (0, 1, 0)),
        ("-z", (0, 0, -1)),
        ("z", (0, 0, 1)),
        ([0, -3, 0], (0, -1, 0)),
        ([3.0, 0, 4], (0.6, 0, 0.8)),
    ],
)
def test_axis(declared: Any, axis: tuple[float, float, float]) -> None:
    answer = parse_bar_axis(declared)
    assert answer == pytest.approx(axis)
    assert math.hypot(*answer) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "declared",
    ["", "+w", "left", "xy", None, True, 3, [0, 0, 0], [1, 0], [1, 0, 0, 0], [True, False, False], ["1", 0, 0],
     [float("nan"), 1, 0], [float("inf"), 0, 0], [10**400, 0, 0], {"x": 1}],
)  # fmt: skip
def test_nonsense_is_refused(declared: Any) -> None:
    refusal = refusal_of(parse_bar_axis, declared)
    assert (refusal.code, refusal.status, refusal.pointer) == ("bad-bar-axis", 422, "/mounting/bar_axis")
    assert "+x, -x" in refusal.detail
