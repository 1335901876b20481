"""The truth of a simulated set against brute force, and the promise that a seed is enough to make it again."""

from __future__ import annotations

import numpy as np
import pytest

from barsim import LIFTS, EncoderKind, Options, RepTruth, SimulatedRecording, Unmodelled, simulate


def brute_force(one: SimulatedRecording, rep: RepTruth, begin: float, end: float, low_first: bool) -> dict[str, float]:
    """The definitions once more, as slowly and plainly as they read, on a 20 microsecond grid."""
    t = np.arange(begin, end, 2e-5)
    z, v, a = one.bar.z.evaluate(t)
    low = int(z.argmin()) if low_first else 0
    top = low + int(z[low:].argmax())
    i = low
    while v[i] <= 0.03:
        i += 1
    k = top
    while v[k] <= 0.03:
        k -= 1
    end_of_push = k
    for n in range(i, k + 1):
        if a[n] < -9.81:
            end_of_push = n
            break
    return {
        "mean_velocity": (z[k] - z[i]) / (t[k] - t[i]),
        "peak_velocity": v[i : k + 1].max(),
        "time_to_peak": t[i + v[i : k + 1].argmax()] - t[i],
        "range_of_motion": z[top] - z[low],
        "mean_propulsive_velocity": (z[end_of_push] - z[i]) / (t[end_of_push] - t[i]),
        "start": t[i],
        "stop": t[k],
    }


@pytest.mark.parametrize("lift", LIFTS)
@pytest.mark.parametrize("share", [0.5, 0.9])
def test_measures_agree_with_brute_force(lift: str, share: float) -> None:
    one = simulate(lift, seed=31, share=share, device=None, encoder=EncoderKind())
    rep = one.truth.reps[0]
    e = rep.edges
    if "lowering_start" in e and "sticking" in e:
        down_first = e["lowering_start"] < e["lifting_start"]
        begin = e["lowering_start"] if down_first else e["lifting_start"]
        expected = brute_force(one, rep, begin, e["lifting_end"] + 0.1, down_first)
    else:
        expected = brute_force(one, rep, rep.start_s, e["apex"] + 0.02, "dip_start" in e)
    start, stop = expected.pop("start"), expected.pop("stop")
    assert rep.concentric == pytest.approx((start, stop), abs=5e-5)
    for name, value in expected.items():
        assert rep.measures[name] == pytest.approx(value, abs=6e-4 if name != "time_to_peak" else 2e-3), name


@pytest.mark.parametrize("lift", ["snatch", "clean", "clean_and_jerk"])
def test_pull_boundaries_are_where_the_motion_says(lift: str) -> None:
    for seed in range(6):
        one = simulate(lift, seed=seed)
        rep = one.truth.reps[0]
        e = rep.edges
        order = ["lift_off", "first_pull_end", "transition_end", "peak_velocity", "apex", "catch", "recovery_end"]
        times = [e[name] for name in order]
        assert times == sorted(times)
        t = np.arange(e["lift_off"], e["catch"] + 0.01, 1e-4)
        z, v, _ = one.bar.z.evaluate(t)
        assert t[v.argmax()] == pytest.approx(e["peak_velocity"], abs=2e-4)
        assert t[z.argmax()] == pytest.approx(e["apex"], abs=2e-3)
        after = t > e["apex"]
        assert t[after][z[after].argmin()] == pytest.approx(e["catch"], abs=0.012)
        if rep.dip_in_transition:
            inside = (t > e["lift_off"] + 0.2) & (t < e["peak_velocity"])
            first = t[inside][:-1][(np.diff(v[inside]) < 0)]
            assert first[0] == pytest.approx(e["first_pull_end"], abs=1e-3)
            assert first[-1] == pytest.approx(e["transition_end"], abs=1e-3)
        assert rep.measures["drop_to_catch"] == pytest.approx(z.max() - z[after].min(), abs=1e-4)


def test_a_jerk_inside_a_clean_and_jerk_has_its_own_truth() -> None:
    one = simulate("clean_and_jerk", seed=4)
    rep = one.truth.reps[0]
    assert rep.jerk is not None
    e = rep.jerk.edges
    assert rep.edges["recovery_end"] < e["dip_start"] < e["dip_bottom"] < e["peak_velocity"] < e["apex"] < e["catch"]
    assert 1.2 < rep.jerk.measures["peak_velocity"] < 2.1
    assert rep.jerk.concentric[0] == pytest.approx(e["dip_bottom"], abs=0.03)


def test_outcomes_are_told_apart() -> None:
    options = Options(outcomes=("aborted_knee", "no_height", "made", "forward_miss"))
    one = simulate("snatch", seed=5, reps=4, options=options)
    assert [rep.outcome for rep in one.truth.reps] == ["partial", "failed", "made", "failed"]
    assert [rep.how for rep in one.truth.made()] == ["made"]
    x = one.bar.x.evaluate(np.array([one.truth.reps[3].start_s, one.duration_s]))[0]
    assert x[1] - x[0] > 0.15  # lost in front
    behind = simulate("snatch", seed=5, options=Options(outcomes=("behind_miss",)))
    x = behind.bar.x.evaluate(np.array([behind.truth.reps[0].start_s, behind.duration_s]))[0]
    assert x[1] - x[0] < -0.15


