"""A calibration takes a sensor's constants out, and leaves no more doubt than there is."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from analysis.poses.held import GOOD, HOBBY, NINE, G, drawn, held, smooth
from barsim.devices import DEVICES
from barsim.sensors import draw_constants
from barwright.analysis.motion.calibration import SAME, Calibration, apply_calibration, prior_after
from barwright.analysis.motion.device_class import DEVICE_CLASSES, prior_for
from barwright.analysis.motion.imu_motion import imu_motion
from barwright.analysis.motion.samples import ImuSamples, SensorSetup
from barwright.analysis.poses.calibrate import calibrate_recording

KNOWN = Calibration(
    accel_bias=(0.3, -0.2, 0.1),
    accel_matrix=((1.01, 0.002, -0.003), (0.0, 0.99, 0.004), (0.0, 0.0, 1.005)),
    gyro_bias=(0.01, 0.02, -0.03),
    gyro_matrix=((1.01, 0.002, 0.001), (-0.002, 0.99, 0.003), (0.004, -0.001, 1.02)),
    accel_bias_sd=0.003,
    accel_scale_sd=0.0003,
    accel_cross_sd=0.001,
    gyro_bias_sd=0.0003,
    gyro_scale_sd=0.0008,
    gyro_cross_sd=0.0009,
)


def test_constants_are_taken_out():
    rng = np.random.default_rng(1)
    force, rate = rng.normal(0, 10, (50, 3)), rng.normal(0, 3, (50, 3))
    measured = np.hstack(
        (
            force @ np.linalg.inv(KNOWN.accel_matrix).T + KNOWN.accel_bias,
            rate @ np.linalg.inv(KNOWN.gyro_matrix).T + KNOWN.gyro_bias,
        )
    )
    assert apply_calibration(measured, KNOWN) == pytest.approx(np.hstack((force, rate)))
    assert apply_calibration(measured, None) is measured


def test_gravity_elsewhere_reads_as_the_analysis_takes_it_away():
    here = replace(KNOWN, gravity=9.78)
    measured = np.array([[*(np.linalg.inv(KNOWN.accel_matrix) @ [0, 0, 9.78] + KNOWN.accel_bias), *KNOWN.gyro_bias]])
    assert apply_calibration(measured, here)[0] == pytest.approx([0, 0, 9.80665, 0, 0, 0])
    assert prior_after(prior_for("hobby"), here).accel_scale >= abs(9.80665 / 9.78 - 1)


@pytest.mark.parametrize("name", DEVICE_CLASSES)
def test_no_belief_becomes_wider_and_noise_stays(name):
    prior = prior_for(name)
    after = prior_after(prior, KNOWN)
    for field in fields(prior):
        assert getattr(after, field.name) <= getattr(prior, field.name)
    assert (after.accel_noise, after.gyro_noise) == (prior.accel_noise, prior.gyro_noise)
    assert after.accel_bias > KNOWN.accel_bias_sd  # drift since
    assert prior_after(prior, None) is prior


def test_a_gyroscope_not_shown_keeps_its_belief():
    prior = prior_for("hobby")
    after = prior_after(prior, replace(KNOWN, gyro_matrix=SAME, gyro_scale_sd=None, gyro_cross_sd=None))
    assert (after.gyro_scale, after.cross) == (prior.gyro_scale, prior.cross)
    assert after.accel_bias < 0.2 * prior.accel_bias


def lifted(rng, sensor):
    """A bar on the floor, pulled 1 m up while it spins by 97 degrees, set down again; samples and true velocity (n, 3).

    The sensor's y axis points to the left. The peak comes half-way up, at about 1.8 m/s.
    """
    rate_hz = 400.0
    t = np.arange(0, 5.5, 1 / rate_hz)
    rise, fall = (smooth(np.clip((t - start) / 1.2, 0, 1)) for start in (1.5, 2.9))
    place = np.stack((0 * t, 0 * t, rise - fall), axis=1)
    velocity = np.gradient(place, t, axis=0)
    pose = Rotation.from_rotvec(1.7 * rise[:, None] * np.array([0, 1, 0]))
    force = pose.inv().apply(np.gradient(velocity, t, axis=0) + np.array([0, 0, G]))
    steps = (pose[:-2].inv() * pose[2:]).as_rotvec() * rate_hz / 2
    rate = np.concatenate((steps[:1], steps, steps[-1:]))
    root = np.sqrt(rate_hz / 2)
    measured = force @ np.linalg.inv(sensor.accel_matrix).T + sensor.accel_bias
    turning = rate @ np.linalg.inv(sensor.gyro_matrix).T + sensor.gyro_bias
    noisy = (
        measured + rng.normal(0, sensor.accel_noise * root, force.shape),
        turning + rng.normal(0, sensor.gyro_noise * root, rate.shape),
    )
    return ImuSamples(t, *noisy), velocity


def test_a_calibrated_sensor_measures_velocity_better_and_its_u_says_so():
    """Peak velocity of a known pull with 40 hobby sensors, before and after their calibration in hands."""
    miss, u = {"before": [], "after": []}, {"before": [], "after": []}
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sensor = drawn(rng, HOBBY)
        found = calibrate_recording([held(rng, sensor, NINE)], SensorSetup(device_class="hobby"), G)
        samples, velocity = lifted(rng, sensor)
        peak = int(np.argmax(velocity[:, 2]))
        for when, calibration in (("before", None), ("after", found.calibration)):
            setup = SensorSetup(np.array([0.0, 1.0, 0.0]), device_class="hobby", along_m=0.0, calibration=calibration)
            motion = max(imu_motion(samples, setup).motions, key=lambda one: len(one.t_s))
            at = int(np.argmin(np.abs(motion.t_s - samples.t_s[peak])))
            miss[when].append(motion.velocity[at, 2] - velocity[peak, 2])
            u[when].append(motion.errors.velocity_sd(motion.t_s[[at]], np.array([0.0, 0.0, 1.0]))[0])
    rms = {when: float(np.sqrt(np.mean(np.square(all_)))) for when, all_ in miss.items()}
    assert rms["after"] < 0.6 * rms["before"]
    assert np.median(u["after"]) < 0.6 * np.median(u["before"])
    assert np.mean(np.abs(miss["after"]) < 2 * np.array(u["after"])) >= 0.9


def test_the_classes_of_the_simulator_and_of_the_poses_are_alike():
    """Both draw the same kinds of sensors, so that what holds for one holds for the other."""
    rng = np.random.default_rng(3)
    for name, kind in (("good", GOOD), ("hobby", HOBBY)):
        theirs = np.std([draw_constants(DEVICES[name], rng)["accel_bias"] for _ in range(300)])
        ours = np.std([drawn(rng, kind).accel_bias for _ in range(300)])
        assert ours == pytest.approx(theirs, rel=0.1)
