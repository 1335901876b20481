"""Profiles, readiness, plans, loads and histories with the client, against the real service."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

import stand_in
from barwright_client import Client, NotFound, Refused
from sdk.conftest import RealService
from sdk.scripted import client_of, good
from training_days import DAY, WARM_UPS, history, line_velocity

pytestmark = pytest.mark.filterwarnings("ignore:You should not use the .timeout. argument")


@pytest.fixture
def client(start_service: Any) -> Client:
    service: RealService = start_service(stand_in.outcome_of)
    return service.client()


def lift(client: Client, load_kg: float, velocity: float, minute: int) -> str:
    rows = "".join(f"{i * 0.005:.3f},{velocity if i == 50 else 0.0}\n" for i in range(100))

    found = client.record(
        b"t_s,velocity[m/s]\n" + rows.encode(), file_name="set.csv", lift="snatch", load_kg=load_kg, athlete="Imke",
        device="string", started_at=datetime(DAY.year, DAY.month, DAY.day, 17, minute, tzinfo=UTC),
    )  # fmt: skip
    return found.id


def test_a_day_of_the_coach(client: Client, tmp_path: Path) -> None:
    imke = client.create_athlete("Imke", birth_year=1990)
    file = tmp_path / "imke.csv"
    file.write_text(history(20))
    told = client.import_history(imke, file)
    assert (told.sets, told.known, told.lifts) == (60, 0, ("snatch",))
    again = client.import_history(imke.id, history(20).encode(), skip_known=True)
    assert (again.sets, again.known) == (0, 60)
    assert client.history_csv(imke, lift="snatch").count("\n") == 61

    found = client.profile(imke, "snatch", on=DAY)
    assert (found.days, found.loads, found.measure, len(found.points)) == (20, 3, "peak_velocity", 60)
    assert found.slope is not None
    assert found.covariance is not None
    assert found.interval_95 is not None
    assert found.interval_95[0] < 100 < found.interval_95[1]
    assert found.interval_50 is not None
    assert found.interval_95[0] < found.interval_50[0] < found.interval_50[1] < found.interval_95[1]
    assert found.bend is not None
    assert found.bend.unit == "m/s"
    assert "heaviest load seen is 7" in found.notes[0]
    assert found.strength[-1].on < DAY
    assert "not an instruction" in found.caution

    made = client.plan(imke, [{"lift": "snatch", "percent": 80, "reps": 2, "sets": 4}], on=DAY)
    assert [one.id for one in client.plans(imke)] == [made.id]
    ids = [
        lift(client, round(100 * share), round(line_velocity(share / 0.93), 3), minute)
        for minute, share in enumerate(WARM_UPS)
    ]
    ready = client.readiness(imke, on=DAY)
    assert (ready.verdict, ready.lift, ready.plan_id) == ("down", "snatch", made.id)
    assert ready.lifts[0].warm_up_sets == 3
    assert client.club_readiness(on=DAY) == (ready,)
    assert client.readiness(imke, on=DAY, lift="press").verdict == "not_enough_data"

    loads = client.loads(imke, on=DAY)
    (line,) = loads.sets
    assert line.load_kg == line.load.value
    assert line.bar_kg + 2 * sum(kg * count for kg, count in line.each_side) == line.load_kg
    client.decide_load(imke, 1, 60, reason="sore wrist", on=DAY)
    client.lift_cap(imke, "snatch", reason="test day", on=DAY)
    (line,) = client.loads(imke, on=DAY).sets
    assert (line.load_kg, line.reasons[0]) == (60, "the coach decided: sore wrist")
    assert "not an instruction" in loads.caution

    zones = client.zones(imke, "snatch", velocity=2.0, on=DAY)
    assert zones.zone in zones.zones
    assert zones.load is not None
    assert client.velocity_loss(ids[0], limit_percent=10).stop is None

    corrected = client.correct_set(ids[2], load_kg=80, reason="forgotten plates")
    assert corrected.load_kg == 80
    rep = client.correct_rep(ids[2], 1, outcome="failed", reason="pressed out").reps[0]
    assert (rep.outcome, rep.analysed_outcome, rep.correction) == ("failed", "made", "pressed out")
    assert client.correct_rep(ids[2], 1, excluded=True).reps[0].excluded


def test_maxima_and_the_club(client: Client) -> None:
    rana = client.create_athlete("Rana")
    told = client.tell_maximum(rana, "back_squat", 100, on=date(2026, 2, 1), note="clean")
    assert list(client.maxima(rana)) == [told]
    assert list(client.maxima(rana, "snatch")) == []
    client.take_back_maximum(told)
    assert list(client.maxima(rana)) == []
    assert client.change_club(step_kg=2.5)["step_kg"] == 2.5
    assert client.club()["name"] == "Quarry Lane Lifting Club"
    assert client.rep_max(100, 5)["by_formula"]["epley"] == 116.67
    nothing = client.profile(rana, "press")
    assert (nothing.slope, nothing.days, nothing.predicted_max.value) == (None, 0, None)
    assert nothing.reason


def test_refusals_point_to_the_row(client: Client) -> None:
    rana = client.create_athlete("Rana")
    with pytest.raises(Refused) as caught:
        client.import_history(rana, b"date,lift,load\n2026-02-01,snatch,-5\n2999-02-01,snatch,50\n")
    assert [one.pointer for one in caught.value.problem.errors] == ["/rows/0/load", "/rows/1/date"]
    with pytest.raises(NotFound):
        client.readiness("ath_none")


def test_what_creates_carries_a_key() -> None:
    plan = {"id": "pln_1", "athlete_id": "ath/1", "on": "2026-03-01", "sets": []}
    client, service = client_of(good(plan, 201), good({"sets": 1, "maxima": 0, "known": 0, "lifts": ["snatch"]}, 201))
    client.plan("ath/1", [{"lift": "snatch", "percent": 80}], on=DAY, note="easy")
    assert service.last.url.raw_path == b"/v1/athletes/ath%2F1/plans"
    assert service.sent() == {"sets": [{"lift": "snatch", "percent": 80}], "on": "2026-03-01", "note": "easy"}
    assert service.last.headers["idempotency-key"]
    client.import_history("ath/1", b"date,lift,load\n")
    assert service.last.headers["content-type"] == "text/csv"
    assert service.last.headers["idempotency-key"]
    assert service.last.content == b"date,lift,load\n"
