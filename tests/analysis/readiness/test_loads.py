"""From plan to plates: rounding, caps, limits, and the words that always go along."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.profiles.training import point, year
from barwright.analysis.profiles.bounds import NotPlausible
from barwright.analysis.profiles.fit import fit_profile
from barwright.analysis.profiles.zones import published_zones
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.readiness.loads import CAUTION, LoadLimits, PlannedSet, SuggestedLoad, suggest_loads
from barwright.analysis.readiness.plates import BARS_KG, PLATES_KG, BarLoad, Equipment, nearest_load
from barwright.analysis.readiness.today import Readiness, readiness_today

PROFILE = fit_profile("back_squat", year(days=60))
USUAL = PROFILE.predicted_max.value or 0.0
TODAY = PROFILE.on + 2
FINE = Equipment(plates=tuple((kg, 10 if kg == 25.0 else 2) for kg in PLATES_KG))


def ready(percent: float, shares: tuple[float, ...] = (0.6, 0.7, 0.8)) -> Readiness:
    """Readiness on a day that differs by so many per cent."""
    reps = [
        point(round(120 * x), 0.32 + 1.5 * (1 - round(120 * x) / (120 * (1 + percent / 100))), TODAY) for x in shares
    ]
    return readiness_today(PROFILE.belief, TODAY, reps)


def one(
    readiness: Readiness | None = None, limits: LoadLimits | None = None, percent: float = 80, **more: object
) -> SuggestedLoad:
    """One load."""
    plan = [PlannedSet(percent=percent)]
    return suggest_loads(plan, PROFILE, readiness, limits=limits, equipment=FINE, **more)[0]  # type: ignore[arg-type]


def test_percent_velocity_and_zone_become_kilograms() -> None:
    zone = published_zones("back_squat", PROFILE)[1]
    plan = [PlannedSet(percent=75), PlannedSet(velocity_m_s=0.6), PlannedSet(zone=zone)]
    by_percent, by_velocity, by_zone = suggest_loads(plan, PROFILE, equipment=FINE)
    assert by_percent.load_kg == pytest.approx(0.75 * USUAL, abs=0.51)
    assert by_velocity.load_kg == pytest.approx(PROFILE.load_at(0.6).value, abs=0.51)
    assert by_zone.load_kg == pytest.approx(PROFILE.load_at(0.625).value, abs=0.51)
    assert by_velocity.velocity.value == pytest.approx(0.6, abs=0.01)
    assert zone.from_kg < by_zone.load_kg < zone.to_kg  # type: ignore[operator]


def test_every_answer_has_caution_and_uncertainty() -> None:
    for found in (one(), one(ready(-6)), one(percent=100, level="novice"), one(age=15)):
        assert found.caution == CAUTION
        assert found.wanted.u is not None
        assert found.wanted.u > 0
        assert found.reasons
    for word in ("not an instruction", "supervis", "spotters", "pain", "Not medical advice", "overrule"):
        assert word in CAUTION


def test_a_worse_day_lowers_loads_but_not_beyond_the_cap() -> None:
    slightly = one(ready(-3))
    assert 0.95 * 0.8 * USUAL < slightly.load_kg < 0.8 * USUAL
    badly = one(ready(-14, (0.5, 0.6, 0.7)))
    assert badly.load_kg == pytest.approx(0.95 * 0.8 * USUAL, abs=0.51)
    assert badly.limited
    assert "cap" in badly.reasons[0]
    lifted = one(ready(-14, (0.5, 0.6, 0.7)), LoadLimits(cap_lifted=True))
    assert lifted.load_kg < 0.9 * 0.8 * USUAL


def test_a_better_day_raises_loads_within_the_cap() -> None:
    found = one(ready(+12, (0.5, 0.6, 0.7)))
    assert 0.8 * USUAL < found.load_kg <= 1.05 * 0.8 * USUAL
    assert found.limited


def test_loads_are_never_raised_on_one_fast_rep() -> None:
    fast = ready(+15, (0.7,))
    assert fast.verdict == "up"
    assert one(fast).load_kg <= one().load_kg
    assert "one fast set" in one(fast).reasons[0]
    reps = [point(72, 0.92, TODAY), point(84, 0.77 + 0.30, TODAY), point(96, 0.62, TODAY)]
    among_three = readiness_today(PROFILE.belief, TODAY, reps)
    assert one(among_three).load_kg <= one().load_kg


def test_a_day_not_surely_better_raises_nothing() -> None:
    found = one(ready(+1.5))
    assert found.load_kg == one().load_kg
    assert "not raised" in found.reasons[0]


def test_novices_and_minors_have_limits() -> None:
    for more in ({"level": "novice"}, {"age": 17}):
        found = one(percent=97, **more)
        assert found.load_kg <= 0.85 * USUAL
        assert found.limited
        assert "85 %" in found.reasons[-1]
        assert one(percent=70, **more).load_kg == one(percent=70).load_kg
    assert one(percent=97, age=18).load_kg > 0.95 * USUAL


def test_targets_beyond_the_line_are_held() -> None:
    slow, fast = suggest_loads([PlannedSet(velocity_m_s=0.05), PlannedSet(velocity_m_s=5.0)], PROFILE, equipment=FINE)
    assert slow.load_kg <= USUAL
    assert slow.limited
    assert fast.load_kg == 20.0
    assert fast.each_side == ()
    assert "empty bar" in fast.reasons[-1]


@pytest.mark.parametrize(
    ("make", "member"),
    [
        (lambda: PlannedSet(percent=-5), "percent"),
        (lambda: PlannedSet(percent=131), "percent"),
        (lambda: PlannedSet(), "percent"),
        (lambda: PlannedSet(percent=80, velocity_m_s=0.5), "percent"),
        (lambda: PlannedSet(velocity_m_s=6.5), "velocity"),
        (lambda: PlannedSet(percent=80, reps=0), "reps"),
        (lambda: PlannedSet(percent=80, sets=51), "sets"),
        (lambda: LoadLimits(cap_percent=50), "cap_percent"),
        (lambda: LoadLimits(novice_percent=0), "novice_percent"),
        (lambda: Equipment(bar_kg=0), "bar_kg"),
        (lambda: Equipment(step_kg=0), "step_kg"),
        (lambda: Equipment(collars_kg=-1), "collars_kg"),
        (lambda: Equipment(plates=((25.0, 2), (-5.0, 1))), "plates/1"),
    ],
)
def test_nonsense_is_refused_with_its_member(make: object, member: str) -> None:
    with pytest.raises(NotPlausible) as told:
        make()  # type: ignore[operator]
    assert told.value.member == member


def test_bars_and_plates_are_those_of_the_rules() -> None:
    """Bars 20 and 15 kg; plates 25, 20, 15, 10, 5, 2.5, 2, 1.5, 1, 0.5 kg; collars 2.5 kg each (nbcolympics.com)."""
    assert BARS_KG == (20.0, 15.0)
    assert PLATES_KG == (25.0, 20.0, 15.0, 10.0, 5.0, 2.5, 2.0, 1.5, 1.0, 0.5)
    with_collars = Equipment(bar_kg=20.0, collars_kg=5.0)
    assert nearest_load(1.0, with_collars).load_kg == 25.0
    assert nearest_load(1.0, Equipment(bar_kg=15.0, collars_kg=5.0)).load_kg == 20.0


def test_a_known_load_has_the_expected_plates() -> None:
    """190 kg on a 20 kg bar: three pairs of 25 and one of 10; 101 kg: 25, 15 and 0.5 on each side."""
    assert nearest_load(190.0, Equipment()) == BarLoad(190.0, ((25.0, 3), (10.0, 1)))
    assert nearest_load(101.0, Equipment()) == BarLoad(101.0, ((25.0, 1), (15.0, 1), (0.5, 1)))


@settings(max_examples=50, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(PLATES_KG), st.integers(0, 2)), min_size=1, max_size=5, unique_by=lambda x: x[0]
    ),
    st.sampled_from(BARS_KG),
    st.sampled_from([1.0, 2.5]),
    st.floats(5, 300),
    st.floats(30, 400),
)
def test_nothing_nearer_can_be_built(
    plates: list[tuple[float, int]], bar: float, step: float, wanted: float, most: float
) -> None:
    """Against every combination of plates tried one by one."""
    tools = Equipment(bar, tuple(plates), step)
    found = nearest_load(wanted, tools, most)
    assert found.load_kg == pytest.approx(bar + 2 * sum(kg * n for kg, n in found.each_side))
    owned = dict(plates)
    assert all(0 < n <= owned[kg] for kg, n in found.each_side)
    every = {
        bar + 2 * sum(kg * n for (kg, _), n in zip(plates, counts, strict=True))
        for counts in itertools.product(*(range(pairs + 1) for _, pairs in plates))
    }
    built = [x for x in every if abs((x - bar) / step - round((x - bar) / step)) < 1e-6 and x <= most + 1e-9] or [bar]
    assert abs(found.load_kg - wanted) == pytest.approx(min(abs(x - wanted) for x in built), abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(40, 100),
    st.floats(-25, 25),
    st.sampled_from([1.0, 2.5]),
    st.booleans(),
    st.sampled_from([None, "novice"]),
)
def test_no_load_passes_cap_or_limit_after_rounding(
    percent: float, change: float, step: float, lifted: bool, level: str | None
) -> None:
    tools = replace(FINE, step_kg=step)
    base = ready(0)
    moved = replace(
        base,
        verdict="up" if change > 0 else "down",  # type: ignore[arg-type]
        day_max=replace(base.day_max, estimate=Estimate(USUAL * (1 + change / 100), 3.0, "kg")),
    )
    plan, rule = [PlannedSet(percent=percent)], LoadLimits(cap_lifted=lifted)
    (found,) = suggest_loads(plan, PROFILE, moved, equipment=tools, limits=rule, level=level)
    usual_load = USUAL * percent / 100
    if not lifted:
        assert found.load_kg <= usual_load * 1.05 + 1e-6
        assert found.load_kg >= min(usual_load, USUAL * 0.85) * 0.95 - 2.5 - 1e-6  # these plates go by 1 or 5 kg
    if level == "novice":
        today = change if lifted else min(max(change, -5.0), 5.0)
        assert found.load_kg <= 0.85 * USUAL * (1 + today / 100) + 1e-6
    assert found.load_kg == pytest.approx(20 + 2 * sum(kg * n for kg, n in found.each_side))


def test_steps_of_two_and_a_half_kilograms() -> None:
    found = [nearest_load(wanted, Equipment(step_kg=2.5)).load_kg for wanted in (61.0, 62.0, 63.9, 71.1, 71.25)]
    assert found == [60.0, 62.5, 65.0, 70.0, 70.0]
    assert nearest_load(62.5, Equipment(step_kg=2.5)).each_side == ((20.0, 1), (1.25, 1))


def test_a_full_rack_of_plates_is_no_trouble() -> None:
    many = Equipment(plates=tuple((kg, 20) for kg in PLATES_KG))
    assert nearest_load(143.0, many).load_kg == 143.0
