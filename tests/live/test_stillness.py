"""The cheap look at the newest samples: still, moved, dropped."""

from __future__ import annotations

import numpy as np
import pytest

from barwright.live.stillness import Stillness

RATE = 200.0
GRAVITY = 9.80665


def imu(seconds: float, start_s: float = 0.0, sway: float = 0.0, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """A resting sensor with a hobby sensor's noise; sway: amplitude in m/s2 of a swing at 1 Hz."""
    t = start_s + np.arange(round(seconds * RATE)) / RATE
    values = np.random.default_rng(seed).normal(0, 0.03, (len(t), 6))
    values[:, 2] += GRAVITY + sway * np.sin(2 * np.pi * t)
    return np.rint(t * 1e6).astype(np.int64), values


def test_a_bar_on_the_floor_is_still_and_has_not_moved() -> None:
    still = Stillness()
    for piece in range(8):
        still.add(*imu(0.25, 0.25 * piece, seed=piece))
    assert still.still_s == pytest.approx(2.0, abs=0.03)
    assert not still.moved
    assert still.motion_us is None


def test_hands_that_sway_are_still() -> None:
    """3 mm of sway at 1 Hz is 0.12 m/s2 at its peaks (common practice, no source)."""
    still = Stillness()
    still.add(*imu(2.0, sway=0.12))
    assert still.still_s > 1.8


def test_a_pull_is_motion_and_its_end_is_rest() -> None:
    still = Stillness()
    still.add(*imu(1.0))
    t, values = imu(1.0, 1.0)
    values[:, 2] += 4.0 * np.sin(2 * np.pi * (t * 1e-6 - 1.0))
    still.add(t, values)
    assert still.still_s == 0.0
    assert still.moved
    assert still.motion_us == pytest.approx(1.0e6, abs=0.1e6)
    still.add(*imu(0.6, 2.0))
    assert still.still_s == pytest.approx(0.6, abs=0.06)


def test_a_twitch_is_no_motion() -> None:
    still = Stillness()
    still.add(*imu(1.0))
    t, values = imu(1.0, 1.0)
    values[50:54, 0] += 3.0
    still.add(t, values)
    assert not still.moved or still.still_s > 0.2


def test_a_drop_is_seen() -> None:
    still = Stillness()
    t, values = imu(1.0)
    values[120, 2] = 25 * GRAVITY
    still.add(t, values)
    assert still.impact_us == t[120]


@pytest.mark.parametrize("pieces", [1, 3, 40])
def test_any_cutting_sees_the_same(pieces: int) -> None:
    t, values = imu(3.0)
    values[200:350, 2] += 5.0 * np.sin(np.arange(150) / 10)
    whole, cut = Stillness(), Stillness()
    whole.add(t, values)
    for a, b in zip(np.array_split(t, pieces), np.array_split(values, pieces), strict=True):
        cut.add(a, b)
    assert (cut.still_since_us, cut.moved, cut.motion_us) == (whole.still_since_us, whole.moved, whole.motion_us)


def test_an_encoder_is_still_where_its_height_is() -> None:
    still = Stillness()
    t = np.arange(600) * 5000
    height = np.concatenate((np.full(200, 1.0), 1.0 - 0.5 * np.sin(np.linspace(0, np.pi, 200)), np.full(200, 1.0)))
    still.add(t, height[:, None])
    assert still.moved
    assert still.still_s == pytest.approx(1.0, abs=0.1)
