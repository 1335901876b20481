"""Faults: own good lifts first, two of three, beyond u, the earliest first; styles are none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.faults import OWN, WIDE, Asked, find_faults
from barwright.analysis.technique.limits import PHASES, limits_for
from barwright.analysis.technique.seen import SeenRep
from lifts_by_hand import DAY, reps

SNATCH = limits_for(LIFTS["snatch"])


def codes(seen: list[SeenRep], asked: Asked | None = None) -> list[str]:
    return [fault.code for fault in find_faults(seen, SNATCH, asked).faults]


def changed(rep: SeenRep, **figures: float) -> SeenRep:
    told = {name: replace(rep.figures[name], value=value) for name, value in figures.items()}
    return replace(rep, figures={**rep.figures, **told})


def test_the_usual_lift_has_no_fault():
    found = find_faults(reps(4), SNATCH)
    assert found.faults == ()
    assert (len(found.recent), len(found.own)) == (3, 9)


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("S1", {"forward_off_floor": 0.025}), ("S2", {"early_fall": 0.15}), ("S3", {"x_at_knee": 0.05}),
        ("S4", {"velocity_at_knee": -0.22}), ("S5", {"x_at_knee": -0.06}), ("S6", {"velocity_dip": 0.2}),
        ("S7", {"forward_in_transition": 0.035}), ("S8", {"z_at_peak_velocity": -0.12}),
        ("S9", {"swing_to_mid_turnover": 0.06}), ("S10", {"peak_velocity": -0.2}), ("S11", {"drop_to_catch": 0.1}),
        ("S12", {"loop_to_catch": 0.06}), ("S13", {"loop_to_catch": -0.08}), ("S14", {"catch_bounce": 0.035}),
        ("S15", {"drift_in_recovery": 0.07}),
    ],
)  # fmt: skip
def test_each_symptom_is_told_by_its_rule_against_own_lifts(code, changes):
    (fault,) = find_faults([*reps(3), *reps(1, first=3, **changes)], SNATCH).faults
    assert (fault.code, fault.against, fault.in_reps, fault.of_reps) == (code, OWN, 3, 3)
    assert fault.sure > 0.9
    assert fault.reference is not None
    assert fault.source


def test_the_earliest_comes_first_and_the_rest_are_its_echoes():
    late = reps(1, first=3, drop_to_catch=0.1, swing_to_mid_turnover=0.06, forward_off_floor=0.03)
    found = find_faults([*reps(3), *late], SNATCH).faults
    assert [f.code for f in found] == ["S1", "S9", "S11"]
    assert [f.echo_of for f in found] == [None, "S1", "S1"]
    assert [PHASES.index(f.phase) for f in found] == sorted(PHASES.index(f.phase) for f in found)


def test_one_of_three_is_no_fault_and_two_of_three_are():
    good = reps(4)
    bad = {"forward_off_floor": 0.03}
    once = [*good[:-1], changed(good[-1], **bad)]
    assert codes(once) == []
    assert codes([*good[:-2], *(changed(rep, **bad) for rep in good[-2:])]) == ["S1"]


def test_the_greatest_height_alone_is_never_a_fault():
    """Made and forward-missed snatches do not differ in maximum height (Nagao et al. 2020, seen in the abstract)."""
    assert codes([*reps(3), *reps(1, first=3, peak_height=-0.15)]) == []
    assert codes([*reps(3), *reps(1, first=3, peak_height=0.15)]) == []
    assert all(limit.measure not in ("peak_height", "range_of_motion") for limit in SNATCH)


def test_a_path_that_never_crosses_is_a_style_of_ones_own():
    """B paths and backward jumps are successful styles (Schilling et al. 2002; Whitehead et al. 2014)."""
    rear = {"x_at_knee": -0.03, "swing_to_mid_turnover": -0.02, "loop_to_catch": -0.02}
    assert codes(reps(4, **rear)) == []


def test_wide_limits_stand_in_where_own_lifts_are_few():
    found = find_faults(reps(1, forward_off_floor=0.03), SNATCH)
    assert [(f.code, f.against) for f in found.faults] == [("S1", WIDE)]
    assert "own good lifts" in found.words[0]
    assert {n.code for n in found.not_judged} == {"S4", "S8", "S10"}  # only held against own lifts


def test_what_all_own_lifts_do_is_still_held_against_the_wide_limit():
    assert codes(reps(4, forward_off_floor=0.04)) == ["S1"]


def test_other_loads_do_not_compare():
    assert (
        codes([*reps(3, load_kg=60.0), *reps(1, first=3, x_at_knee=0.04)]) == []
    )  # 5 mm behind, no own lifts: wide only
    heavy = find_faults([*reps(3, load_kg=76.5), *reps(1, first=3, load_kg=80.0)], SNATCH)
    assert len(heavy.own) == 9


def test_a_slower_bar_at_a_heavier_load_is_no_fault():
    """0.010-0.015 m/s less peak velocity for each 1 % more load (from memory)."""
    heavier = reps(1, first=3, load_kg=83.0, peak_velocity=-0.05, velocity_at_knee=-0.04)
    assert codes([*reps(3), *heavier]) == []


def test_a_coarse_sensor_does_not_judge_what_it_cannot_tell():
    coarse = [replace(rep, figures={**rep.figures, "x_at_knee": Estimate(0.05, 0.06, "m")}) for rep in reps(1, first=3)]
    found = find_faults([*reps(3), *coarse], SNATCH)
    assert "S3" not in [f.code for f in found.faults]
    assert "S3" in [n.code for n in found.not_judged]


def test_without_a_forward_direction_only_the_vertical_is_judged():
    late = reps(1, first=3, forward_off_floor=0.05, drop_to_catch=0.12)
    blind = [replace(rep, forward_known=False) for rep in [*reps(3), *late]]
    found = find_faults(blind, SNATCH)
    assert [f.code for f in found.faults] == ["S11"]
    told = {n.code: n.why for n in found.not_judged}
    assert {"S1", "S3", "S7", "S9", "S12", "S15"} <= set(told)
    assert "bar axis" in told["S1"]


def test_lifts_since_a_drill_was_given_do_not_become_the_usual():
    """A fault that is being worked on must not turn into the reference."""
    seen = [*reps(2), *reps(6, first=2, forward_in_transition=0.027)]
    assert codes(seen) == []  # the own median has moved there, and the wide limit is wider
    given = DAY.replace(day=6)
    assert codes(seen, Asked(kept_until={"S7": given})) == ["S7"]


def test_too_little_is_said_plainly():
    assert "nothing to judge" in find_faults([], SNATCH).words[0]
    assert "only one made lift" in find_faults(reps(1, each=1), SNATCH).words[0]
    earlier, judged = reps(1, each=1), reps(1, first=3)
    assert find_faults([*earlier, *judged], SNATCH).words[0].startswith("1 own good lift at a like load was found, 4 ")


@pytest.mark.parametrize("lift", LIFTS)
def test_every_lift_has_limits_with_a_source_or_none(lift):
    for limit in limits_for(LIFTS[lift]):
        assert limit.source
        assert limit.own is not None or limit.wide is not None
        assert limit.way in (1, -1)
        assert limit.phase in PHASES
