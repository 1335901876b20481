"""Webhooks are told when the verdict on an athlete's day changes: each change once, whatever happens in between."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from itertools import count, pairwise
from threading import Barrier

import pytest
from sqlmodel import col, delete, select

import stand_in
from barwright.storage.live_tables import DeliveryRow, ToldReadinessRow
from barwright.workflows import analyse_stored_set, tell_readiness
from barwright.workflows.close_stream import finish_what_was_left
from barwright.workflows.manage_keys import who_calls
from barwright.workflows.parts import utc_now
from docs.pages import code_in
from documented import webhook_misfits
from training_days import DAY, WARM_UPS, history, import_history, line_velocity, record, warm_up

NOBODY = "http://127.0.0.1:9/hook"  # refused at once, and what was told stays to be looked at
CHANGED = ["readiness_changed"]
NONE = "not_enough_data"


def set_clock(service, start):
    """A clock that goes on by a second whenever it is looked at."""
    ticks = count()
    object.__setattr__(service.parts, "now", lambda: start + timedelta(seconds=next(ticks)))


@pytest.fixture
def gym(service):
    """A service in the evening of the day."""
    set_clock(service, datetime(DAY.year, DAY.month, DAY.day, 18, tzinfo=UTC))
    return service


def athlete_of(service, name="Imke"):
    """Thirty days of history around a maximum of 100 kg."""
    athlete = service.client.post("/v1/athletes", json={"name": name}).json()["id"]
    assert import_history(service.client, athlete, history(30)).status_code == 201
    return athlete


@pytest.fixture
def imke(gym):
    return athlete_of(gym)


def hook(service, *kinds, **more):
    told = {"url": NOBODY, "kinds": kinds or CHANGED}
    answer = service.client.post("/v1/webhooks", json=told, **more)
    assert answer.status_code == 201, answer.text
    return answer.json()


def bodies(service, kind="readiness_changed"):
    """What was told, in order of time."""
    query = select(DeliveryRow).where(DeliveryRow.kind == kind).order_by(col(DeliveryRow.created_at))
    with service.parts.database.reading() as session:
        return [json.loads(row.body) for row in session.exec(query)]


def changes(service):
    return [(one["data"]["before"], one["data"]["verdict"]) for one in bodies(service)]


def rows(service):
    with service.parts.database.reading() as session:
        return [(row.lift, row.day, row.verdict) for row in session.exec(select(ToldReadinessRow))]


def verdict(service, athlete, **more):
    answer = service.client.get(f"/v1/athletes/{athlete}/readiness", params={"on": str(DAY), **more})
    return answer.json()["verdict"]


def one_warm_up(service, number, strength, athlete="Imke", lift="snatch"):
    share = WARM_UPS[number % 3]
    velocity = round(line_velocity(round(100 * share) / (100 * strength)), 3)
    return record(service.client, athlete, round(100 * share), velocity, f"{DAY}T17:{10 + number}:00Z", lift)


@pytest.mark.parametrize("strengths", [(1.0,) * 3, (0.9,) * 3, (1.1,) * 3, (1.0, 1.0, 0.8, 0.8, 0.8, 1.0)])
def test_each_change_is_told_once_and_nothing_else_is(gym, imke, strengths):
    webhook = hook(gym)
    said = [NONE]
    for number, strength in enumerate(strengths):
        one_warm_up(gym, number, strength)
        said.append(verdict(gym, imke))
    expected = [(before, after) for before, after in pairwise(said) if before != after]
    assert expected  # the first verdict of a day is one
    assert changes(gym) == expected
    listed = gym.client.get(f"/v1/webhooks/{webhook['id']}/messages").json()["items"]
    assert [one["kind"] for one in listed] == CHANGED * len(expected)
    assert rows(gym) == [("snatch", DAY, said[-1])]


def test_it_says_what_the_route_says_at_that_moment(gym, imke):
    hook(gym)
    one_warm_up(gym, 1, 0.85)  # so far off that one set is enough
    (told,) = bodies(gym)
    assert webhook_misfits("readiness_changed", told) == []
    data = told["data"]
    whole = gym.client.get(data["link"]).json()
    (lift,) = whole["lifts"]
    assert told["type"] == "readiness_changed"
    assert datetime.fromisoformat(told["timestamp"]).date() == DAY
    assert (data["athlete_id"], data["athlete"], data["on"]) == (imke, "Imke", str(DAY))
    assert (data["lift"], data["before"], data["verdict"]) == ("snatch", NONE, "down")
    assert data["change"] == {name: lift["change"][name] for name in ("value", "u", "unit")}
    assert data["change"]["value"] < 0 < data["change"]["u"]
    for name in ("lift", "verdict", "probability", "smallest_change_percent", "reasons"):
        assert data[name] == lift[name]
    assert data["caution"] == whole["caution"]
    assert "not an instruction" in data["caution"]
    (shown,) = [json.loads(text) for _, text in code_in("docs/live.md", "json")]
    assert (list(shown), list(shown["data"])) == (list(told), list(data))


def test_another_analysis_of_the_same_samples_tells_nothing(gym, imke):
    hook(gym)
    done = warm_up(gym.client, "Imke", 0.9)
    before = bodies(gym)
    again = gym.client.post(f"/v1/sets/{done[0]['id']}/reanalyse?wait=20").json()
    assert again["revision"] == 2
    assert bodies(gym) == before


def test_a_day_that_is_over_is_told_nothing_of(gym, imke):
    set_clock(gym, datetime(2026, 3, 2, 9, tzinfo=UTC))
    hook(gym)
    done = warm_up(gym.client, "Imke", 0.9)
    gym.client.post(f"/v1/sets/{done[0]['id']}/reanalyse?wait=20")
    assert verdict(gym, imke) == "down"
    assert (bodies(gym), rows(gym)) == ([], [])


def test_an_old_set_tells_nothing_even_where_it_changes_what_is_said_of_today(gym):
    """Two days of history and a recorded one are just enough for a verdict; without the recorded one there is none."""
    athlete = gym.client.post("/v1/athletes", json={"name": "Imke"}).json()["id"]
    assert import_history(gym.client, athlete, history(2)).status_code == 201
    for number, share in enumerate(WARM_UPS):
        old = record(gym.client, "Imke", round(100 * share), line_velocity(share), f"2026-02-28T10:0{number}:00Z")
        gym.client.patch(f"/v1/sets/{old['id']}/reps/1", json={"excluded": number > 0})
    hook(gym)
    warm_up(gym.client, "Imke", 0.8)
    before = bodies(gym)
    assert before[-1]["data"]["verdict"] == verdict(gym, athlete) == "down"
    first = gym.client.get("/v1/sets?limit=50").json()["items"]
    (kept,) = [one for one in first if one["started_at"].startswith("2026-02-28T10:00")]
    assert gym.client.patch(f"/v1/sets/{kept['id']}/reps/1", json={"excluded": True}).is_success
    assert verdict(gym, athlete) == NONE
    assert bodies(gym) == before
    gym.client.post(f"/v1/sets/{kept['id']}/reanalyse?wait=20")
    assert bodies(gym) == before
    one_warm_up(gym, 4, 0.8)  # of today again, and it sees what has changed
    assert changes(gym)[len(before) :] == [("down", NONE)]


def test_today_is_the_clubs(gym, imke):
    """At 23:30 UTC it is the next day in Auckland, 13 hours ahead."""
    assert gym.client.patch("/v1/club", json={"time_zone": "Pacific/Auckland"}).is_success
    hook(gym)
    set_clock(gym, datetime(2026, 2, 28, 23, 30, tzinfo=UTC))
    record(gym.client, "Imke", 65, 1.7, "2026-02-28T10:00:00Z")  # late in the evening before
    assert bodies(gym) == []
    record(gym.client, "Imke", 65, 1.7, "2026-02-28T23:00:00Z")
    (told,) = bodies(gym)
    assert told["data"]["on"] == "2026-03-01"


def test_a_webhook_that_did_not_ask_is_not_told_and_nothing_is_worked_out(gym, imke, monkeypatch):
    asked, days_of = [], tell_readiness.days_of
    monkeypatch.setattr(tell_readiness, "days_of", lambda *told: asked.append(told) or days_of(*told))
    plain = gym.client.post("/v1/webhooks", json={"url": NOBODY}).json()
    assert plain["kinds"] == ["set_closed"]  # as it was
    hook(gym, "set_closed", "stop_advised")
    warm_up(gym.client, "Imke", 0.9)
    assert (asked, bodies(gym), rows(gym)) == ([], [], [])
    assert len(bodies(gym, "set_closed")) == 6
    every = hook(gym, "set_closed", "stop_advised", "readiness_changed")
    one_warm_up(gym, 5, 0.9)
    assert len(asked) == 1
    assert changes(gym) == [(NONE, "down")]  # since nobody had been told of the day
    gym.client.delete(f"/v1/webhooks/{every['id']}")
    one_warm_up(gym, 6, 0.9)
    assert len(asked) == 1


def test_each_lift_and_athlete_has_its_own(gym, imke):
    rana = athlete_of(gym, "Rana")
    import_history(gym.client, rana, history(30, lift="clean"))
    hook(gym)
    one_warm_up(gym, 1, 0.85)
    one_warm_up(gym, 1, 1.15, "Rana")
    one_warm_up(gym, 2, 0.85, "Rana", "clean")
    told = {(one["data"]["athlete"], one["data"]["lift"]): one["data"]["verdict"] for one in bodies(gym)}
    assert told == {("Imke", "snatch"): "down", ("Rana", "snatch"): "up", ("Rana", "clean"): "down"}
    assert len(bodies(gym)) == 3


def test_two_addresses_are_told_alike_and_another_club_is_not(gym, imke):
    hook(gym)
    hook(gym)
    hook(gym, headers=gym.new_key(club="Somebody else"))
    one_warm_up(gym, 1, 0.85)
    first, second = bodies(gym)
    assert first == second


def test_a_correction_that_changes_the_verdict_is_told(gym, imke):
    rana = athlete_of(gym, "Rana")
    hook(gym)
    done = one_warm_up(gym, 1, 0.85)
    url = f"/v1/sets/{done['id']}"
    assert gym.client.patch(f"{url}/reps/1", json={"excluded": True}).is_success
    gone = bodies(gym)[-1]["data"]
    assert (gone["verdict"], gone["change"]["value"], gone["probability"]) == (NONE, None, None)
    assert "no warm-up set" in gone["change"]["reason"]
    assert gym.client.patch(f"{url}/reps/1", json={"excluded": False}).is_success
    assert gym.client.patch(url, json={"athlete_id": rana}).is_success
    told = [(one["data"]["athlete"], one["data"]["before"], one["data"]["verdict"]) for one in bodies(gym)]
    assert told[:3] == [("Imke", NONE, "down"), ("Imke", "down", NONE), ("Imke", NONE, "down")]
    assert sorted(told[3:]) == [("Imke", "down", NONE), ("Rana", NONE, "down")]


def test_a_set_whose_lift_is_put_right_is_told_of_both_lifts(gym, imke):
    import_history(gym.client, imke, history(30, lift="clean"))
    hook(gym)
    done = one_warm_up(gym, 1, 0.85)
    assert gym.client.patch(f"/v1/sets/{done['id']}", json={"lift": "clean"}).json()["state"] == "analysed"
    told = [(one["data"]["lift"], one["data"]["before"], one["data"]["verdict"]) for one in bodies(gym)]
    assert told[0] == ("snatch", NONE, "down")
    assert sorted(told[1:]) == [("clean", NONE, "down"), ("snatch", "down", NONE)]


def test_samples_that_cannot_be_read_any_more_take_the_verdict_with_them(gym, imke):
    hook(gym)
    done = one_warm_up(gym, 1, 0.85)
    for path in (gym.settings.data / "raw").iterdir():
        path.write_bytes(path.read_bytes()[:-1])
    failed = gym.client.post(f"/v1/sets/{done['id']}/reanalyse?wait=20").json()
    assert failed["reason_code"] == "raw-damaged"
    assert changes(gym) == [(NONE, "down"), ("down", NONE)]


def cut_short(service):
    """A set whose analysis ends in the middle, and whose sender so gets no good answer."""
    with pytest.raises(AssertionError):
        one_warm_up(service, 1, 0.85)


def start_again(service):
    """What a service does with sets that its predecessor left."""
    left = finish_what_was_left(service.parts, service.client.app.state.queue)
    for one in service.client.get("/v1/sets").json()["items"]:
        service.client.post(f"/v1/streams/{one['stream_id']}/close?wait=20")
    return left


def test_a_crash_after_the_message_was_written_and_before_it_is_kept(gym, imke, monkeypatch):
    hook(gym)
    put_down = tell_readiness.enqueue_message

    def power_cut(*told):
        put_down(*told)
        raise RuntimeError("a power cut")

    monkeypatch.setattr(tell_readiness, "enqueue_message", power_cut)
    cut_short(gym)
    monkeypatch.undo()
    assert [one["state"] for one in gym.client.get("/v1/sets").json()["items"]] == ["analysing"]
    assert (bodies(gym), rows(gym)) == ([], [])
    assert start_again(gym) == 1
    assert changes(gym) == [(NONE, "down")]
    assert rows(gym) == [("snatch", DAY, "down")]


def test_a_crash_right_after_it_was_kept(gym, imke, monkeypatch):
    hook(gym)
    done = []

    def power_cut(*_):
        done.append(changes(gym))
        raise RuntimeError("a power cut")

    monkeypatch.setattr(analyse_stored_set, "refresh_profile", power_cut)
    one_warm_up(gym, 1, 0.85)
    monkeypatch.undo()
    assert done == [[(NONE, "down")]]
    assert start_again(gym) == 0
    one_warm_up(gym, 2, 0.85)
    assert changes(gym) == [(NONE, "down")]


def test_sets_that_are_done_at_the_same_moment_tell_of_one_change_once(gym, imke):
    done = warm_up(gym.client, "Imke", 0.85)
    hook(gym)
    together = Barrier(len(done), timeout=30)

    def analyse(job):
        together.wait()
        return stand_in.outcome_of(job)

    object.__setattr__(gym.parts, "analyse", analyse)
    club = who_calls(gym.parts.database, gym.client.headers["Authorization"].removeprefix("Bearer "), utc_now()).club_id
    for _ in range(5):
        with gym.parts.database.writing(club) as session:
            session.exec(delete(ToldReadinessRow))
            session.exec(delete(DeliveryRow))
        with ThreadPoolExecutor(len(done)) as pool:
            runs = [
                pool.submit(analyse_stored_set.analyse_stored_set, gym.parts, club, lift_set["id"]) for lift_set in done
            ]
        assert [run.result() for run in runs] == [None] * len(done)
        assert changes(gym) == [(NONE, "down")]
    assert {one["revision"] for one in gym.client.get("/v1/sets").json()["items"]} == {6}


def test_what_was_told_is_exported_and_erased_with_the_athlete(gym, imke):
    rana = athlete_of(gym, "Rana")
    hook(gym)
    one_warm_up(gym, 1, 0.85)
    one_warm_up(gym, 1, 0.85, "Rana")
    answer = gym.client.get(f"/v1/athletes/{imke}/export", headers={"Accept": "application/zip"})
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        (row,) = csv.DictReader(io.StringIO(archive.read("told_readiness.csv").decode()))
        assert "told_readiness.csv" in archive.read("README.txt").decode()
    assert (row["day"], row["lift"], row["verdict"]) == (str(DAY), "snatch", "down")
    receipt = gym.client.delete(f"/v1/athletes/{imke}").json()
    assert (receipt["rows"]["told_readiness"], receipt["rows"]["delivery"]) == (1, 1)
    assert len(rows(gym)) == 1
    assert [one["data"]["athlete_id"] for one in bodies(gym)] == [rana]


def test_an_athlete_erased_during_the_analysis_is_told_nothing_of(gym, imke):
    hook(gym)

    def analyse(job):
        assert gym.client.delete(f"/v1/athletes/{imke}").status_code == 200
        return stand_in.outcome_of(job)

    object.__setattr__(gym.parts, "analyse", analyse)
    stream = gym.stream(athlete="Imke", started_at=f"{DAY}T17:00:00Z")["id"]
    channels = {name: [0.01] * 50 for name in ("accel_x", "accel_y", "accel_z", "gyro_x", "gyro_y", "gyro_z")}
    gym.send(stream, {"boot": "b1", "seq": 0, "t0_us": 0, "dt_us": 5000, "channels": channels})
    gym.client.post(f"/v1/streams/{stream}/close?wait=20")
    assert (bodies(gym), rows(gym)) == ([], [])


def test_a_kind_nobody_tells_of_is_refused(gym):
    answer = gym.client.post("/v1/webhooks", json={"url": NOBODY, "kinds": ["readiness"]})
    assert answer.status_code == 422
    assert "readiness_changed" in answer.text
