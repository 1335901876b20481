"""Constants from still poses against simulated sensors whose constants are known (tests/analysis/poses/held.py)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.poses.held import EDGES, GOOD, HOBBY, MG, NINE, G, drawn, held
from barwright.analysis.motion.device_class import prior_for
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.poses.accel_fit import corrected, fit_accel
from barwright.analysis.poses.calibrate import ToldMeans, calibrate_means, calibrate_recording
from barwright.analysis.poses.found import SensorFound
from barwright.analysis.poses.still_poses import Pose
from barwright.analysis.quantities.unusable import UnusableSamples

pytestmark = pytest.mark.xdist_group("calibrations")  # two hundred of them, worked out once
CLASSES = {"good": GOOD, "hobby": HOBBY}


def found_of(samples, name="good", gravity=G):
    return calibrate_recording([samples], SensorSetup(device_class=name), gravity)


def constants(found: SensorFound, sensor, group):
    """(value, u, truth) of one group of the accelerometer's or the gyroscope's figures, each (k,)."""
    kind, member = group
    figures = getattr(found, kind)[member].values()
    square = getattr(sensor, f"{kind}_matrix")
    truth = {
        "bias": getattr(sensor, f"{kind}_bias"),
        "scale": np.diag(square) - 1,
        "cross_axis": square[np.triu_indices(3, 1)] if kind == "accel" else square[~np.eye(3, dtype=bool)],
    }[member]
    return np.array([f.value for f in figures]), np.array([f.u for f in figures]), truth


GROUPS = [(kind, member) for kind in ("accel", "gyro") for member in ("bias", "scale", "cross_axis")]


@pytest.fixture(scope="module")
def many():
    """200 calibrations of nine hand-held poses: 3 mm and half a degree of sway, 2-4 s each, biases of 20-60 m[g]."""
    out = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        name = ("good", "hobby")[seed % 2]
        sensor = drawn(rng, CLASSES[name], (20, 60))
        out.append((found_of(held(rng, sensor, rate_hz=100.0), name), sensor))
    return out


def test_nine_poses_recover_bias_within_2_mg_and_scale_within_0_2_percent(many):
    for found, sensor in many:
        assert len(found.poses) == 9
        assert found.spread.distinct >= 8  # two that hands held less than 20 degrees apart count as one
        value, _, truth = constants(found, sensor, ("accel", "bias"))
        assert np.abs(value - truth).max() < 2 * MG
        value, _, truth = constants(found, sensor, ("accel", "scale"))
        assert np.abs(value - truth).max() < 0.002


@pytest.mark.parametrize("group", GROUPS)
def test_two_u_hold_the_truth_in_90_to_99_percent(many, group):
    """Over 200 calibrations; the gyroscope's cross-axis and scale may be surer than said, never less sure."""
    inside = []
    for found, sensor in many:
        value, u, truth = constants(found, sensor, group)
        inside.append(np.abs(value - truth) < 2 * u)
    share = float(np.mean(inside))
    assert share >= 0.90
    assert share <= (0.99 if group[0] == "accel" else 1.0)


def test_the_turns_show_the_gyroscope_far_below_its_class(many):
    for member, least in (("bias", np.radians(0.1)), ("scale", 0.002), ("cross_axis", 0.003)):
        found = [constants(one, sensor, ("gyro", member)) for one, sensor in many]
        assert np.quantile([np.abs(value - truth) for value, _, truth in found], 0.95) < least


def test_u_of_velocity_falls(many):
    for found, _ in many:
        assert found.peak_before.value == found.peak_after.value == pytest.approx(1.9)
        assert found.peak_after.u < found.peak_before.u
    assert np.median([found.peak_after.u / found.peak_before.u for found, _ in many]) < 0.6


def test_order_does_not_matter():
    rng = np.random.default_rng(1)
    sensor = drawn(rng, GOOD)
    for order in (NINE[::-1], NINE[rng.permutation(9)]):
        found = found_of(held(rng, sensor, order))
        value, _, truth = constants(found, sensor, ("accel", "bias"))
        assert np.abs(value - truth).max() < 2 * MG


