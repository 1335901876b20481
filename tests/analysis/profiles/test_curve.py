"""The curve of velocity against load: its bow, its inverse, and the published equations it is measured by."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright.analysis.profiles.curve import HIGHEST, LOWEST, MOST_BEND, bow, held, shares_at, velocity_of
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.profiles.published import EQUATIONS


def test_the_bow_is_nothing_at_its_ends_and_one_midway() -> None:
    value, steep = bow(np.array([0.4, 0.7, 1.0]))
    assert value == pytest.approx([0.0, 1.0, 0.0])
    assert steep[1] == pytest.approx(0.0)


@given(st.floats(0.2, 3.0), st.floats(-1.0, 1.0), st.floats(0.05, 1.3))
def test_every_velocity_has_one_share(slope: float, bend: float, share: float) -> None:
    """Steep or flat, bent either way as far as is allowed, within the parabola and beyond it."""
    line = (0.3, slope, float(held(np.array(slope), np.array(bend * MOST_BEND))))
    shares = np.linspace(0.0, 1.4, 60)
    assert np.all(np.diff(velocity_of(line, shares)) < 0)
    assert shares_at(line, velocity_of(line, np.array([share]))) == pytest.approx([share], abs=1e-9)


def test_the_derivative_is_that_of_the_bow_on_both_sides_of_its_edges() -> None:
    at = np.array([0.1, LOWEST + 0.01, 0.8, HIGHEST - 0.01, 1.3])
    rise = (bow(at + 1e-6)[0] - bow(at - 1e-6)[0]) / 2e-6
    assert rise == pytest.approx(bow(at)[1], rel=1e-6)


@pytest.mark.parametrize(
    ("lift", "measure", "bend"),
    [
        ("back_squat", "mean_velocity", 0.040),
        ("back_squat", "mean_propulsive_velocity", 0.024),
        ("bench_press", "mean_propulsive_velocity", -0.031),
        ("bent_over_row", "mean_propulsive_velocity", -0.050),
    ],
)
def test_bends_of_the_published_equations(lift: str, measure: str, bend: float) -> None:
    """Sánchez-Medina et al. 2017 (S2), González-Badillo and Sánchez-Medina 2010 and Sánchez-Medina et al. 2014 (M)."""
    equation = EQUATIONS[lift, measure]
    ends = 0.5 * (equation.velocity_at(40) + equation.velocity_at(100))
    assert equation.velocity_at(70) - ends == pytest.approx(bend, abs=0.0006)
    prior = prior_for(lift)
    assert abs(bend - prior.bend) < prior.bend_sd, "the group's own curve is a common one"
    assert abs(prior.bend) < 1.1 * prior.bend_sd, "and so is a straight line"


def test_the_curve_follows_the_published_squat() -> None:
    """Within 0.004 m/s of the mean-velocity equation from 40 to 100 % (Sánchez-Medina et al. 2017, S2)."""
    equation = EQUATIONS["back_squat", "mean_velocity"]
    shares = np.linspace(0.4, 1.0, 13)
    line = (equation.velocity_at(100), equation.mean_slope(), 0.0395)
    published = [equation.velocity_at(100 * share) for share in shares]
    assert velocity_of(line, shares) == pytest.approx(published, abs=0.004)
