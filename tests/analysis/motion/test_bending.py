"""A bar that bends under its load is told from one that is tilted, by a sensor far out on it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from barwright.analysis.motion.bending import find_bending
from barwright.analysis.motion.lever import smoothed

Floats = NDArray[np.float64]
DT = 1 / 400
G = 9.80665
OUT_M = 0.9


def _lift(t: Floats) -> tuple[Floats, Floats]:
    """Height (m) and velocity (m/s) of the hands: a pull of two pushes, and a catch, from smooth bumps of velocity."""
    bumps = ((1.1, 1.3, 0.20), (1.9, 1.62, 0.16), (-1.0, 2.05, 0.11), (0.5, 3.4, 0.3))
    v = np.sum([size * np.exp(-(((t - at) / width) ** 2)) for size, at, width in bumps], axis=0)
    return np.concatenate(([0.0], np.cumsum(0.5 * (v[1:] + v[:-1])) * DT)), np.asarray(v)


def _load(t: Floats, hands: Floats, speed: Floats, hz: float, damping: float) -> Floats:
    """(n,) height of a load that hangs on the hands by a damped spring, at rest before: a base-excited oscillator."""
    omega, parts = 2 * np.pi * hz, 10
    fine = np.linspace(t[0], t[-1], (len(t) - 1) * parts + 1)
    z, v = np.interp(fine, t, hands), np.interp(fine, t, speed)
    step = DT / parts
    height, rate, out = 0.0, 0.0, np.empty(len(fine))
    for k in range(len(fine)):
        out[k] = height
        rate += step * (omega**2 * (z[k] - height) + 2 * damping * omega * (v[k] - rate))
        height += step * rate
    return out[::parts]


def _seen(hz: float, grip_m: float, side: float, *, bends: bool) -> tuple[Floats, Floats, Floats, Floats]:
    """Time, the bar's direction (n, 3) at its end, velocity of the middle by a stiff lever, and of the hands (m/s).

    A beam on two hands with the load at 0.78 m (Euler and Bernoulli): deflection and slope per force in closed form.
    """
    t = np.arange(0, 5, DT)
    hands, speed = _lift(t)
    load_m = 0.78
    reach = load_m - grip_m
    sag, slope = reach**3 / 3 + grip_m * reach**2, reach**2 / 2 + grip_m * reach
    sunk = _load(t, hands, speed, hz, 0.05) - hands
    turned = slope / sag * sunk if bends else np.zeros_like(t)  # of the left end, upward
    tilted = 0.02 * np.sin(2 * np.pi * 0.7 * t)  # the lifter's own
    angle = tilted + side * turned
    along = np.stack((np.zeros_like(t), np.cos(angle), np.sin(angle)), axis=1)
    ends = hands + side * OUT_M * np.sin(tilted) + (1 + (OUT_M - load_m) * slope / sag) * sunk
    velocity = np.zeros((len(t), 3))
    velocity[:, 2] = np.gradient(ends, DT)
    velocity -= side * OUT_M * smoothed(np.gradient(along, DT, axis=0), DT)
    return t, along, velocity, speed


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize(("hz", "grip_m"), [(6.5, 0.28), (7.5, 0.42), (9.5, 0.35)])
def test_the_middle_of_a_bent_bar_is_reckoned_from_its_bend(hz: float, grip_m: float, side: float) -> None:
    """A stiff lever is off by the bend; what is left is off by where the hands really are, told in u."""
    t, along, velocity, speed = _seen(hz, grip_m, side, bends=True)
    bending = find_bending(along, velocity, side * OUT_M, DT)
    assert bending is not None
    moving = (t > 0.8) & (t < 2.4)
    before = np.abs(velocity[moving, 2] - speed[moving])
    after = np.abs(velocity[moving, 2] + bending.velocity[moving, 2] - speed[moving])
    assert np.sqrt(np.mean(after**2)) < 0.4 * np.sqrt(np.mean(before**2))
    assert np.mean(after < 2 * bending.velocity_sd[moving, 2] + 0.005) > 0.9


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_tilted_bar_that_does_not_bend_is_left_to_the_lever(side: float) -> None:
    """The load swings, as on a loose sleeve, but the bar does not turn in step with it."""
    _, along, velocity, _ = _seen(7.5, 0.35, side, bends=False)
    assert find_bending(along, velocity, side * OUT_M, DT) is None


def test_a_sensor_between_the_hands_feels_no_bend() -> None:
    """Inside of OUTSIDE_M nothing is looked for."""
    _, along, velocity, _ = _seen(7.5, 0.35, 1.0, bends=True)
    assert find_bending(along, velocity, 0.2, DT) is None


def test_a_bar_let_go_hides_no_bend() -> None:
    """For the last second the force swings and the bar turns by nothing: the rest still shows how it bends."""
    _, along, velocity, _ = _seen(7.5, 0.35, 1.0, bends=True)
    whole = find_bending(along, velocity, OUT_M, DT)
    late = len(along) - round(1.0 / DT)
    shaken = 0.01 * np.sin(2 * np.pi * 6 * DT * np.arange(len(along) - late))
    along[late:], velocity[late:] = along[late], velocity[late]
    velocity[late:, 2] += shaken
    part = find_bending(along, velocity, OUT_M, DT)
    assert whole is not None
    assert part is not None
    assert part.lifted_m == pytest.approx(whole.lifted_m, rel=0.1)