def test_a_perfect_sensor_held_perfectly_still_is_told_as_such():
    rng = np.random.default_rng(2)
    sensor = replace(drawn(rng, GOOD), accel_bias=np.zeros(3), accel_matrix=np.eye(3))
    found = found_of(held(rng, sensor, sway_m=0, lean_deg=0))
    value, u, _ = constants(found, sensor, ("accel", "bias"))
    assert np.all(np.abs(value) < 3 * u)
    assert np.all(u < 0.5 * MG)


@pytest.mark.parametrize("name", ["good", "hobby"])
def test_fewer_attitudes_leave_a_wider_u_that_still_holds(name):
    """Five faces: the axis whose other face never came up keeps about what its class leaves open."""
    z, bias_u = [], []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sensor = drawn(rng, CLASSES[name])
        found = found_of(held(rng, sensor, NINE[:5]), name)
        assert found.spread.more_for_scale > 0
        assert any("-z of the sensor straight up" in word for word in found.spread.missing)
        value, u, truth = constants(found, sensor, ("accel", "bias"))
        z.append((value - truth) / u)
        bias_u.append(u)
    wide = np.mean(bias_u, axis=0)
    assert wide[2] > 3 * wide[:2].max()
    assert 0.90 <= np.mean(np.abs(z) < 2) <= 0.995


@pytest.mark.parametrize(
    ("ups", "attitudes"),
    [
        (np.tile([0.0, 0, 1], (9, 1)), "1 attitude"),
        (NINE[:3], "3 different attitudes"),
        (np.array([(np.sin(a), 0.4 * np.sin(3 * a), 1.0) for a in np.linspace(-0.6, 0.6, 9)]), "attitudes"),
    ],
)
def test_poses_too_alike_are_refused_with_what_would_be_right(ups, attitudes):
    rng = np.random.default_rng(4)
    with pytest.raises(UnusableSamples) as refused:
        found_of(held(rng, drawn(rng, GOOD), ups, off_deg=2))
    assert refused.value.code == "poses-too-alike"
    for words in (attitudes, "At least 6 well-spread attitudes", "9 cross-axis errors", "straight up"):
        assert words in refused.value.detail


def test_six_faces_are_enough_for_bias_and_scale_and_edges_are_asked_for():
    rng = np.random.default_rng(5)
    found = found_of(held(rng, drawn(rng, GOOD), NINE[:6], off_deg=2))
    assert (found.spread.distinct, found.spread.more_for_scale) == (6, 0)
    assert found.spread.more_for_cross == 3
    assert all("edge of the sensor" in word for word in found.spread.missing)
    assert any("Cross-axis errors take 3 more poses" in word for word in found.words)


def test_what_is_asked_for_next_is_enough():
    rng = np.random.default_rng(6)
    sensor = drawn(rng, GOOD)
    first = NINE[[0, 1, 2, 4, 6, 7]]
    missing = found_of(held(rng, sensor, first)).spread.missing
    named = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}
    more = []
    for word in missing:
        signs = [word[i : i + 2] for i in range(len(word)) if word[i] in "+-" and word[i + 1 : i + 2] in named]
        more.append(np.sum([(1 if one[0] == "+" else -1) * np.array(named[one[1]]) for one in signs], axis=0))
    after = found_of(held(rng, sensor, np.concatenate((first, more))))
    assert after.spread.more_for_scale == after.spread.more_for_cross == 0


