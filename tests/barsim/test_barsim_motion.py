"""The simulated motion itself: smooth, exact, and possible for hands and gravity. All checks are mechanics."""

from __future__ import annotations

import numpy as np
import pytest

from barsim import LIFTS, Faults, Options, SimulatedRecording, simulate
from barsim.bar import GRAVITY
from barsim.curves import Curve, KnotLine, Step, Sway

AXES = ("x", "y", "z", "spin", "tilt", "yaw")


def a_set(lift: str, seed: int, *, reps: int = 2, options: Options | None = None) -> SimulatedRecording:
    options = options or Options(finish="lowered" if lift == "jerk" else None)
    return simulate(lift, seed=seed, reps=reps, options=options)


@pytest.mark.parametrize("lift", LIFTS)
def test_velocity_is_the_derivative_of_position_and_acceleration_of_velocity(lift: str) -> None:
    one = a_set(lift, 5)
    h = 1e-5
    t = np.linspace(0.01, one.duration_s - 0.01, 4001)
    for axis in AXES:
        curve: Curve = getattr(one.bar, axis)
        before, here, after = curve.evaluate(t - h), curve.evaluate(t), curve.evaluate(t + h)
        np.testing.assert_allclose((after[0] - before[0]) / (2 * h), here[1], atol=2e-5, err_msg=axis)
        scale = max(float(np.abs(here[2]).max()), 1.0)
        np.testing.assert_allclose((after[1] - before[1]) / (2 * h), here[2], atol=2e-4 * scale, err_msg=axis)


@pytest.mark.parametrize("lift", ["snatch", "clean_and_jerk", "back_squat"])
def test_acceleration_has_no_jump(lift: str) -> None:
    one = a_set(lift, 6)
    for axis in AXES:
        t = np.arange(0, one.duration_s, 1e-5)
        a = getattr(one.bar, axis).evaluate(t)[2]
        steepest = float(np.abs(np.diff(a)).max())
        assert steepest < 0.02 * max(float(np.abs(a).max()), 1.0), axis


def test_position_is_the_integral_of_velocity() -> None:
    one = a_set("clean", 7, reps=1)
    t = np.linspace(0, one.duration_s, 200_001)
    z, v, _ = one.bar.z.evaluate(t)
    area = np.concatenate([[0.0], np.cumsum((v[1:] + v[:-1]) / 2 * np.diff(t))])
    np.testing.assert_allclose(z, z[0] + area, atol=1e-5)


