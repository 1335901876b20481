"""Who did what, and how analyses went: noted with the deed, by nobody changed, told to the club's own admins only."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from barwright.access.scopes import Scope
from barwright.workflows.analysis_job import Broken
from barwright.workflows.read_records import DEEDS
from barwright.workflows.sign_in import invite_coach, make_link, remove_coach, sign_in_with_link, who_is_signed_in
from conftest import CLUB
from stand_in import outcome_of


def deeds(service, **which):
    return service.client.get("/v1/audit", params=which).json()["items"]


def do_everything(service):
    """One deed of each kind over HTTP; answers the ids that were used."""
    client = service.client
    lift_set = service.closed_set()
    athlete, url = lift_set["athlete_id"], f"/v1/athletes/{lift_set['athlete_id']}"
    assert client.patch("/v1/club", json={"daily_cap_percent": 4}).status_code == 200
    plan = client.post(f"{url}/plans", json={"sets": [{"lift": "snatch", "percent": 80}]}).json()
    decided = {"kind": "load", "set": 1, "load_kg": 77.5, "reason": "slept badly"}
    assert client.post(f"{url}/decisions", json=decided).status_code == 201
    assert client.delete(f"{url}/plans/{plan['id']}").status_code == 204
    maximum = client.post(f"{url}/maxima", json={"lift": "back_squat", "load_kg": 99}).json()
    assert client.delete(f"{url}/maxima/{maximum['id']}").status_code == 204
    assert client.patch(url, json={"level": "novice"}).status_code == 200
    assert client.patch(f"/v1/sets/{lift_set['id']}", json={"load_kg": 61}).status_code == 200
    assert client.patch(f"/v1/sets/{lift_set['id']}/reps/1", json={"excluded": True}).status_code == 200
    assert client.patch("/v1/drills/deficit_snatch", json={"forbidden": True}).status_code == 200
    hook = client.post("/v1/webhooks", json={"url": "https://club.example/hooks"}).json()
    assert client.delete(f"/v1/webhooks/{hook['id']}").status_code == 204
    key = client.post("/v1/keys", json={"label": "bar", "scopes": ["streams:write"]}).json()
    new = client.post(f"/v1/keys/{key['id']}/replace", json={}).json()
    assert client.delete(f"/v1/keys/{new['id']}").status_code == 204
    token = make_link(service.parts.database, CLUB, "Marit", service.parts.now())
    marit = who_is_signed_in(service.parts, sign_in_with_link(service.parts, token))
    invite_coach(service.parts, marit, "Jorun")
    jorun = who_is_signed_in(
        service.parts, sign_in_with_link(service.parts, invite_coach(service.parts, marit, "Jorun"))
    )
    remove_coach(service.parts, marit, jorun.coach.id)
    assert client.get(f"{url}/export").status_code == 200
    assert client.delete(url).status_code == 200
    return athlete


def test_every_kind_of_deed_is_noted_and_none_leads_to_who_was_erased(service):
    athlete = do_everything(service)
    assert {one["what"] for one in deeds(service, limit=200)} == set(DEEDS)
    of_athlete = deeds(service, subject=athlete)
    assert {one["what"] for one in of_athlete} >= {"plan.made", "athlete.erased", "athlete.exported"}
    assert all(one["subject"].startswith("ath-") for one in of_athlete)
    assert athlete not in service.client.get("/v1/audit", params={"limit": 200}).text


def test_an_athlete_who_is_there_is_told_by_id(service):
    lift_set = service.closed_set()
    rana = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    service.client.patch(f"/v1/athletes/{rana}", json={"level": "novice"})
    service.client.patch(f"/v1/sets/{lift_set['id']}", json={"athlete_id": rana})
    assert [one["subject"] for one in deeds(service, what="athlete.changed")] == [rana]
    (corrected,) = deeds(service, what="set.corrected")
    assert corrected["details"]["athlete_id"] == [lift_set["athlete_id"], rana]


def test_an_entry_says_who_what_and_in_which_request(service):
    me = next(one["id"] for one in service.client.get("/v1/keys").json()["items"])
    before = service.client.get("/v1/club").json()["daily_cap_percent"]
    told = service.client.patch("/v1/club", json={"daily_cap_percent": 4}, headers={"X-Request-Id": "change-1"})
    assert told.headers["x-request-id"] == "change-1"
    (entry,) = deeds(service, what="club.changed")
    assert (entry["by"], entry["request_id"]) == (me, "change-1")
    assert entry["details"] == {"daily_cap_percent": [before, 4]}


def test_no_name_of_an_athlete_is_in_the_trail(service):
    do_everything(service)
    assert "Imke" not in service.client.get("/v1/audit", params={"limit": 200}).text


@pytest.mark.parametrize("deed", ["UPDATE audit_entry SET what = 'x'", "DELETE FROM audit_entry"])
def test_an_entry_can_neither_be_changed_nor_deleted(service, deed):
    service.client.patch("/v1/club", json={"daily_cap_percent": 4})
    before = deeds(service)
    with pytest.raises(DatabaseError, match="neither changed nor deleted"), service.parts.database.writing() as session:
        session.connection().execute(text(deed))
    assert deeds(service) == before


def test_what_is_refused_is_not_noted(service):
    before = deeds(service)
    assert service.client.patch("/v1/club", json={"time_zone": "Nowhere/Else"}).status_code == 422
    assert service.client.delete("/v1/athletes/ath_none").status_code == 404
    assert deeds(service) == before


def test_the_trail_is_read_in_pages_and_one_club_sees_its_own(service):
    for cap in range(1, 8):
        service.client.patch("/v1/club", json={"daily_cap_percent": cap})
    whole = deeds(service)
    first = service.client.get("/v1/audit", params={"limit": 5}).json()
    second = service.client.get("/v1/audit", params={"limit": 5, "cursor": first["next"]}).json()
    assert (first["items"] + second["items"])[: len(whole)] == whole
    other = service.client.get("/v1/audit", headers=service.new_key(club="Another club")).json()["items"]
    assert [one["what"] for one in other] == ["key.made"]


@pytest.mark.parametrize("cursor", ["x", "WyJhIl0", "WyI5OTk5OTk5OTk5OTk5OTk5OTk5OTkiXQ"])
def test_a_made_up_cursor_is_refused(service, cursor):
    answer = service.client.get("/v1/audit", params={"cursor": cursor})
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


def test_analyses_are_listed_with_their_time_and_outcome(service):
    lift_set = service.closed_set()
    service.closed_set(0)
    ran = service.client.get("/v1/analyses").json()["items"]
    assert [one["outcome"] for one in ran] == ["unusable", "analysed"]
    assert (ran[1]["set_id"], ran[1]["samples"]) == (lift_set["id"], 100)
    assert ran[0]["reason_code"] == "no-samples"
    assert all(0 <= one["seconds"] < 20 for one in ran)
    assert service.client.get("/v1/analyses", params={"at_least_s": 20}).json()["items"] == []
    other = service.client.get("/v1/analyses", headers=service.new_key(club="Another club"))
    assert other.json()["items"] == []


@pytest.fixture
def analyse_with(service):
    """Puts another analysis into the queue's parts, which are those before the writer was joined to them."""
    cells = [cell.cell_contents for cell in service.client.app.state.queue._finish.__closure__]
    (parts,) = [one for one in cells if hasattr(one, "analyse")]
    yield lambda analyse: object.__setattr__(parts, "analyse", analyse)
    object.__setattr__(parts, "analyse", outcome_of)


