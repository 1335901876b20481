"""Velocity zones and the loss of velocity within a set."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from analysis.profiles.training import DAY, point, speed, year
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.fit import fit_profile
from barwright.analysis.profiles.velocity_loss import velocity_loss
from barwright.analysis.profiles.zones import club_zones, own_zones, published_zones, zone_of
from barwright.analysis.quantities.estimate import unknown

PROFILE = fit_profile("back_squat", year(days=30))


@pytest.mark.parametrize(
    ("velocity", "name"),
    [
        (0.30, "absolute strength"), (0.499, "absolute strength"), (0.5, "accelerative strength"),
        (0.75, "strength-speed"), (1.0, "speed-strength"), (1.3, "starting strength"), (2.0, "starting strength"),
    ],
)  # fmt: skip
def test_the_strength_continuum(velocity: float, name: str) -> None:
    """Mann, Ivey and Sayers 2015; ranges from memory: below 0.5, 0.5-0.75, 0.75-1.0, 1.0-1.3, above 1.3 m/s."""
    found = zone_of(velocity, published_zones("back_squat"))
    assert found.zone
    assert found.zone.name == name
    assert "Mann" in found.zone.source


@pytest.mark.parametrize("lift", ["snatch", "clean", "jerk", "snatch_pull", "power_clean"])
def test_ballistic_lifts_have_no_published_zones(lift: str) -> None:
    assert published_zones(lift) == ()


def test_a_velocity_answers_zone_percentage_and_kilograms() -> None:
    found = zone_of(0.6, published_zones("back_squat", PROFILE), PROFILE)
    assert found.percent
    assert found.load
    assert PROFILE.velocity_at(found.percent.value / 100 * PROFILE.belief.usual_max_kg).value == pytest.approx(0.6)
    assert found.load.value == pytest.approx(PROFILE.load_at(0.6).value)
    assert found.zone
    assert found.zone.from_kg <= found.load.value <= found.zone.to_kg  # type: ignore[operator]


def test_a_velocity_beyond_the_line_has_no_load_but_a_reason() -> None:
    found = zone_of(2.5, published_zones("back_squat", PROFILE), PROFILE)
    assert found.zone
    assert found.zone.name == "starting strength"
    assert found.load
    assert found.load.value is None
    assert "faster" in (found.load.reason or "")
    assert found.percent == unknown("%", found.load.reason or "")


def test_own_zones_follow_the_athletes_line_without_gaps() -> None:
    zones = own_zones(PROFILE)
    for slower, faster in pairwise(zones):
        assert slower.to_m_s == pytest.approx(faster.from_m_s)
        assert slower.from_kg == pytest.approx(faster.to_kg)
    assert zones[0].to_kg == pytest.approx(PROFILE.predicted_max.value)
    assert zones[0].from_kg == pytest.approx(0.9 * (PROFILE.predicted_max.value or 0), rel=1e-6)
    assert math.isinf(zones[-1].to_m_s)


def test_the_club_defines_its_own() -> None:
    zones = club_zones([("slow", 0.0, 0.6), ("quick", 0.7, 3.0)], PROFILE)
    assert zone_of(0.65, zones).zone is None
    assert zone_of(0.7, zones).zone == zones[1]
    for bad in ([("a", 0.5, 0.4)], [("a", 0.0, 0.5), ("b", 0.4, 0.9)], [(" ", 0.0, 0.5)]):
        with pytest.raises(NotPlausible, match="zones/"):
            club_zones(bad)


@pytest.mark.parametrize("velocity", [-0.1, 0.0, 6.01, math.nan])
def test_nonsense_velocities_are_refused(velocity: float) -> None:
    with pytest.raises(NotPlausible, match="velocity"):
        zone_of(velocity, published_zones("back_squat"))


def test_loss_in_the_set_and_when_to_stop() -> None:
    """100 (fastest - last) / fastest, Sánchez-Medina and González-Badillo 2011 (from memory)."""
    found = velocity_loss([speed(0.80), speed(0.82), speed(0.70), speed(0.656)], 20)
    assert found.loss.value == pytest.approx(20.0)
    assert found.stop is True
    assert found.chance == pytest.approx(0.5)
    on = velocity_loss([speed(0.80), speed(0.82), speed(0.78)], 20)
    assert on.stop is False
    assert on.chance is not None
    assert on.chance < 0.05
    assert "may go on" in on.words


def test_the_loss_has_the_uncertainty_of_both_reps() -> None:
    """Propagation of independent uncertainties (JCGM 100:2008, 5.1.2), against a numerical derivative."""
    fast, slow, u = 0.8, 0.6, 0.02

    def loss(a: float, b: float) -> float:
        return 100 * (a - b) / a

    by_fast = (loss(fast + 1e-6, slow) - loss(fast - 1e-6, slow)) / 2e-6
    by_slow = (loss(fast, slow + 1e-6) - loss(fast, slow - 1e-6)) / 2e-6
    assert velocity_loss([speed(fast), speed(slow)]).loss.u == pytest.approx(u * math.hypot(by_fast, by_slow), rel=1e-6)


def test_one_rep_or_none_has_no_loss() -> None:
    for reps in ([], [speed(0.8)], [unknown("m/s", "no rest"), speed(0.8)]):
        found = velocity_loss(reps, 20)
        assert found.loss.value is None
        assert found.stop is None
    with pytest.raises(NotPlausible, match="limit_percent"):
        velocity_loss([speed(0.8), speed(0.7)], 120)
    assert velocity_loss([speed(0.8), speed(0.8)]).loss.value == 0.0


def test_points_of_one_load_still_make_zones() -> None:
    one = fit_profile("back_squat", [point(100, 0.6), point(100, 0.62, DAY + 3)])
    assert all(zone.from_m_s < zone.to_m_s for zone in own_zones(one))
