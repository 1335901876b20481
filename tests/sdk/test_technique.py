"""The client's calls about technique against the real service; lifts are written down by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from barwright.analysis.reps.results import SetAnalysis
from barwright.workflows.analysis_job import AnalysisJob, Outcome
from barwright_client import Athlete, Client, Conflict, NotFound, Refused
from lifts_by_hand import DAY, analysis, days_of
from sdk.conftest import RealService

pytestmark = pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")

SETS: list[SetAnalysis] = [*(analysis(k) for k in range(3)), analysis(3, forward_off_floor=0.03)]
Start = Callable[[Callable[[AnalysisJob], Outcome]], RealService]
SAMPLES = {"t_s": [k * 0.01 for k in range(30)], "position": [k * 0.01 for k in range(30)]}


@pytest.fixture
def client(start_service: Start) -> Client:
    days = days_of(SETS)
    return start_service(lambda job: days[job.told.started_at.date().isoformat()]).client()


@pytest.fixture
def imke(client: Client) -> Athlete:
    """An athlete with three good days and one on which the bar leaves the floor forward."""
    athlete = client.create_athlete("Imke", level="advanced", birth_year=1998)
    for k in range(len(SETS)):
        about = {"lift": "snatch", "load_kg": 80, "athlete": "Imke", "device": "string", "device_kind": "encoder"}
        client.record(SAMPLES, started_at=DAY + timedelta(days=3 * k), wait_s=20, **about)
    return athlete


def test_technique_a_drill_given_and_its_response(client: Client, imke: Athlete) -> None:
    found = client.technique(imke, "snatch")
    assert [fault.code for fault in found.faults] == ["S1"]
    assert found.faults[0].size.unit == "m"
    assert found.advice is not None
    assert found.advice.main is not None
    assert found.advice.main.load.unit == "kg"
    assert found.advice.primer is not None
    assert found.own_lifts == 9
    assert found.cautions
    with pytest.raises(Refused, match="reason"):
        client.give_drill(imke, "snatch", drill="deficit_snatch")
    given = client.give_drill(imke, "snatch", drill="deficit_snatch", reason="The riser is free today.", sets=3, reps=2)
    assert (given.fault, given.advised, given.sets, given.reps) == ("S1", found.advice.main.drill, 3, 2)
    assert given.response is not None
    assert given.response.response == "too early"
    assert [one.id for one in client.given_drills(imke)] == [given.id]
    assert client.technique(imke, "snatch").earlier_drills[0].reason == "The riser is free today."
    assert client.end_drill(given).ended_on == given.given_on


def test_drills_are_added_changed_forbidden_and_restored(client: Client) -> None:
    assert len(list(client.drills())) > 40
    facts = {
        "of": "snatch",
        "percent": (50, 60),
        "beginner": 45,
        "sets": (3, 4),
        "reps": (2, 2),
        "why": "shows the way",
    }
    own = client.add_drill("towel_snatch", "Towel snatch", form="A towel before the toes.", **facts)
    assert (own.own, own.percent, own.faults) == (True, (50, 60), ())
    with pytest.raises(Conflict):
        client.add_drill("towel_snatch", "Towel snatch", form="Again.", **facts)
    assert client.change_drill("towel_snatch", faults=["S1"], forbidden=True).forbidden
    assert client.drill("towel_snatch").faults == ("S1",)
    client.restore_drill("towel_snatch")
    with pytest.raises(NotFound):
        client.drill("towel_snatch")


def test_comparing_and_reviewing(client: Client, imke: Athlete) -> None:
    found = client.compare(imke, "snatch", first="2026-09-01", second="last")
    assert found.changes["forward_off_floor"].value == pytest.approx(0.03, abs=0.02)
    assert found.first["t_s"][0] == found.second["t_s"][0] == 0
    assert found.band is not None
    client.set_remote(imke)
    waiting = list(client.review())
    assert len(waiting) == 4
    assert waiting[0].started_at.date() == date(2026, 9, 10)
    assert [fault.code for fault in waiting[0].faults] == ["S1"]
    client.looked_at(one.set_id for one in waiting)
    assert list(client.review()) == []
    client.set_remote(imke, False)
    assert list(client.review(everybody=True)) == []