@pytest.mark.parametrize("killed", [False, True])
def test_a_failed_analysis_is_listed_keeps_its_samples_and_is_done_again(service, analyse_with, killed):
    analyse_with(lambda _job: Broken("Traceback ...", killed))
    failed = service.closed_set()
    assert failed["state"] == "failed"
    (run,) = service.client.get("/v1/analyses", params={"outcome": "failed"}).json()["items"]
    assert run["reason_code"] == ("analysis-killed" if killed else "analysis-broken")
    assert 'barwright_sets_not_analysed_total{reason="analysis-' in service.client.get("/metrics").text
    analyse_with(outcome_of)
    again = service.client.post(f"/v1/sets/{failed['id']}/reanalyse?wait=20").json()
    assert (again["state"], again["quality"]["samples"]) == ("analysed", 100)


def test_reading_the_trail_takes_the_scope(service):
    answer = service.client.get("/v1/audit", headers=service.new_key(Scope.RESULTS_READ))
    assert answer.status_code == 403


def test_the_page_names_every_deed_and_figure(service):
    page = (Path(__file__).parents[2] / "docs" / "security.md").read_text()
    assert [deed for deed in DEEDS if f"`{deed}`" not in page] == []
    text = service.client.get("/metrics").text
    figures = [name for name in re.findall(r"^# TYPE (barwright_\S+)", text, re.MULTILINE) if "_created" not in name]
    assert len(figures) > 7
    assert [name for name in figures if f"`{name}`" not in page] == []
