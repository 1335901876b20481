"""From samples to faults: the sensor's place, the way down and the class of sensor do not change what is found."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from barsim import EncoderKind, Mounting, Options, simulate
from barsim.technique import DEVIATION, faulty, own_style, true_symptoms
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.analysis.technique.faults import Findings, find_faults
from barwright.analysis.technique.limits import limits_for
from barwright.analysis.technique.seen import SeenRep

AT = datetime(2026, 9, 1, 17, tzinfo=UTC)
STYLE = own_style("snatch", np.random.default_rng(3))


def day(
    number: int, sizes: dict[str, float], device: str | None = "good", lifter: str = "Imke", finish: str = "dropped",
    bar_axis: str | tuple[float, float, float] = "+x", turn: float | None = None, encoder: EncoderKind | None = None,
) -> list[SeenRep]:  # fmt: skip
    """A set of three snatches of one lifter on a day."""
    one = simulate(
        "snatch", seed=40 + number, device=device, reps=3, lifter=lifter, share=0.8, encoder=encoder,
        options=Options(style=STYLE, finish=finish, faults=faulty(sizes)), mounting=Mounting(bar_axis, turn),
    )  # fmt: skip
    reps = analyse_set(one.recording, LIFTS["snatch"]).reps
    return [
        SeenRep(f"set_{number}", rep.index, AT + timedelta(days=number), 80.0, rep.outcome,
                {**rep.measures, **rep.path_measures})
        for rep in reps
    ]  # fmt: skip


@pytest.fixture(scope="module")
def good_days() -> list[SeenRep]:
    """Two good days."""
    return [*day(0, {}), *day(1, {})]


def look(*days: list[SeenRep]) -> Findings:
    return find_faults([rep for one in days for rep in one], limits_for(LIFTS["snatch"]))


def codes(found: Findings) -> list[str]:
    return [fault.code for fault in found.faults]


PLACES = [
    {}, {"bar_axis": "-y"}, {"bar_axis": (0.6, 0.0, -0.8), "turn": 2.0}, {"finish": "lowered"}, {"lifter": "Tomas"},
    {"device": "hobby"},
]  # fmt: skip


@pytest.mark.parametrize("place", PLACES, ids=["plain", "other end", "askew", "lowered", "a man's bar", "hobby"])
def test_the_same_faults_wherever_the_sensor_sits(place, good_days):
    found = look(good_days, day(2, {"S1": 2.0, "S9": 2.0}, **place))
    assert codes(found)[0] == "S1"
    assert "S9" in codes(found)
    assert found.faults[0].size.value == pytest.approx(0.03, abs=0.012)


def test_a_lifter_without_a_fault_is_told_none(good_days):
    assert codes(look(good_days, day(2, {}))) == []


def test_a_string_judges_the_vertical_and_says_what_it_cannot():
    string = {"device": None, "encoder": EncoderKind(rate_hz=200.0, resolution_m=0.0005)}
    found = look(day(0, {}, **string), day(1, {}, **string), day(2, {"S11": 2.5, "S1": 3.0}, **string))
    assert codes(found) == ["S11"]
    told = {one.code: one.why for one in found.not_judged}
    assert "vertical only" in told["S1"]


@pytest.mark.parametrize("code", ["S1", "S3", "S6", "S9", "S11", "S12"])
def test_a_simulated_fault_is_as_large_as_it_is_said_to_be(code):
    """The simulator's own account of a symptom against its plain reading from the motion."""
    measure = {limit.code: limit.measure for limit in limits_for(LIFTS["snatch"])}[code]
    name = {"swing_to_mid_turnover": "forward_swing"}.get(measure, measure)
    sizes = []
    for faults in ({}, {code: 2.0}):
        one = simulate("snatch", seed=8, device="good", share=0.8, options=Options(style=STYLE, faults=faulty(faults)))
        sizes.append(true_symptoms(one.bar, one.truth.reps[0])[name])
    tolerance = 0.35 * 2 * DEVIATION[code]
    assert abs(abs(sizes[1] - sizes[0]) - 2 * DEVIATION[code]) < tolerance
