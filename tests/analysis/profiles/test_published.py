"""Published equations and formulas as arithmetic oracles; what they are worth for people they do not say."""

from __future__ import annotations

import pytest

from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.priors import prior_for
from barwright.analysis.profiles.published import EQUATIONS, propulsive_share
from barwright.analysis.profiles.rep_max import rep_max
from barwright.analysis.quantities.lifts import LIFTS

SQUAT_MPV = ("back_squat", "mean_propulsive_velocity")
SQUAT_MV, SQUAT_PV = ("back_squat", "mean_velocity"), ("back_squat", "peak_velocity")
BENCH, ROW = ("bench_press", "mean_propulsive_velocity"), ("bent_over_row", "mean_propulsive_velocity")
# velocity at each % of maximum: exact inverses of the published equations, computed apart from this code
AT_PERCENT = {
    40: (1.131, 1.315, 1.228, 1.951, 1.372), 50: (0.952, 1.162, 1.097, 1.799, 1.195),
    60: (0.782, 1.005, 0.960, 1.639, 1.035), 65: (0.700, 0.925, 0.888, 1.556, 0.961),
    70: (0.620, 0.843, 0.815, 1.469, 0.889), 75: (0.542, 0.760, 0.740, 1.380, 0.820),
    80: (0.465, 0.676, 0.662, 1.287, 0.753), 85: (0.389, 0.590, 0.582, 1.191, 0.689),
    90: (0.315, 0.503, 0.499, 1.091, 0.626), 95: (0.243, 0.414, 0.413, 0.986, 0.565),
    100: (0.171, 0.323, 0.323, 0.876, 0.506),
}  # fmt: skip


@pytest.mark.parametrize("percent", AT_PERCENT)
def test_velocities_at_each_percentage_of_the_published_equations(percent: int) -> None:
    """González-Badillo 2010 (bench, from memory), Sánchez-Medina 2017 (squat, second-hand), 2014 (row, from memory)."""
    for key, velocity in zip((BENCH, SQUAT_MPV, SQUAT_MV, SQUAT_PV, ROW), AT_PERCENT[percent], strict=True):
        one = EQUATIONS[key]
        assert one.velocity_at(percent) == pytest.approx(velocity, abs=6e-4)
        assert one.percent_at(one.velocity_at(percent)) == pytest.approx(percent, abs=1e-9)


@pytest.mark.parametrize(
    ("key", "velocity", "percent"),
    [(BENCH, 0.80, 58.93), (SQUAT_MPV, 0.80, 72.62), (SQUAT_MV, 0.60, 83.88), (ROW, 0.80, 76.49)]
)  # fmt: skip
def test_percentage_at_a_velocity(key: tuple[str, str], velocity: float, percent: float) -> None:
    """Forward spot checks computed from the equations themselves."""
    assert EQUATIONS[key].percent_at(velocity) == pytest.approx(percent, abs=0.01)


@pytest.mark.parametrize(
    ("key", "mean", "sd"), [(BENCH, 0.16, 0.04), (SQUAT_MV, 0.32, 0.03), (SQUAT_MPV, 0.32, 0.03), (ROW, 0.52, 0.04)]
)  # fmt: skip
def test_equations_agree_with_the_published_one_rep_velocities(key: tuple[str, str], mean: float, sd: float) -> None:
    """Bench 0.16 ± 0.04 and squat 0.32 ± 0.03 (seen in the papers' abstracts), bench pull 0.52 ± 0.04 (from memory)."""
    assert abs(EQUATIONS[key].velocity_at(100.0) - mean) < sd


def test_the_power_clean_equation_is_a_warning() -> None:
    """J Hum Sport Exerc 2018: 100 % at 1.116 m/s; measured 1.74 ± 0.30 m/s (Suchomel et al. 2024, hang power clean)."""
    one = EQUATIONS["power_clean", "peak_velocity"]
    assert one.velocity_at(100.0) == pytest.approx(1.116, abs=5e-4)
    assert one.velocity_at(100.0) < 1.74 - 2 * 0.30
    assert one.warning


def test_propulsive_share_of_the_squat() -> None:
    """82 % of the time at 40 % and all of it at the maximum (Sánchez-Medina et al. 2017), in line with both equations:

    what is left for the braking phase is slower than the driven one, and not negative.
    """
    assert propulsive_share(40) == pytest.approx(0.82)
    assert propulsive_share(100) == pytest.approx(1.0)
    driven, whole = EQUATIONS[SQUAT_MPV], EQUATIONS[SQUAT_MV]
    for percent in (40, 50, 60, 70, 80, 90):
        share = propulsive_share(percent)
        braking = (whole.velocity_at(percent) - share * driven.velocity_at(percent)) / (1 - share)
        assert 0 < braking < driven.velocity_at(percent)
    assert driven.velocity_at(100) == pytest.approx(whole.velocity_at(100), abs=1e-3)


def test_straight_priors_have_the_mean_slope_of_the_equations() -> None:
    for lift, key in (("back_squat", SQUAT_MV), ("bench_press", BENCH), ("bent_over_row", ROW)):
        assert prior_for(lift).slope == pytest.approx(EQUATIONS[key].mean_slope(), abs=0.01)


@pytest.mark.parametrize("lift", LIFTS)
def test_every_lift_has_a_prior_with_its_measure_and_source(lift: str) -> None:
    prior = prior_for(lift)
    assert prior.measure == LIFTS[lift].key_velocity
    assert prior.source
    assert prior.one_rep_sd > 0
    assert prior.slope_sd > 0


def test_snatch_prior_has_the_plausible_slope() -> None:
    """0.010-0.015 m/s for each per cent (from memory); one-rep peak velocity about 1.6-1.9 m/s (from memory)."""
    prior = prior_for("snatch")
    assert 1.0 <= prior.slope <= 1.5
    assert 1.6 <= prior.one_rep <= 1.9


# Repetitions to the maximum for 100 kg; formulas from memory, the table computed from them.
REPS = {
    2: (106.67, 102.86, 107.18, 105.15, 105.00), 3: (110.00, 105.88, 111.61, 108.98, 107.50),
    5: (116.67, 112.50, 117.46, 116.58, 112.50), 8: (126.67, 124.14, 123.11, 127.67, 120.00),
    10: (133.33, 133.33, 125.89, 134.75, 125.00),
}  # fmt: skip


@pytest.mark.parametrize("reps", REPS)
def test_table_of_maxima_from_repetitions(reps: int) -> None:
    found = rep_max(100.0, reps)
    assert list(found.by_formula) == ["epley", "brzycki", "lombardi", "wathan", "oconner"]
    assert list(found.by_formula.values()) == pytest.approx(REPS[reps], abs=0.006)
    assert found.lowest_kg == pytest.approx(min(REPS[reps]), abs=0.006)
    assert found.highest_kg == pytest.approx(max(REPS[reps]), abs=0.006)


def test_one_rep_is_its_own_maximum_and_epley_meets_brzycki_at_ten() -> None:
    assert set(rep_max(87.5, 1).by_formula.values()) == {87.5}
    ten = rep_max(120.0, 10).by_formula
    assert ten["epley"] == pytest.approx(ten["brzycki"])


@pytest.mark.parametrize(
    ("load", "reps", "member"), [(100, 11, "reps"), (100, 0, "reps"), (-5, 3, "load_kg"), (601, 3, "load_kg")]
)
def test_nonsense_is_refused_with_its_member(load: float, reps: int, member: str) -> None:
    with pytest.raises(NotPlausible) as told:
        rep_max(load, reps)
    assert told.value.member == member