@pytest.mark.parametrize("lift", ["snatch", "bench_press"])
def test_a_seed_makes_the_same_recording_again(lift: str) -> None:
    def make(seed: int) -> SimulatedRecording:
        rng = np.random.default_rng(seed)
        return simulate(lift, rng=rng, reps=2, unmodelled=Unmodelled.typical(rng), encoder=EncoderKind())

    one, again, other = make(1), make(1), make(2)
    a, b = one.imu_samples, again.imu_samples
    np.testing.assert_array_equal(a.accel_m_s2, b.accel_m_s2)
    np.testing.assert_array_equal(a.gyro_rad_s, b.gyro_rad_s)
    assert one.truth.reps == again.truth.reps
    assert one.truth.reps[0].measures != other.truth.reps[0].measures


def test_truth_arrays_are_at_the_sensors_times() -> None:
    one = simulate("snatch", seed=6, device="poor", unmodelled=Unmodelled(repeated=0.02, lost=0.03))
    assert len(one.truth.t_s) == len(one.imu_samples.t_s) == len(one.truth.z_m)
    assert one.imu is not None
    x, z = one.bar.x.evaluate(np.sort(one.imu.true_t_s))[0], one.bar.z.evaluate(np.sort(one.imu.true_t_s))[0]
    np.testing.assert_allclose(one.truth.x_m, x, atol=1e-12)
    np.testing.assert_allclose(one.truth.z_m, z, atol=1e-12)


def test_rests_are_still_on_the_floor_and_sway_in_the_hands() -> None:
    seen = set()
    for lift in ("snatch", "back_squat", "deadlift", "clean_and_jerk"):
        one = simulate(lift, seed=8, reps=2, options=Options(walk_out=True))
        for start, stop, place in one.truth.rests:
            seen.add(place)
            t = np.linspace(start, stop, 500)
            speed = np.hypot(one.bar.z.evaluate(t)[1], one.bar.x.evaluate(t)[1])
            if place == "floor":
                assert speed.max() < 1e-9
            else:
                assert speed.max() < 0.12
    assert seen == {"floor", "held"}


def test_path_of_a_rep_starts_where_the_rep_does() -> None:
    one = simulate("snatch", seed=9, reps=2)
    second = one.truth.reps[1]
    path = one.truth.path_of(second)
    assert abs(path.x_m[0]) < 1e-3
    assert abs(second.x_start) > 1e-3  # the dropped bar rolled
    assert path.t_s[0] == pytest.approx(second.start_s, abs=1 / 416)
    assert path.z_m.max() - 0.225 >= second.measures["peak_height"]


def test_a_lost_jerk_fails_the_whole_lift_and_a_stalled_squat_ends_on_the_safeties() -> None:
    lost = simulate("clean_and_jerk", seed=3, reps=2, options=Options(outcomes=("jerk_miss", "made")))
    first = lost.truth.reps[0]
    assert first.outcome == "failed"
    assert first.jerk is not None
    assert "recovery_end" in first.edges
    assert "recovery_end" not in first.jerk.edges
    stalled = simulate("back_squat", seed=3, reps=2, options=Options(outcomes=("made", "stalled")))
    made, last = stalled.truth.reps
    assert (made.outcome, last.outcome) == ("made", "failed")
    assert last.measures["range_of_motion"] < 0.6 * made.measures["range_of_motion"]
    z, v, _ = stalled.bar.z.evaluate(np.array([made.edges["lowering_end"], stalled.duration_s - 0.5]))
    assert z[1] < z[0]
    assert v[1] == 0.0
    pulled = simulate("deadlift", seed=3, options=Options(outcomes=("stalled",)))
    assert pulled.truth.reps[0].outcome == "failed"
    assert pulled.bar.z.evaluate(np.array([pulled.duration_s]))[0][0] == pytest.approx(0.225)


def test_gripping_the_bar_turns_it_and_it_lies_still_before_the_pull() -> None:
    one = simulate("snatch", seed=3, options=Options(fidget=True))
    start = one.truth.reps[0].start_s
    spin, rate, _ = one.bar.spin.evaluate(np.linspace(0, start, 2000))
    assert np.abs(rate).max() > 0.05
    assert abs(spin[-1] - spin[0]) > 0.02
    before = [rest for rest in one.truth.rests if rest[1] <= start + 1e-6]
    assert len(before) == 2
    assert before[-1][1] == pytest.approx(start, abs=1e-6)


def test_unreasonable_requests_are_refused_in_words() -> None:
    with pytest.raises(ValueError, match="no simulated lift called 'cartwheel'"):
        simulate("cartwheel", seed=1)
    with pytest.raises(ValueError, match="outcomes must be 2 of"):
        simulate("snatch", seed=1, reps=2, options=Options(outcomes=("made",)))
    with pytest.raises(ValueError, match="of made, stalled"):
        simulate("press", seed=1, options=Options(outcomes=("forward_miss",)))
    with pytest.raises(ValueError, match="needs a device, an encoder or both"):
        simulate("snatch", seed=1, device=None)