def test_parts_of_a_curve_alone() -> None:
    line = KnotLine(1.0, 0.5)
    line.add(1.0, 2.0)
    assert line.position == pytest.approx(2.0)  # a symmetrical rise of speed from 0 to 2 m/s in 1 s covers 1 m
    t = np.array([0.0, 0.5, 1.0, 1.5, 3.5])
    p, v, a = Curve(line, [Step(1.5, 1.0, 0.25)], [Sway(5.0, 6.0, 0.2, ((1.0, 6.0, 0.0),))]).evaluate(t)
    np.testing.assert_allclose(p, [1.0, 1.0, p[2], 2.0, 6.25])
    np.testing.assert_allclose(v, [0.0, 0.0, 1.0, 2.0, 2.0], atol=1e-12)
    np.testing.assert_allclose(a[[0, 1, 3, 4]], 0.0, atol=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_a_dropped_bar_falls_freely_bounces_and_rests_on_the_platform(seed: int) -> None:
    one = a_set("snatch", seed, reps=1)
    released = one.truth.reps[0].edges["released"]
    t = np.arange(released, one.duration_s, 1e-4)
    z, v, a = one.bar.z.evaluate(t)
    ax = one.bar.x.evaluate(t)[2]
    hit = int(np.argmax(a > 0))
    assert z[hit] == pytest.approx(0.225, abs=0.03)
    flying = slice(1, int(np.argmax(a > -GRAVITY + 0.01)) - 1)
    assert t[flying][-1] - t[flying][0] > 0.4
    np.testing.assert_allclose(a[flying], -GRAVITY, atol=1e-9)
    np.testing.assert_allclose(ax[flying], 0.0, atol=1e-9)
    fallen = float(z[1] - 0.225)
    landing = np.sqrt(v[1] ** 2 + 2 * GRAVITY * fallen)
    assert -v.min() == pytest.approx(landing, rel=2e-3)
    assert 20 * GRAVITY < a.max() < 150 * GRAVITY
    assert z[-1] == pytest.approx(0.225, abs=1e-12)
    last = t > one.duration_s - 0.9
    for axis in AXES:
        assert np.all(getattr(one.bar, axis).evaluate(t[last])[1] == 0.0), axis


@pytest.mark.parametrize("lift", ["snatch", "clean"])
@pytest.mark.parametrize("seed", range(8))
def test_the_bar_rises_after_its_peak_at_least_as_far_as_free_flight(lift: str, seed: int) -> None:
    one = simulate(lift, seed=seed, share=0.6 + 0.05 * seed)
    rep = one.truth.reps[0]
    z, v, _ = one.bar.z.evaluate(np.array([rep.edges["peak_velocity"], rep.edges["apex"]]))
    assert z[1] - z[0] >= v[0] ** 2 / (2 * GRAVITY)


@pytest.mark.parametrize("lift", ["snatch", "clean", "jerk", "back_squat", "deadlift", "press"])
def test_held_weight_is_never_pulled_down_much_faster_than_it_falls(lift: str) -> None:
    for seed in range(10):
        one = simulate(lift, seed=seed, share=0.7 + 0.03 * seed)
        rep = one.truth.reps[0]
        t = np.arange(rep.start_s, rep.stop_s, 1e-3)
        a = one.bar.z.evaluate(t)[2]
        assert a.min() > -1.3 * GRAVITY
        assert a.max() < 5 * GRAVITY


def test_speed_falls_with_the_load() -> None:
    def peak(share: float) -> float:
        return float(np.mean([simulate("snatch", seed=s, share=share).truth.reps[0].measures["peak_velocity"]
                              for s in range(8)]))  # fmt: skip

    light, heavy = peak(0.7), peak(1.0)
    assert 0.2 < light - heavy < 0.5  # 0.010-0.015 m/s per 1 %, from memory
    assert 1.6 <= heavy <= 2.1  # successful near-maximal snatch, from memory


def extremes(faults: Faults, lift: str = "snatch", seed: int = 3) -> dict[str, float]:
    one = simulate(lift, seed=seed, options=Options(faults=faults, sway_m=0.0))
    e = one.truth.reps[0].edges
    if lift == "jerk":
        x = {k: float(one.bar.x.evaluate(np.array([e[k]]))[0][0]) for k in ("dip_bottom", "peak_velocity", "catch")}
        x["depth"] = float(np.subtract(*one.bar.z.evaluate(np.array([e["dip_start"], e["dip_bottom"]]))[0]))
        return x
    x = {k: float(one.bar.x.evaluate(np.array([e[k]]))[0][0]) for k in e}
    t = np.linspace(e["lift_off"], e["apex"], 4000)
    path, height = one.bar.x.evaluate(t)[0], one.bar.z.evaluate(t)[0]
    x["lowest_15_cm"] = float(path[height < 0.375].max())
    x["swing"] = float(path[t > e["transition_end"]].max() - path[t <= e["peak_velocity"]].min())
    x["drop"] = one.truth.reps[0].measures["drop_to_catch"]
    x["z_at_peak"] = float(one.bar.z.evaluate(np.array([e["peak_velocity"]]))[0][0])
    v = one.bar.z.evaluate(np.array([e["first_pull_end"], e["transition_end"]]))[1]
    x["dip"] = float(v[0] - v[1])
    return x


def test_each_fault_shows_in_the_path_by_its_size() -> None:
    good = extremes(Faults(velocity_dip=0.05, transition_s=0.13))

    def bad(**sizes: float) -> dict[str, float]:
        return extremes(Faults(**{"velocity_dip": 0.05, "transition_s": 0.13, **sizes}))

    assert bad(forward_off_floor=0.03)["lowest_15_cm"] > 0.02
    assert bad(not_rearward=1.0)["first_pull_end"] > -0.005 > good["first_pull_end"]
    assert bad(too_far_rear=0.06)["transition_end"] == pytest.approx(good["transition_end"] - 0.06, abs=0.01)
    assert bad(velocity_dip=0.2)["dip"] == pytest.approx(0.2, abs=1e-3)
    assert bad(forward_in_transition=0.04)["transition_end"] > good["transition_end"] + 0.02
    assert bad(early_finish=1.0)["z_at_peak"] < good["z_at_peak"] - 0.05
    assert bad(forward_jump=0.06)["swing"] > good["swing"] + 0.04
    assert bad(slow_under=0.10)["drop"] == pytest.approx(good["drop"] + 0.10, abs=0.003)
    assert bad(forward_catch=0.05)["settled"] > good["settled"] + 0.03
    assert bad(far_rear_catch=0.08)["settled"] == pytest.approx(good["settled"] - 0.08, abs=0.005)


def test_each_jerk_fault_shows_by_its_size() -> None:
    good = extremes(Faults(), "jerk")
    assert extremes(Faults(dip_forward=0.03), "jerk")["dip_bottom"] == pytest.approx(
        good["dip_bottom"] + 0.03, abs=1e-6
    )
    drive = extremes(Faults(drive_forward=0.04), "jerk")
    assert drive["peak_velocity"] == pytest.approx(good["peak_velocity"] + 0.04, abs=1e-6)
    receive = extremes(Faults(receive_forward=0.06), "jerk")
    assert receive["catch"] == pytest.approx(good["catch"] + 0.06, abs=1e-6)
    assert extremes(Faults(dip_depth_m=0.12), "jerk")["depth"] == pytest.approx(0.12, abs=1e-6)
