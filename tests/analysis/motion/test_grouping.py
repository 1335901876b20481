"""Joined samples: what they must keep, and that a set comes out as from every sample."""

from __future__ import annotations

import numpy as np
import pytest

from barsim import simulate
from barwright.analysis.motion import imu_motion
from barwright.analysis.motion.grouping import in_groups
from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.motion.stretches import CutParams, cut_recording
from barwright.analysis.motion.timeline import even_samples
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.set_analysis import analyse_set

NOT_TOLD = SensorSetup(device_class="fast")


def test_the_mean_of_a_group_stands_at_its_middle_and_a_blow_marks_it_whole() -> None:
    """A straight line stays that line (arithmetic); one clipped sample of three marks all three."""
    t = np.arange(3001) / 1000
    values = np.outer(t, np.arange(1.0, 7.0))
    values[1500, 2] = 200.0
    even = even_samples(t, values)
    cut = cut_recording(even, NOT_TOLD, CutParams())
    joined, parts = in_groups(even, cut)
    assert joined.rate_hz == pytest.approx(1000 / 3)
    calm = np.abs(joined.t_s - 1.5) > 0.01
    np.testing.assert_allclose(joined.values[calm], np.outer(joined.t_s, np.arange(1.0, 7.0))[calm], atol=1e-12)
    assert parts.impact[500]
    assert not parts.impact[400]
    assert float(parts.extra_velocity_var.sum()) == pytest.approx(float(cut.extra_velocity_var[:3000].sum()))
    for span in parts.spans:
        assert not parts.impact[span.as_slice()].any()


@pytest.mark.parametrize("rate", [100, 416, 599])
def test_a_rate_below_600_is_left_alone(rate: float) -> None:
    """The same objects come back."""
    t = np.arange(400) / rate
    even = even_samples(t, np.ones((400, 6)) * np.sin(t)[:, None])
    cut = cut_recording(even, NOT_TOLD, CutParams())
    assert in_groups(even, cut) == (even, cut)


def test_a_snatch_at_1000_hz_is_the_same_joined_as_from_every_sample(monkeypatch: pytest.MonkeyPatch) -> None:
    """Peak velocities differ by far less than their u; noise alone differs a little between the two sums."""
    recording = simulate("snatch", seed=5, device="fast", reps=2).recording
    joined = analyse_set(recording, LIFTS["snatch"])
    monkeypatch.setattr(imu_motion, "in_groups", lambda even, cut: (even, cut))
    every = analyse_set(recording, LIFTS["snatch"])
    assert len(joined.reps) == len(every.reps) == 2
    for one, other in zip(joined.reps, every.reps, strict=True):
        a, b = one.measures["peak_velocity"], other.measures["peak_velocity"]
        assert a.value == pytest.approx(b.value, abs=0.3 * b.u)
        assert a.u == pytest.approx(b.u, rel=0.1)
