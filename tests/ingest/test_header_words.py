"""What a header says, in the spellings of loggers and example sketches (common practice, no source)."""

from __future__ import annotations

import pytest

from barwright.ingest.tables.header_words import LONGEST_HEADER, read_word, unit_of

SAID = {
    "time_ms": ("time", "ms"), "Time (s)": ("time", "s"), "timestamp": ("time", None), "millis()": ("time", "ms"),
    "timestamp_ns": ("time", "ns"), "Elapsed time [ms]": ("time", "ms"), "us": ("time", "us"), "t": ("time", None),
    "TimeMs": ("time", "ms"), "sample_time_us": ("time", "us"), "t_s": ("time", "s"), "epoch_us": ("time", "us"),
    "AccX": ("accel_x", None), "ax": ("accel_x", None), "ACCX": ("accel_x", None), "imu.acc.y": ("accel_y", None),
    "acc_x [m/s^2]": ("accel_x", "m/s2"), "AccX (g)": ("accel_x", "[g]"), "accel_x[[g]]": ("accel_x", "[g]"),
    "acc_x_mg": ("accel_x", "m[g]"), "acc_x_ms2": ("accel_x", "m/s2"), "acc_x_m_s2": ("accel_x", "m/s2"),
    "a_x / (m/s²)": ("accel_x", "m/s2"), "Accelerometer Z (m/s²)": ("accel_z", "m/s2"),
    "x-axis (g)": ("accel_x", "[g]"),
    "gx (g)": ("accel_x", "[g]"), "AccXg": ("accel_x", "[g]"), "acc_x_raw": ("accel_x", None),
    "GyrX": ("gyro_x", None), "gz": ("gyro_z", None), "wx": ("gyro_x", None), "gyroXdps": ("gyro_x", "deg/s"),
    "gyro_x_rad_s": ("gyro_x", "rad/s"), "angular_velocity.x": ("gyro_x", None), "AngVelZ": ("gyro_z", None),
    "rotation_rate_y (deg/s)": ("gyro_y", "deg/s"), "Gyro X in deg/s": ("gyro_x", "deg/s"),
    "gyro_y (°/s)": ("gyro_y", "deg/s"), "x-axis (deg/s)": ("gyro_x", "deg/s"),
    "height": ("position", None), "Pos_mm": ("position", "mm"), "position[m]": ("position", "m"),
    "encoder counts": ("position", None), "speed (m/s)": ("velocity", "m/s"), "velocity": ("velocity", None),
}  # fmt: skip
NOTHING = [
    "", "x", "z", "battery", "mag_x", "temperature (C)", "quat_w", "roll", "pitch", "label", "sample", "index",
    "angular acceleration x", "LinAccX", "user_acceleration_y", "accel", "gyro", "acc_xy", "(g)", "[", "a" * 500,
]  # fmt: skip


@pytest.mark.parametrize(("header", "said"), SAID.items())
def test_what_a_header_says(header: str, said: tuple[str, str | None]) -> None:
    word = read_word(header)
    assert (word.channel, unit_of(word)) == said


@pytest.mark.parametrize("header", NOTHING)
def test_what_says_nothing_known(header: str) -> None:
    assert read_word(header).channel is None


def test_force_without_gravity_says_why_it_is_left() -> None:
    assert "gravity was taken out" in read_word("linear_acceleration_x").why
    assert len("a" * 500) > LONGEST_HEADER


def test_our_own_names_are_known_from_others() -> None:
    assert read_word("accel_x[m/s2]").own
    assert not read_word("AccX").own