def test_a_pose_that_was_pushed_is_left_out():
    """A steady push of 0.3 m/s2 during one of twelve poses: no still pose, though it looks like one."""
    rng = np.random.default_rng(7)
    sensor = drawn(rng, GOOD)
    ups = np.concatenate((NINE, -np.array(EDGES, dtype=float)))
    samples = held(rng, sensor, ups)
    before = found_of(samples)
    pushed = before.poses[4]
    at = (samples.t_s >= pushed.start_s - 0.2) & (samples.t_s < pushed.stop_s + 0.2)
    accel = samples.accel_m_s2 + np.where(at[:, None], 0.3 * np.array(pushed.up), 0.0)
    found = found_of(replace(samples, accel_m_s2=accel))
    assert [pose.used for pose in found.poses].index(False) == 4
    assert sum(not pose.used for pose in found.poses) == 1
    assert found.poses[4].miss == pytest.approx(0.3, abs=0.05)
    assert any("was left out" in word for word in found.words)
    value, _, truth = constants(found, sensor, ("accel", "bias"))
    assert np.abs(value - truth).max() < 2 * MG


def test_poses_that_disagree_widen_every_u():
    """Twelve means with five times the scatter they should have."""
    rng = np.random.default_rng(8)
    ups = np.concatenate((NINE, -np.array(EDGES, dtype=float)))
    ups /= np.linalg.norm(ups, axis=1)[:, None]
    quiet, loud = (
        fit_accel(
            [Pose(G * up + 0.004 * k * rng.normal(0, 1, 3), np.zeros(3), 0.004, 0.0004, 0.003, 600) for up in ups],
            G,
            prior_for("good"),
            0.0,
        )
        for k in (1.0, 5.0)
    )
    assert quiet.widened == 1.0
    assert loud.widened > 2.0
    assert loud.probability < 0.01
    assert np.all(loud.sd[:6] > 1.5 * quiet.sd[:6])


def test_a_plain_least_squares_solution_without_prior_agrees():
    """Outside source: scipy.optimize.least_squares on the equations of Tedaldi et al. 2014, no prior."""
    from scipy.optimize import least_squares

    rng = np.random.default_rng(9)
    ups = rng.normal(0, 1, (40, 3))
    ups /= np.linalg.norm(ups, axis=1)[:, None]
    sensor = drawn(rng, HOBBY)
    readings = G * ups @ np.linalg.inv(sensor.accel_matrix).T + sensor.accel_bias + rng.normal(0, 0.003, (40, 3))

    def miss(x):
        square = np.array([[x[3], x[4], x[5]], [0, x[6], x[7]], [0, 0, x[8]]])
        return np.sum(((readings - x[:3]) @ square.T) ** 2, axis=1) - G**2

    plain = least_squares(miss, [0, 0, 0, 1, 0, 0, 1, 0, 1]).x
    fit = fit_accel([Pose(r, np.zeros(3), 0.003, 3e-4, 0.003, 600) for r in readings], G, prior_for("hobby"), 0.0)
    ours = fit.theta[[0, 1, 2, 3, 6, 7, 4, 8, 5]] + np.array([0, 0, 0, 1, 0, 0, 1, 0, 1])
    assert np.abs(ours - plain).max() < 0.15 * fit.sd.max()
    assert np.linalg.norm(corrected(fit.theta, readings), axis=1) == pytest.approx(G, abs=0.012)


def test_local_gravity_told_or_not():
    rng = np.random.default_rng(10)
    sensor = drawn(rng, GOOD)
    samples = held(rng, sensor, gravity=9.781)
    told, untold = found_of(samples, gravity=9.781), found_of(samples, gravity=None)
    value, u, truth = constants(told, sensor, ("accel", "scale"))
    assert np.abs(value - truth).max() < 0.0015
    assert u.max() < 0.0007
    value, u, truth = constants(untold, sensor, ("accel", "scale"))
    assert u.min() >= 0.0015
    assert np.all(np.abs(value - truth) < 2.5 * u)
    assert value - truth == pytest.approx(0.0026, abs=0.0015)  # 9.80665 / 9.781
    assert any("gravity_m_s2" in word for word in untold.words)
    assert told.calibration.gravity == 9.781


