"""What the simulated sensors put out, checked against mechanics and against the sensors' own figures."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import welch
from scipy.spatial.transform import Rotation

from barsim import DEVICES, PERFECT, EncoderKind, Mounting, Options, Unmodelled, simulate
from barsim.bar import GRAVITY, bar_state
from barsim.sensors import clean_samples

Floats = NDArray[np.float64]
MOUNTS = (
    Mounting("+x", turn=0.4), Mounting("-z", turn=-2.0), Mounting((0.6, -0.8, 0.0), turn=1.1),
    Mounting("+y", turn=0.0, along_m=0.7, radius_m=0.03),
)  # fmt: skip


def still(rng_seed: int, device: str, seconds: float) -> Floats:
    rest = Options(first_rest_s=seconds, outcomes=("aborted_floor",))
    out = simulate("snatch", seed=rng_seed, device=device, options=rest)
    keep = out.imu_samples.t_s < seconds - 0.1
    return np.concatenate([out.imu_samples.accel_m_s2[keep], out.imu_samples.gyro_rad_s[keep]], axis=1)


@pytest.mark.parametrize("mounting", MOUNTS)
@pytest.mark.parametrize("lift", ["snatch", "back_squat"])
def test_integrating_clean_output_with_true_attitude_gives_the_truth_back(lift: str, mounting: Mounting) -> None:
    one = simulate(lift, seed=11, device=PERFECT, mounting=mounting, options=Options(outcomes=("made",)))
    released = one.truth.reps[0].edges.get("released", one.duration_s)
    h = 1e-3
    t = np.arange(0, released, h)
    turn = mounting.turn or 0.0
    accel, _ = clean_samples(one.bar, t, h, mounting, turn)
    state = bar_state(one.bar, t)
    to_bar = mounting.sensor_from_bar(turn).T
    world = np.einsum("jin,nj->ni", state.to_bar, accel @ to_bar.T) - [0, 0, GRAVITY]
    arm_bar = np.array([0.0, mounting.along_m, mounting.radius_m])
    arm = np.einsum("jin,j->ni", state.to_bar, arm_bar)
    arm_speed = np.einsum("jin,nj->ni", state.to_bar, np.cross(state.rate, arm_bar))
    v = state.velocity[0] + arm_speed[0] + cumulative(world, h)
    p = state.position[0] + arm[0] + cumulative(v, h)
    np.testing.assert_allclose(v, state.velocity + arm_speed, atol=1e-3)
    np.testing.assert_allclose(p, state.position + arm, atol=2e-3)


def cumulative(rate: Floats, h: float) -> Floats:
    """Integral by the trapezoid rule, starting at nothing."""
    return np.concatenate([np.zeros((1, 3)), np.cumsum((rate[1:] + rate[:-1]) / 2, axis=0) * h])


@pytest.mark.parametrize("mounting", MOUNTS)
def test_the_rate_turns_the_true_attitude(mounting: Mounting) -> None:
    one = simulate("snatch", seed=12, device=PERFECT, mounting=mounting)
    h = 1e-4
    t = np.arange(0, one.truth.reps[0].stop_s, h)
    turn = mounting.turn or 0.0
    _, rate = clean_samples(one.bar, t, h, mounting, turn)
    steps = Rotation.from_rotvec((rate[1:] + rate[:-1]) / 2 * h)
    while len(steps) > 1:  # pairwise product, order kept
        odd = steps[len(steps) - len(steps) % 2 :]
        steps = Rotation.concatenate([steps[0 : len(steps) - 1 : 2] * steps[1::2], odd])
    pose = (
        Rotation.from_matrix(bar_state(one.bar, t[:1]).to_bar[:, :, 0].T @ mounting.sensor_from_bar(turn).T) * steps[0]
    )
    end = Rotation.from_matrix(bar_state(one.bar, t[-1:]).to_bar[:, :, 0].T @ mounting.sensor_from_bar(turn).T)
    assert (pose.inv() * end).magnitude() < 1e-4


def test_bar_axis_points_to_the_left_end_of_the_bar() -> None:
    for mounting in MOUNTS:
        turned = mounting.sensor_from_bar(0.7)
        np.testing.assert_allclose(turned @ [0, 1, 0], mounting.axis(), atol=1e-12)
        np.testing.assert_allclose(turned @ turned.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(turned) == pytest.approx(1.0)


def test_rest_feels_gravity_and_free_fall_feels_nothing() -> None:
    one = simulate("snatch", seed=13, device=PERFECT)
    part = one.imu_samples
    force = np.linalg.norm(part.accel_m_s2, axis=1)
    rep = one.truth.reps[0]
    on_floor = part.t_s < rep.start_s - 0.01
    np.testing.assert_allclose(force[on_floor], GRAVITY, atol=1e-9)
    np.testing.assert_allclose(part.gyro_rad_s[on_floor], 0.0, atol=1e-12)
    falling = (part.t_s > rep.edges["released"] + 0.01) & (part.t_s < rep.edges["released"] + 0.3)
    np.testing.assert_allclose(force[falling], 0.0, atol=1e-9)


def test_a_mean_over_the_interval_is_the_mean_of_point_samples() -> None:
    one = simulate("snatch", seed=14, device=PERFECT)
    t = np.arange(1.0, 4.0, 0.01)
    mean, _ = clean_samples(one.bar, t, 0.01, Mounting(), 0.3, averages=50)
    fine = (t[:, None] + (np.arange(1000) + 0.5) / 1000 * 0.01 - 0.005).ravel()
    points, _ = clean_samples(one.bar, fine, 1e-5, Mounting(), 0.3)
    np.testing.assert_allclose(mean, points.reshape(-1, 1000, 3).mean(axis=1), atol=2e-3)


@pytest.mark.parametrize("name", list(DEVICES))
def test_noise_density_is_the_class_figure(name: str) -> None:
    device = DEVICES[name]
    samples = still(3, name, 60.0)
    f, density = welch(samples, device.rate_hz, nperseg=512, axis=0)
    middle = (f > 0.05 * device.rate_hz) & (f < 0.45 * device.rate_hz)
    level = np.sqrt(density[middle].mean(axis=0))
    rounding_a = device.accel_range / 32767 / math.sqrt(12 * device.rate_hz / 2)
    rounding_g = device.gyro_range / 32767 / math.sqrt(12 * device.rate_hz / 2)
    np.testing.assert_allclose(level[:3], math.hypot(device.accel_noise, rounding_a), rtol=0.06)
    np.testing.assert_allclose(level[3:], math.hypot(device.gyro_noise, rounding_g), rtol=0.06)


def test_drawn_biases_have_the_class_spread() -> None:
    device = DEVICES["good"]
    rest = Options(first_rest_s=0.3, outcomes=("aborted_floor",), last_rest_s=0.1)
    drawn = [simulate("snatch", seed=s, options=rest).imu for s in range(150)]
    accel = np.array([one.constants["accel_bias"] for one in drawn if one])
    gyro = np.array([one.constants["gyro_bias"] for one in drawn if one])
    assert accel.std() == pytest.approx(device.accel_bias, rel=0.12)
    assert gyro.std() == pytest.approx(device.gyro_bias, rel=0.12)
    assert device.accel_bias == pytest.approx(0.020 * GRAVITY)


def test_output_is_rounded_to_words_and_clipped_on_impact() -> None:
    one = simulate("snatch", seed=15, device="fast")
    accel = one.imu_samples.accel_m_s2
    step = 16 * GRAVITY / 32767
    np.testing.assert_allclose(accel / step, np.round(accel / step), atol=1e-6)
    assert np.abs(accel).max() == pytest.approx(16 * GRAVITY, rel=1e-4)
    narrow = simulate("snatch", seed=15, device="fast", unmodelled=Unmodelled(accel_range=8 * GRAVITY))
    assert np.abs(narrow.imu_samples.accel_m_s2).max() == pytest.approx(8 * GRAVITY, rel=1e-4)


def test_poor_class_loses_samples_and_jitters() -> None:
    one = simulate("back_squat", seed=16, device="poor", reps=10)
    t = one.imu_samples.t_s
    steps = np.diff(t)
    lost = 1 - len(t) / (one.duration_s * 100)
    assert 0.001 < lost < 0.012
    assert np.all(steps > 0)
    assert np.std(steps[steps < 0.015]) == pytest.approx(math.sqrt(2) * 1e-3, rel=0.15)
    assert steps.max() > 0.018


def test_each_unmodelled_error_can_be_switched_on_alone() -> None:
    base = simulate("snatch", seed=17)
    size = Unmodelled(
        accel_walk=1e-2, gyro_walk=1e-3, accel_ramp=1e-2, gyro_ramp=1e-3, g_sensitivity=1e-4, whip_m=0.01,
        outboard_m=0.8, tilt_deg=4.0, force_delay_s=0.003, free_sleeve=True, clock_rate=0.02, lost=0.03, bursts=2,
        repeated=0.05, stamp_jitter_s=1e-3, accel_range=8 * GRAVITY, anti_alias=False,
    )  # fmt: skip
    for name in (field.name for field in fields(Unmodelled) if field.name not in ("whip_hz", "burst_s", "place_told")):
        other = simulate("snatch", seed=17, unmodelled=size.only(name))
        a, b = base.imu_samples, other.imu_samples
        same = len(a.t_s) == len(b.t_s) and np.array_equal(a.t_s, b.t_s) and np.array_equal(a.accel_m_s2, b.accel_m_s2)
        assert not (same and np.array_equal(a.gyro_rad_s, b.gyro_rad_s)), name
        for before, after in zip(base.truth.reps, other.truth.reps, strict=True):
            assert after.measures == before.measures, name
    assert Unmodelled.off() == Unmodelled()
    with pytest.raises(ValueError, match="no such error"):
        size.only("gremlins")


def test_a_fast_device_clock_stretches_times_not_velocities() -> None:
    base, fast = simulate("snatch", seed=18), simulate("snatch", seed=18, unmodelled=Unmodelled(clock_rate=0.02))
    assert fast.imu_samples.t_s[-1] == pytest.approx(1.02 * base.imu_samples.t_s[-1], abs=1e-5)
    assert fast.truth.reps[0].start_s == pytest.approx(1.02 * base.truth.reps[0].start_s)
    assert fast.truth.reps[0].measures == base.truth.reps[0].measures


def test_whip_shakes_the_sensor_by_its_size_and_leaves_the_truth_alone() -> None:
    rest = Options(sway_m=0.0, sway_deg=0.0, tilt_deg=0.0)
    error = Unmodelled(whip_m=0.01, whip_hz=8.0)
    base = simulate("snatch", seed=19, device=PERFECT, options=rest)
    shaken = simulate("snatch", seed=19, device=PERFECT, options=rest, unmodelled=error)
    shake = np.linalg.norm(shaken.imu_samples.accel_m_s2 - base.imu_samples.accel_m_s2, axis=1)
    assert 0.3 * 0.01 * (2 * math.pi * 8) ** 2 < shake.max() < 3 * 0.01 * (2 * math.pi * 8) ** 2


def test_encoder_gives_string_length_with_noise_slips_and_outliers() -> None:
    clean = EncoderKind(noise_m=0, resolution_m=0, anchor_x_m=0.2)
    one = simulate("back_squat", seed=20, device=None, encoder=clean)
    expected = np.hypot(np.hypot(one.truth.x_m - 0.2, one.truth.y_m), one.truth.z_m)
    np.testing.assert_allclose(one.string_m, expected, atol=1e-12)
    assert one.recording.setup.anchor_offset_m == 0.2
    aside = simulate("back_squat", seed=20, device=None, encoder=replace(clean, anchor_x_m=0.12, anchor_y_m=-0.16))
    reach = np.stack([aside.truth.x_m - 0.12, aside.truth.y_m + 0.16, aside.truth.z_m])
    np.testing.assert_allclose(aside.string_m, np.linalg.norm(reach, axis=0), atol=1e-12)
    assert aside.recording.setup.anchor_offset_m == pytest.approx(0.2)
    rough = simulate("back_squat", seed=20, device=None, encoder=EncoderKind(noise_m=0.0005, resolution_m=0.001))
    error = rough.string_m - rough.truth.z_m - (np.hypot(rough.truth.x_m, rough.truth.z_m) - rough.truth.z_m)
    assert error.std() == pytest.approx(math.hypot(0.0005, 0.001 / math.sqrt(12)), rel=0.1)
    slipped = simulate("back_squat", seed=20, device=None, encoder=replace(clean, slips=1, slip_m=0.03))
    jumps = np.diff(slipped.string_m - expected)
    assert np.count_nonzero(np.abs(jumps) > 0.02) == 1
    wild = simulate("back_squat", seed=20, device=None, encoder=replace(clean, outliers=0.02))
    share = np.mean(np.abs(wild.string_m - expected) > 0.005)
    assert 0.005 < share < 0.04


def test_both_sensors_see_one_bar() -> None:
    one = simulate("deadlift", seed=21, encoder=EncoderKind(noise_m=0, resolution_m=0), reps=2)
    assert one.encoder is not None
    assert one.encoder_recording is not None
    t = one.encoder.t_s
    place = np.stack([curve.evaluate(t)[0] for curve in (one.bar.x, one.bar.y, one.bar.z)])
    np.testing.assert_allclose(one.string_m, np.linalg.norm(place, axis=0), atol=1e-9)
    assert len(one.imu_samples.t_s) > len(t)
