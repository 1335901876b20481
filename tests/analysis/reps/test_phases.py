"""Phase boundaries from the bar alone against the boundaries a simulated lift was built from."""

from __future__ import annotations

import pytest

from barsim import Faults, Options, RepTruth, simulate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Rep
from barwright.analysis.reps.set_analysis import analyse_set

PULL = ["first_pull", "transition", "second_pull", "turnover", "catch", "recovery"]
JOINED = "first_pull_and_transition_and_second_pull"


def one_rep(lift: str, seed: int, faults: Faults | None = None) -> tuple[Rep, RepTruth]:
    one = simulate(lift, seed=seed, device="good", options=Options(faults=faults or Faults()))
    (rep,) = analyse_set(one.recording, LIFTS[lift]).reps
    return rep, one.truth.reps[0]


@pytest.mark.parametrize("lift", ["snatch", "clean"])
@pytest.mark.parametrize("seed", range(4))
def test_a_pull_with_a_dip_has_all_its_phases(lift: str, seed: int) -> None:
    """End of second pull: upward acceleration ceases (Whitehead et al. 2014); the rest by local highs and lows of v."""
    rep, true = one_rep(lift, seed, Faults(velocity_dip=0.08))
    assert [p.phase for p in rep.phases] == PULL
    for phase, edge, within in (
        ("first_pull", "first_pull_end", 0.03), ("transition", "transition_end", 0.03),
        ("second_pull", "peak_velocity", 0.01), ("turnover", "apex", 0.02), ("catch", "catch", 0.08),
    ):  # fmt: skip
        (found,) = (p for p in rep.phases if p.phase == phase)
        assert found.stop_s == pytest.approx(true.edges[edge], abs=within), phase
        assert 0 < found.sure <= 1
    assert rep.phases[0].start_s == pytest.approx(true.concentric[0], abs=0.02)
    assert all(a.stop_s <= b.start_s + 1e-9 for a, b in zip(rep.phases, rep.phases[1:], strict=False))


def test_without_a_dip_the_first_phases_are_joined() -> None:
    """The bar alone does not tell where the first pull ends when its velocity never falls."""
    joined = 0
    for seed in range(8):
        rep, true = one_rep("snatch", seed)
        names = [p.phase for p in rep.phases]
        if not true.dip_in_transition:
            assert names[0] == JOINED
            assert rep.phases[0].stop_s == pytest.approx(true.edges["peak_velocity"], abs=0.01)
            joined += 1
    assert joined >= 2


@pytest.mark.parametrize("seed", range(3))
def test_a_jerk_has_dip_drive_and_receive(seed: int) -> None:
    rep, true = one_rep("jerk", seed)
    found = {p.phase: p for p in rep.phases}
    assert list(found) == ["dip", "drive", "rise_to_apex", "receive", "recovery"]
    assert found["dip"].start_s == pytest.approx(true.edges["dip_start"], abs=0.08)
    assert found["dip"].stop_s == pytest.approx(true.edges["dip_bottom"], abs=0.02)
    assert found["drive"].stop_s == pytest.approx(true.edges["peak_velocity"], abs=0.01)
    assert found["rise_to_apex"].stop_s == pytest.approx(true.edges["apex"], abs=0.03)


def test_a_clean_and_jerk_has_the_phases_of_both() -> None:
    rep, true = one_rep("clean_and_jerk", 5)
    names = [p.phase for p in rep.phases]
    assert names.index("catch") < names.index("dip") < names.index("drive")
    (drive,) = (p for p in rep.phases if p.phase == "drive")
    assert true.jerk is not None
    assert drive.stop_s == pytest.approx(true.jerk.edges["peak_velocity"], abs=0.01)


@pytest.mark.parametrize("lift", ["back_squat", "bench_press", "deadlift", "press"])
def test_slow_lifts_are_lowered_and_lifted(lift: str) -> None:
    rep, true = one_rep(lift, 2)
    found = {p.phase: p for p in rep.phases}
    assert set(found) - {"sticking_region"} == {"lowering", "lifting"}
    assert found["lifting"].start_s == pytest.approx(true.concentric[0], abs=0.04)
    assert found["lifting"].stop_s == pytest.approx(true.concentric[1], abs=0.06)


@pytest.mark.parametrize("lift", ["back_squat", "bench_press"])
@pytest.mark.parametrize("seed", range(3))
def test_what_is_lowered_first_is_lowered_from_where_it_begins_to_sink(lift: str, seed: int) -> None:
    """The simulated bar sinks slowly at first: 3 cm/s come 0.2 to 0.4 s after it begins."""
    one = simulate(lift, seed=seed, device="good", reps=2)
    reps = analyse_set(one.recording, LIFTS[lift]).reps
    assert len(reps) == 2
    for rep, true in zip(reps, one.truth.reps, strict=True):
        lowering = rep.phases[0]
        assert lowering.phase == "lowering"
        assert 0.0 < lowering.start_s - true.start_s < 0.5
        assert lowering.stop_s == pytest.approx(true.concentric[0], abs=0.06)
        assert rep.start_s == pytest.approx(lowering.start_s, abs=0.01)


@pytest.mark.parametrize("lift", ["back_squat", "bench_press"])
@pytest.mark.parametrize("seed", range(3))
def test_a_heavy_slow_lift_has_its_sticking_region(lift: str, seed: int) -> None:
    one = simulate(lift, seed=seed, share=0.95)
    (rep,) = analyse_set(one.recording, LIFTS[lift]).reps
    edges = one.truth.reps[0].edges
    (found,) = (p for p in rep.phases if p.phase == "sticking_region")
    assert found.start_s == pytest.approx(edges["first_peak"], abs=0.15)  # the simulated peak is flat
    assert found.stop_s == pytest.approx(edges["sticking"], abs=0.05)


def test_a_light_squat_has_no_sticking_region() -> None:
    for seed in range(4):
        (rep,) = analyse_set(simulate("back_squat", seed=seed, share=0.45).recording, LIFTS["back_squat"]).reps
        assert "sticking_region" not in [p.phase for p in rep.phases]


@pytest.mark.parametrize("lift", ["snatch", "clean", "jerk"])
def test_boundaries_carry_an_uncertainty_that_covers_their_error(lift: str) -> None:
    """Within 3 u (and the 2 ms between two samples), for the bounds that are points of the motion."""
    edge_of = {"second_pull": "peak_velocity", JOINED: "peak_velocity", "turnover": "apex", "drive": "peak_velocity"}
    for seed in range(4):
        rep, true = one_rep(lift, seed)
        for phase in rep.phases:
            assert phase.start_u_s is not None
            assert phase.stop_u_s is not None
            if phase.phase in edge_of:
                error = abs(phase.stop_s - true.edges[edge_of[phase.phase]])
                assert error < 3 * phase.stop_u_s + 0.002, phase.phase


@pytest.mark.parametrize("lift", ["hang_snatch", "block_clean"])
def test_a_lift_that_does_not_begin_on_the_floor_has_no_first_pull(lift: str) -> None:
    one = simulate("snatch" if "snatch" in lift else "clean", seed=3)
    reps = analyse_set(one.recording, LIFTS[lift]).reps
    assert reps[0].phases[0].phase == "second_pull"
    assert "x_at_knee" not in reps[0].path_measures
