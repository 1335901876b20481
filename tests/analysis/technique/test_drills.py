"""Drills: one main and one primer for the earliest fault, never above the lifter's ceiling."""

from __future__ import annotations

from dataclasses import replace

import pytest

from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.catalogue import published, with_club
from barwright.analysis.technique.drills import Lifter, advise, choose_drills
from barwright.analysis.technique.faults import Fault, find_faults
from barwright.analysis.technique.limits import CLEAN, JERK, SNATCH, limits_for
from lifts_by_hand import reps

CATALOGUE = published()
MAXIMA = {lift: Estimate(100.0, 3.0, "kg") for lift in ("snatch", "clean", "jerk")}
ADVANCED = Lifter("advanced", 25, False, MAXIMA)
ALL_TRIES = [(fault, one) for fault, tries in CATALOGUE.tries.items() for one in tries]


def a_fault(code: str = "S1") -> Fault:
    (limit,) = (one for one in (*SNATCH, *CLEAN, *JERK) if one.code == code)
    size = Estimate(0.03, 0.002, limit.unit)
    return Fault(code, limit.phase, limit.measure, limit.title, limit.says, size, None, 0.02, "wide", "test", 0.9, 3, 3)


def test_every_fault_has_a_primer_and_drills():
    codes = {limit.code for limit in (*SNATCH, *CLEAN, *JERK)}
    assert set(CATALOGUE.tries) == set(CATALOGUE.primers) == codes
    assert all(CATALOGUE.tries[code] for code in codes)


@pytest.mark.parametrize("code", CATALOGUE.drills)
def test_every_drill_is_complete(code):
    drill = CATALOGUE.drills[code]
    assert drill.of in MAXIMA
    assert 0 < drill.percent[0] <= drill.percent[1]
    assert drill.beginner <= drill.percent[1]
    assert drill.beginner <= 60  # novices: the bar to 60 % (common practice, no source)
    assert drill.record_as in LIFTS
    assert min(len(drill.form), len(drill.why), len(drill.source)) > 10


def test_facts_of_the_trade():
    """Common practice, no source: riser 25-38 mm, no-foot close to full loads, muscle snatch a light primer."""
    drills = CATALOGUE.drills
    assert "25 to 38 mm" in drills["deficit_snatch"].form
    assert drills["no_foot_snatch"].percent[1] >= 90
    assert drills["muscle_snatch"].primer
    assert drills["muscle_snatch"].percent[1] <= 50


def test_ratios_of_hang_and_power_variants_cap_their_loads():
    """Hang 0.95 and power 0.88 of the full snatch (Czaplicki et al. 2019, PLoS ONE 14(12):e0225891)."""
    drills = CATALOGUE.drills
    assert drills["below_knee_hang_snatch"].own_max == 0.95
    assert drills["power_snatch"].own_max == 0.88
    (power,) = (t for t in CATALOGUE.tries["S10"] if t.drill == "power_snatch")
    assert advise(drills["power_snatch"], power, None, ADVANCED).at_most_kg <= 88


def test_one_main_one_primer_a_reason_and_cautions():
    advice = choose_drills((a_fault("S1"), a_fault("S9")), CATALOGUE, ADVANCED)
    assert advice.main.drill.code == "pause_off_floor_snatch"
    assert advice.primer.drill.code == "muscle_snatch"
    assert advice.others == ("slow_pull_snatch", "deficit_snatch")
    assert "because the bar goes forward in the first 15 cm" in advice.main.because
    assert advice.main.because.count(".") == 1
    assert advice.main.load.value == pytest.approx(67.5)
    assert advice.main.load.u == pytest.approx(0.675 * 3)
    told = " ".join(advice.cautions)
    for word in ("several kilograms", "not medical advice", "Minors", "coach's eye", "platform"):
        assert word in told


def test_no_fault_no_drill():
    assert choose_drills((), CATALOGUE, ADVANCED) is None
    assert find_faults(reps(4), limits_for(LIFTS["snatch"])).faults == ()


@pytest.mark.parametrize(("fault", "what"), ALL_TRIES, ids=[f"{f}-{t.drill}" for f, t in ALL_TRIES])
@pytest.mark.parametrize(
    "lifter", [Lifter("novice", 30), Lifter("advanced", 16), Lifter(None, None), Lifter("intermediate", 17, True)]
)
def test_a_novice_or_minor_never_gets_more_than_the_beginners_ceiling(fault, what, lifter):
    drill = CATALOGUE.drills[what.drill]
    given = advise(drill, what, a_fault(fault), replace(lifter, maxima=MAXIMA))
    ceiling = drill.beginner / 100 * 100.0
    assert given.at_most_kg <= ceiling + 1e-9
    assert given.load.value <= ceiling + 1e-9


def test_a_low_day_takes_points_off_and_skill_is_needed_for_more_than_80():
    what = CATALOGUE.tries["S8"][0]  # no-foot snatch, 70-90 %
    drill = CATALOGUE.drills[what.drill]
    usual = advise(drill, what, None, ADVANCED)
    low = advise(drill, what, None, replace(ADVANCED, low_day=True))
    assert usual.percent == (70, 90)
    assert low.load.value == pytest.approx(usual.load.value - 7.5)
    middling = advise(drill, what, None, replace(ADVANCED, level="intermediate"))
    assert middling.at_most_kg == pytest.approx(80.0)


def test_without_a_maximum_the_load_is_null_with_a_reason():
    given = choose_drills((a_fault(),), CATALOGUE, Lifter("advanced", 25)).main
    assert given.load.value is None
    assert "no maximum of the snatch" in given.load.reason


def test_a_drill_that_did_not_help_gives_way_to_the_next():
    second = choose_drills((a_fault(),), CATALOGUE, ADVANCED, {"pause_off_floor_snatch"})
    assert second.main.drill.code == "slow_pull_snatch"
    spent = {t.drill for t in CATALOGUE.tries["S1"]}
    none = choose_drills((a_fault(),), CATALOGUE, ADVANCED, spent)
    assert none.main is None
    assert "without a response" in none.words[0]


def test_the_club_forbids_changes_and_adds():
    own = {
        "pause_off_floor_snatch": {"forbidden": True},
        "muscle_snatch": {"percent": [25, 35]},
        "towel_snatch": {
            "title": "Towel snatch", "of": "snatch", "percent": [50, 60], "beginner": 50, "sets": [3, 3],
            "reps": [2, 2],
            "form": "With a towel before the toes.", "why": "shows where the bar goes", "source": "the club's own",
            "faults": ["S1"],
        },
    }  # fmt: skip
    club = with_club(CATALOGUE, own)
    advice = choose_drills((a_fault(),), club, ADVANCED)
    assert advice.main.drill.code == "towel_snatch"
    assert "pause_off_floor_snatch" not in advice.others
    assert advice.primer.percent == (25, 35)
    assert not CATALOGUE.drills["pause_off_floor_snatch"].forbidden
