"""Rests and cuts: found where the bar was still, never where it moved, nothing carried across a blow."""

from __future__ import annotations

import numpy as np
import pytest

from barsim import Options, SimulatedRecording, Unmodelled, simulate
from barsim.bar import GRAVITY
from barwright.analysis.motion.imu_motion import ImuMotion, imu_motion


def moved(one: SimulatedRecording) -> ImuMotion:
    return imu_motion(one.imu_samples, one.recording.setup)


@pytest.mark.parametrize("lift", ["snatch", "clean_and_jerk", "back_squat", "bench_press", "deadlift"])
@pytest.mark.parametrize("device", ["good", "hobby"])
def test_the_bar_was_slow_in_every_believed_rest(lift: str, device: str) -> None:
    """Held weight sways by a few millimetres at about 1 Hz: its mean velocity over a rest is a few cm/s at most."""
    one = simulate(lift, seed=21, device=device, reps=2)
    found = moved(one)
    rests = [(m.t_s[r.span.start], m.t_s[r.span.stop - 1]) for m in found.motions for r in m.rests]
    assert len(rests) >= 2
    for start, stop in rests:
        inside = (one.truth.t_s >= start) & (one.truth.t_s <= stop)
        assert abs(np.mean(one.truth.vz[inside])) < 0.03
        assert abs(np.mean(one.truth.vx[inside])) < 0.05


def test_a_rest_called_firm_was_on_the_floor() -> None:
    for lift in ("snatch", "deadlift", "clean_and_jerk"):
        one = simulate(lift, seed=22, reps=2)
        firm = 0
        for motion in moved(one).motions:
            for rest in motion.rests:
                if rest.firm:
                    middle = 0.5 * (motion.t_s[rest.span.start] + motion.t_s[rest.span.stop - 1])
                    assert [place for a, b, place in one.truth.rests if a <= middle <= b] == ["floor"]
                    firm += 1
        assert firm >= 2


def test_nothing_is_carried_across_a_drop() -> None:
    one = simulate("snatch", seed=23, reps=2)
    found = moved(one)
    landings = [rep.edges["released"] for rep in one.truth.reps]
    assert len(found.motions) == 3
    for landing in landings:
        assert any(m.ended_by_impact and landing < m.t_s[-1] < landing + 0.9 for m in found.motions)


def test_a_slow_tempo_squat_is_not_mistaken_for_rest() -> None:
    """Constant velocity looks still to a variance test: lowering for five seconds at about 0.12 m/s."""
    one = simulate("back_squat", seed=24, device="good", reps=2, options=Options(tempo_down_s=5.0))
    for motion in moved(one).motions:
        for rest in motion.rests:
            inside = (one.truth.t_s >= motion.t_s[rest.span.start]) & (one.truth.t_s <= motion.t_s[rest.span.stop - 1])
            assert abs(np.mean(one.truth.vz[inside])) < 0.04


def test_a_long_hole_ends_the_motion_and_is_told() -> None:
    one = simulate("back_squat", seed=25, reps=3)
    samples = one.imu_samples
    start = one.truth.reps[1].start_s
    keep = (samples.t_s < start + 0.2) | (samples.t_s > start + 0.9)
    cut = type(samples)(samples.t_s[keep], samples.accel_m_s2[keep], samples.gyro_rad_s[keep])
    found = imu_motion(cut, one.recording.setup)
    assert max(len(g) for g in found.even.gaps) * found.even.period_s == pytest.approx(0.7, abs=0.01)
    for motion in found.motions:
        assert not (motion.t_s[0] < start + 0.3 and motion.t_s[-1] > start + 0.8)


def test_full_scale_is_found_without_being_told() -> None:
    one = simulate("snatch", seed=26, device="hobby", unmodelled=Unmodelled(accel_range=2 * GRAVITY))
    setup = one.recording.setup
    told = imu_motion(one.imu_samples, setup)
    untold = imu_motion(one.imu_samples, type(setup)(bar_axis=setup.bar_axis, device_class="hobby"))
    assert told.cut.clipped.sum() > 3
    assert untold.cut.clipped.sum() > 3


@pytest.mark.parametrize("lift", ["back_squat", "bench_press"])
def test_held_rests_are_found_by_a_sensor_far_out_on_the_bar_too(lift: str) -> None:
    """Hands turn a bar by half a degree about once a second: 0.9 m out that is 0.3 m/s2 and more on top of their sway.

    Every hold longer than a second has to hold a believed rest.
    """
    for seed in range(6):
        one = simulate(lift, seed=seed, device="good", reps=5, unmodelled=Unmodelled(outboard_m=0.9))
        rests = [(m.t_s[r.span.start], m.t_s[r.span.stop - 1]) for m in moved(one).motions for r in m.rests]
        holds = [(a, b) for a, b, _ in one.truth.rests if b - a > 1.0]
        assert len(holds) >= 3
        for start, stop in holds:
            assert any(a < stop and b > start for a, b in rests), (seed, start, stop)