def test_means_worked_out_elsewhere_do_nearly_as_well():
    z = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        sensor = drawn(rng, GOOD)
        samples = held(rng, sensor, seconds=(2.5, 3.5))
        means = means_of(samples, found_of(samples))
        found = calibrate_means(means, 200.0, SensorSetup(device_class="good"), G)
        value, u, truth = constants(found, sensor, ("accel", "bias"))
        z.append((value - truth) / u)
        assert np.abs(value - truth).max() < 3 * MG
        assert found.gyro["scale"]["x"].value is None
        assert "turns between" in found.gyro["scale"]["x"].reason
        assert found.noise is None
    assert 0.85 <= np.mean(np.abs(z) < 2) <= 1.0


def means_of(samples: ImuSamples, found: SensorFound) -> list[ToldMeans]:
    out = []
    for pose in found.poses:
        at = (samples.t_s >= pose.start_s) & (samples.t_s < pose.stop_s)
        force, rate = samples.accel_m_s2[at].mean(axis=0), samples.gyro_rad_s[at].mean(axis=0)
        out.append(ToldMeans(tuple(force), tuple(rate), int(at.sum())))
    return out


def test_a_hole_in_the_samples_costs_only_the_turn_it_is_in():
    rng = np.random.default_rng(11)
    sensor = drawn(rng, GOOD)
    samples = held(rng, sensor)
    found = found_of(samples)
    middle = 0.5 * (found.poses[3].stop_s + found.poses[4].start_s)
    kept = np.abs(samples.t_s - middle) > 0.1
    holed = found_of(ImuSamples(samples.t_s[kept], samples.accel_m_s2[kept], samples.gyro_rad_s[kept]))
    assert (found.turns, holed.turns) == (8, 7)
    assert holed.spread.distinct == 9


def test_two_device_starts_are_one_calibration():
    rng = np.random.default_rng(12)
    sensor = drawn(rng, GOOD)
    parts = [held(rng, sensor, NINE[:5]), held(rng, sensor, NINE[5:])]
    found = calibrate_recording(parts, SensorSetup(device_class="good"), G)
    assert (found.spread.distinct, found.turns) == (9, 7)


def test_rates_at_full_scale_are_not_used():
    rng = np.random.default_rng(13)
    samples = held(rng, drawn(rng, GOOD))
    fastest = float(np.abs(samples.gyro_rad_s).max())
    clipped = np.clip(samples.gyro_rad_s, -0.8 * fastest, 0.8 * fastest)
    setup = SensorSetup(device_class="good", gyro_range_rad_s=0.8 * fastest)
    found = calibrate_recording([replace(samples, gyro_rad_s=clipped)], setup, G)
    assert found.turns < 8


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda s: replace(s, accel_m_s2=s.accel_m_s2 / G), "no-gravity"),
        (lambda s: replace(s, accel_m_s2=s.accel_m_s2 * G), "no-gravity"),
        (lambda s: replace(s, gyro_rad_s=s.gyro_rad_s + np.sin(20 * s.t_s)[:, None]), "no-still-poses"),
        (lambda s: ImuSamples(s.t_s[:5], s.accel_m_s2[:5], s.gyro_rad_s[:5]), "too-few-samples"),
    ],
)
def test_samples_that_show_nothing_say_why(change, code):
    rng = np.random.default_rng(14)
    with pytest.raises(UnusableSamples) as refused:
        found_of(change(held(rng, drawn(rng, GOOD))))
    assert refused.value.code == code


def test_the_noise_of_a_pose_is_the_sensors():
    rng = np.random.default_rng(15)
    sensor = drawn(rng, HOBBY)
    noise = found_of(held(rng, sensor), "hobby").noise
    assert noise.accel_density.value == pytest.approx(sensor.accel_noise, rel=0.1)
    assert noise.gyro_density.value == pytest.approx(sensor.gyro_noise, rel=0.1)
    assert "lay the sensor down" in noise.accel_instability.reason
    laid = found_of(held(rng, sensor, sway_m=0, lean_deg=0, tremor_m=0, seconds=(8, 9)), "hobby").noise
    assert laid.accel_density.value == pytest.approx(sensor.accel_noise, rel=0.1)
