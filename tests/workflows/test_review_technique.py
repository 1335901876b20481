"""What the workflow joins: the day's maximum, the day's form, earlier drills, and what own lifts may count."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from barwright.access.caller import Caller
from barwright.access.scopes import ALL_SCOPES
from barwright.analysis.quantities.estimate import Estimate
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.technique.catalogue import published
from barwright.analysis.technique.drills import Lifter, choose_drills
from barwright.analysis.technique.faults import find_faults
from barwright.analysis.technique.limits import SNATCH
from barwright.analysis.technique.response import Response
from barwright.storage.athletes import Athlete, AthleteFacts
from barwright.storage.club_settings import ClubSettings
from barwright.storage.prescriptions import NewPrescription, Prescription
from barwright.workflows import technique_data
from barwright.workflows.drill_loads import on_the_bar
from barwright.workflows.review_technique import earlier_drill, kept_until
from barwright.workflows.technique_data import TechniqueData, lifter_of
from lifts_by_hand import DAY, reps

ATHLETE = Athlete("ath_1", AthleteFacts("Imke", 1998, "female", 64.0, 1.66, "advanced"), DAY, None)
CALLER = Caller("club_1", "key_1", ALL_SCOPES)


def data(seen, given=(), today: date = date(2026, 11, 1)) -> TechniqueData:
    return TechniqueData(ATHLETE, LIFTS["snatch"], (), tuple(seen), tuple(given), published(), ClubSettings(), today)


def prescription(day: int, drill: str = "slow_pull_snatch", fault: str = "S1") -> Prescription:
    on = (DAY + timedelta(days=day)).date()
    told = NewPrescription("snatch", fault, drill, on, 60.0, 3, 2, None, None, 80.0)
    return Prescription(f"pre_{day}", "ath_1", told, None, DAY)


def test_a_fault_worked_on_keeps_the_reference_from_before_the_first_drill():
    seen = [*reps(3), *reps(6, first=3, forward_off_floor=0.03)]
    one, two = prescription(10), prescription(14, "deficit_snatch")
    earlier = [earlier_drill(data(seen, (one, two)), SNATCH, p) for p in (one, two)]
    assert kept_until(earlier) == {"S1": datetime(2026, 9, 11, tzinfo=UTC)}


def test_a_drill_that_helped_frees_the_reference():
    seen = [*reps(4, forward_off_floor=0.04), *reps(6, first=4)]
    one = earlier_drill(data(seen, (prescription(10),)), SNATCH, prescription(10))
    assert one.response.response is Response.HELPED
    assert kept_until([one]) == {}


def test_loads_are_put_on_the_clubs_bar_and_never_above_the_ceiling():
    (fault,) = find_faults([*reps(3), *reps(1, first=3, forward_off_floor=0.03)], SNATCH).faults
    for kg in (41.0, 77.7, 103.3):
        lifter = Lifter("advanced", 25, False, {"snatch": Estimate(kg, 2.0, "kg")})
        advice = choose_drills((fault,), published(), lifter).main
        told = on_the_bar(ClubSettings(), advice, "female")
        assert told.load.value <= told.at_most_kg
        assert told.load.value == round(told.load.value)
        assert abs(told.load.value - advice.load.value) <= 2.0
    feather = Lifter("novice", 25, False, {"snatch": Estimate(20.0, 2.0, "kg")})
    told = on_the_bar(ClubSettings(), choose_drills((fault,), published(), feather).main, "female")
    assert told.load.value is None
    assert "lighter bar" in told.load.reason


def test_the_heaviest_made_load_stands_in_where_no_maximum_is_known(monkeypatch):
    class Nothing:
        lifts = (type("Day", (), {"readiness": None})(),)

    monkeypatch.setattr(technique_data, "check_readiness", lambda *_: Nothing)
    monkeypatch.setattr(technique_data, "_heaviest_made", lambda *_: 90.0)
    found = lifter_of(None, CALLER, data(reps(1)), {"snatch"})
    assert found.maxima["snatch"] == Estimate(90.0, 0.03 * 90.0, "kg")
    assert found.max_from == "the heaviest load that was made"
    assert found.age == 27
