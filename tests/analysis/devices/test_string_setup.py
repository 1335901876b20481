"""A string encoder set up from measured pulls, against simulated strings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from barwright.analysis.devices.string_setup import Offsets, Pull, set_up_string
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.unusable import UnusableSamples


def metres(value: float, u: float = 0.002) -> Estimate:
    return Estimate(value, u, "m")


def pulled(length: float, per_m: float = 5000.0, slip: float = 0.0, u: float = 0.002, error: float = 0.0) -> Pull:
    out = 100 + round(per_m * (length + error))
    return Pull(100.0, float(out), 100.0 + slip, metres(length, u))


def test_one_pull_gives_counts_for_a_metre_with_the_tapes_uncertainty():
    found = set_up_string([pulled(1.0)], None)
    assert found.counts_per_m.value == pytest.approx(5000, abs=1)
    assert found.counts_per_m.u == pytest.approx(5000 * 0.002, rel=0.05)
    assert found.m_per_count.value == pytest.approx(1 / 5000, rel=1e-3)
    assert found.direction == 1
    assert found.anchor_offset.value is None
    assert "offsets" in found.anchor_offset.reason
    assert any("Pull further" in word for word in set_up_string([pulled(0.5)], None).words)


def test_u_holds_the_truth_over_many_settings():
    """200 strings, three pulls of a tape read to 2 mm of which half is the tape's own: within 2 u in 90-99 %."""
    inside = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        tape = rng.normal(0, 0.002 / math.sqrt(2))
        pulls = [pulled(1.5, error=tape + rng.normal(0, 0.002 / math.sqrt(2))) for _ in range(3)]
        found = set_up_string(pulls, None)
        inside.append(abs(found.counts_per_m.value - 5000) <= 2 * found.counts_per_m.u)
    assert 0.90 <= np.mean(inside) <= 0.99


def test_a_string_that_counts_down_gets_a_negative_factor():
    found = set_up_string([Pull(0.0, -8000.0, 0.0, metres(2.0))], None)
    assert found.direction == -1
    assert found.m_per_count.value == pytest.approx(-2 / 8000)
    assert any("negative" in word for word in found.words)


def test_slip_is_seen_and_its_absence_is_said():
    assert any("No slip" in word for word in set_up_string([pulled(1.0), pulled(1.5)], None).words)
    found = set_up_string([pulled(1.0, slip=40), pulled(1.5, slip=44), pulled(1.5, slip=42)], None)
    assert found.slip.value == pytest.approx(42 / 5000, rel=0.01)
    assert any("loses" in word for word in found.words)


def test_pulls_that_disagree_widen_u_and_say_so():
    found = set_up_string([pulled(1.0), pulled(1.0, error=0.03), pulled(1.0, error=-0.03)], None)
    assert found.agreement > 10
    assert found.counts_per_m.u > 50
    assert any("agree less" in word for word in found.words)


@pytest.mark.parametrize(("d", "h"), [(0.15, 0.2), (0.4, 0.3), (0.05, 0.5)])
def test_the_anchor_comes_from_two_lengths_and_the_rise_between(d, h):
    """Pythagoras, twice; u by random draws of the three lengths."""
    low, high = math.hypot(d, h), math.hypot(d, h + 1.2)
    offsets = Offsets(metres(low), metres(high), metres(1.2))
    found = set_up_string([pulled(1.0)], offsets)
    assert found.anchor_offset.value == pytest.approx(d, abs=1e-9)
    assert found.anchor_below.value == pytest.approx(h, abs=1e-9)
    assert found.slant.value == pytest.approx(math.atan2(d, h), abs=1e-9)
    draws = np.random.default_rng(0).normal([low, high, 1.2], 0.002, (20000, 3))
    below = (draws[:, 1] ** 2 - draws[:, 0] ** 2 - draws[:, 2] ** 2) / (2 * draws[:, 2])
    assert found.anchor_below.u == pytest.approx(np.std(below), rel=0.05)
    if d > 0.1:
        offset = np.sqrt(np.maximum(draws[:, 0] ** 2 - below**2, 0))
        assert found.anchor_offset.u == pytest.approx(np.std(offset), rel=0.1)


def test_what_cannot_be_is_refused():
    up, down = pulled(1.0), Pull(0.0, -5000.0, None, metres(1.0))
    for pulls, offsets, said in (
        ([up, down], None, "direction"),
        ([Pull(5.0, 5.0, None, metres(1.0))], None, "direction"),
        ([Pull(0.0, 5000.0, None, metres(0.0))], None, "length"),
        ([up], Offsets(metres(0.5), metres(2.5), metres(1.0)), "cannot belong"),
    ):
        with pytest.raises(UnusableSamples, match=said):
            set_up_string(pulls, offsets)
