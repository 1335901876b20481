"""A service tells a club its day again without working it out, and never once anything has changed, by whomever."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

import stand_in
from barwright.api.shapes.readiness import ClubReadiness, club_as_json
from barwright.app import create_app
from barwright.workflows import check_readiness
from barwright.workflows.manage_keys import who_calls
from barwright.workflows.recent_days import RecentDays
from conftest import TestClient
from training_days import DAY, history, import_history, record, warm_up

NOON = datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=UTC)
PLAN = {"on": str(DAY), "sets": [{"lift": "back_squat", "percent": 80, "reps": 2}]}
HISTORY = (
    f"date,lift,set,load[kg],reps,velocity[m/s],velocity_u[m/s]\n{DAY - timedelta(days=5)},snatch,1,75,2,1.7,0.02\n"
)


def set_clock(parts, now):
    object.__setattr__(parts, "now", lambda: now)


@pytest.fixture
def club(service):
    """Imke with thirty days of history, a plan, a maximum and two warm-ups of today; Rana with six days."""
    set_clock(service.parts, NOON)
    post = service.client.post
    imke, rana = (post("/v1/athletes", json={"name": name}).json()["id"] for name in ("Imke", "Rana"))
    for who, days in ((imke, 30), (rana, 6)):
        assert import_history(service.client, who, history(days)).status_code == 201
    sets = warm_up(service.client, "Imke", 0.9)
    plan = post(f"/v1/athletes/{imke}/plans", json=PLAN).json()["id"]
    told = {"lift": "snatch", "on": str(DAY - timedelta(days=9)), "load_kg": 101}
    maximum = post(f"/v1/athletes/{imke}/maxima", json=told)
    assert maximum.status_code == 201, maximum.text
    return {"imke": imke, "rana": rana, "set": sets[2]["id"], "plan": plan, "maximum": maximum.json()["id"]}


@pytest.fixture
def another(service, club):
    """Another service on the same database, asked as often as it takes until it only tells again."""
    app = create_app(service.settings, analyse=stand_in.outcome_of)
    with TestClient(app, raise_server_exceptions=False) as client:
        client.headers.update(service.new_key())
        set_clock(app.state.parts, NOON)
        for _ in range(3):
            day_of_club(client)
        yield client


def day_of_club(client, **on):
    answer = client.get("/v1/readiness", params=on)
    assert answer.status_code == 200, answer.text
    return answer.json()


def made(answer):
    assert answer.status_code in (200, 201, 204), answer.text


CHANGES = {
    "a new set": lambda http, at: record(http, "Rana", 65, 2.0),
    "a lift nobody did before": lambda http, at: record(http, "Rana", 65, 2.0, lift="back_squat"),
    "a corrected load": lambda http, at: made(http.patch(f"/v1/sets/{at['set']}", json={"load_kg": 79})),
    "a rep that does not count": lambda http, at: made(
        http.patch(f"/v1/sets/{at['set']}/reps/1", json={"excluded": True, "reason": "sensor slipped"})
    ),
    "a set of somebody else": lambda http, at: made(
        http.patch(f"/v1/sets/{at['set']}", json={"athlete_id": at["rana"]})
    ),
    "an older day": lambda http, at: made(import_history(http, at["imke"], HISTORY)),
    "a new athlete": lambda http, at: made(http.post("/v1/athletes", json={"name": "Bram"})),
    "another name": lambda http, at: made(http.patch(f"/v1/athletes/{at['rana']}", json={"name": "Runa"})),
    "an erased athlete": lambda http, at: made(http.delete(f"/v1/athletes/{at['imke']}")),
    "a new plan": lambda http, at: made(http.post(f"/v1/athletes/{at['rana']}/plans", json=PLAN)),
    "a plan taken back": lambda http, at: made(http.delete(f"/v1/athletes/{at['imke']}/plans/{at['plan']}")),
    "a new maximum": lambda http, at: made(
        http.post(
            f"/v1/athletes/{at['rana']}/maxima",
            json={"lift": "snatch", "on": str(DAY - timedelta(days=3)), "load_kg": 108},
        )
    ),
    "a maximum taken back": lambda http, at: made(http.delete(f"/v1/athletes/{at['imke']}/maxima/{at['maximum']}")),
    "another smallest change": lambda http, at: made(http.patch("/v1/club", json={"smallest_change_percent": 20})),
    "another clock": lambda http, at: made(http.patch("/v1/club", json={"time_zone": "Pacific/Kiritimati"})),
}


@pytest.mark.parametrize("change", CHANGES)
def test_no_answer_outlives_a_change_made_by_another_service(service, club, another, change):
    before = day_of_club(another)
    assert day_of_club(another) == before
    CHANGES[change](service.client, club)
    after = day_of_club(another)
    assert after != before
    assert after == day_of_club(service.client)
    object.__setattr__(another.app.state.parts, "days", RecentDays())
    assert after == day_of_club(another)


def test_what_has_not_changed_is_worked_out_once(service, club, another, monkeypatch):
    asked, days_of = [], check_readiness.days_of
    monkeypatch.setattr(check_readiness, "days_of", lambda *told: asked.append(told) or days_of(*told))
    first = day_of_club(another)
    assert (day_of_club(another), asked) == (first, [])
    record(service.client, "Rana", 65, 2.0)
    assert day_of_club(another) != first
    worked_out = len(asked)
    assert worked_out >= 1
    day_of_club(another)
    assert len(asked) == worked_out


def test_the_next_day_is_another_answer_and_a_day_asked_for_is_that_day(service, club, another):
    today = day_of_club(another)
    yesterday = day_of_club(another, on=str(DAY - timedelta(days=1)))
    set_clock(another.app.state.parts, NOON + timedelta(days=1))
    tomorrow = day_of_club(another)
    assert [one["on"] for one in (yesterday, today, tomorrow)] == [
        str(DAY + timedelta(days=days)) for days in (-1, 0, 1)
    ]
    assert [one["items"][0]["lifts"][-1]["warm_up_sets"] for one in (yesterday, today, tomorrow)] == [0, 3, 0]
    assert day_of_club(another, on=str(DAY)) == today


def test_one_club_is_never_told_anothers_day(service, club, another):
    theirs = service.new_key(club="Another club")
    assert another.get("/v1/readiness", headers=theirs).json()["items"] == []
    assert len(day_of_club(another)["items"]) == 2
    assert another.get("/v1/readiness", headers=theirs).json()["items"] == []


def test_whoever_has_changed_is_worked_out_alone(service, club, another, monkeypatch):
    asked, days_of = [], check_readiness.days_of

    def noted(session, club_id, settings, athletes, *more):
        asked.append([one.id for one in athletes])
        return days_of(session, club_id, settings, athletes, *more)

    before = day_of_club(another)
    monkeypatch.setattr(check_readiness, "days_of", noted)
    made(service.client.post(f"/v1/athletes/{club['rana']}/plans", json=PLAN))
    assert day_of_club(another)["items"][0] == before["items"][0]
    assert asked == [[club["rana"]]]


def test_what_is_put_together_is_the_answer_as_a_whole(service, club):
    parts = service.parts
    caller = who_calls(parts.database, service.client.headers["Authorization"].removeprefix("Bearer "), NOON)
    told = check_readiness.check_club(parts, caller, DAY)
    assert len(told.items) == 2
    assert club_as_json(told) == ClubReadiness.of(told).model_dump_json().encode()
    nobody = replace(told, items=())
    assert club_as_json(nobody) == ClubReadiness.of(nobody).model_dump_json().encode()


def test_nothing_of_an_erased_athlete_stays_remembered(service, club, another):
    """By the service that erased them at once, by others with the next question."""
    object.__setattr__(service.parts, "days", RecentDays())
    day_of_club(service.client)
    day_of_club(another, on=str(DAY - timedelta(days=1)))
    days = [of.days._days for of in (service.parts, another.app.state.parts)]
    assert all(club["imke"] in told for one in days for told in one.values())
    made(service.client.delete(f"/v1/athletes/{club['imke']}"))
    assert not any(club["imke"] in told for told in days[0].values())
    day_of_club(another)
    assert len(days[1]) == 2
    assert not any(club["imke"] in told for told in days[1].values())


def test_of_too_many_days_the_oldest_is_worked_out_again(service, club):
    parts = service.parts
    object.__setattr__(parts, "days", RecentDays(most=2))
    for back in (1, 2, 3):
        day_of_club(service.client, on=str(DAY - timedelta(days=back)))
    assert [day for _, day in parts.days._days] == [DAY - timedelta(days=back) for back in (2, 3)]
