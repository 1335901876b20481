"""However the sensor is turned on the bar, the bar is the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from barsim import PERFECT, Mounting, SimulatedRecording, simulate
from barsim.bar import GRAVITY
from barwright.analysis.motion.samples import Recording
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import Rep
from barwright.analysis.reps.set_analysis import analyse_set

FLAWLESS = replace(PERFECT, rate_hz=250.0)  # without errors of its own a sensor's attitude leaves no trace
SNATCH = LIFTS["snatch"]


def snatch(axis: str | tuple[float, float, float], turn: float = 0.7) -> SimulatedRecording:
    return simulate("snatch", seed=31, device=FLAWLESS, mounting=Mounting(axis, turn=turn))


def only_rep(recording: Recording) -> Rep:
    (rep,) = analyse_set(recording, SNATCH).reps
    return rep


REFERENCE = only_rep(snatch("+x").recording)


@pytest.mark.parametrize("axis", ["+x", "-x", "+y", "-y", "+z", "-z", (0.6, -0.8, 0.0), (1.0, 1.0, 1.0)])
@pytest.mark.parametrize("turn", [0.7, -2.4])
def test_any_mounting_gives_the_same_path_and_measures(axis: str | tuple[float, float, float], turn: float) -> None:
    rep = only_rep(snatch(axis, turn).recording)
    assert rep.path.x_m is not None
    assert REFERENCE.path.x_m is not None
    np.testing.assert_allclose(
        rep.path.x_m, np.interp(rep.path.t_s, REFERENCE.path.t_s, REFERENCE.path.x_m), atol=0.004
    )
    np.testing.assert_allclose(
        rep.path.z_m, np.interp(rep.path.t_s, REFERENCE.path.t_s, REFERENCE.path.z_m), atol=0.003
    )
    for name in ("peak_velocity", "mean_velocity", "peak_height"):
        assert rep.measures[name].value == pytest.approx(REFERENCE.measures[name].value, abs=0.003)
    for name, figure in rep.path_measures.items():
        assert figure.value == pytest.approx(REFERENCE.path_measures[name].value, abs=0.005), name


def test_the_path_is_the_true_one_with_its_sign() -> None:
    one = snatch("+x")
    rep, true = only_rep(one.recording), one.truth
    x = np.interp(rep.path.t_s, true.t_s, true.x_m) - np.interp(rep.start_s, true.t_s, true.x_m)
    assert rep.path.x_m is not None
    np.testing.assert_allclose(rep.path.x_m, x, atol=0.008)
    rear = rep.path_measures["rearward_in_pull"].value
    assert rear is not None
    assert rear < -0.02  # toward the lifter is negative


def test_the_wrong_end_of_the_axis_mirrors_the_path() -> None:
    one = snatch("+x")
    turned = only_rep(replace(one.recording, setup=replace(one.recording.setup, bar_axis=np.array([-1.0, 0.0, 0.0]))))
    assert turned.path.x_m is not None
    assert REFERENCE.path.x_m is not None
    np.testing.assert_allclose(turned.path.x_m, -REFERENCE.path.x_m, atol=0.004)


def test_without_an_axis_the_spin_tells_it_up_to_the_sign_and_that_is_said() -> None:
    one = snatch("+y")
    answer = analyse_set(replace(one.recording, setup=replace(one.recording.setup, bar_axis=None)), SNATCH)
    assert not answer.quality.forward_known
    assert any("Forward sign not known" in word for word in answer.quality.words)
    (rep,) = answer.reps
    assert rep.path.x_m is not None
    assert REFERENCE.path.x_m is not None
    here = np.interp(rep.path.t_s, REFERENCE.path.t_s, REFERENCE.path.x_m)
    assert min(np.abs(rep.path.x_m - here).max(), np.abs(rep.path.x_m + here).max()) < 0.015


def test_an_axis_that_stands_upright_is_questioned() -> None:
    one = snatch("+x")
    up = one.imu_samples.accel_m_s2[:100].mean(axis=0) / GRAVITY
    wrong = replace(one.recording.setup, bar_axis=0.6 * np.array([1.0, 0.0, 0.0]) + 0.8 * up)
    answer = analyse_set(replace(one.recording, setup=wrong), SNATCH)
    assert any("53 degrees off level" in word for word in answer.quality.words)
