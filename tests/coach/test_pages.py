"""Pages on the app itself: what they show, what their forms change."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from sqlalchemy import event

from barwright.storage.sessions import Database
from barwright.workflows.parts import utc_now
from coach.conftest import sign_in
from conftest import imu_block

HISTORY_DAYS = 10
ALL = ("/", "/athletes", "/plan", "/review", "/wall", "/sets", "/devices", "/club")


def athlete_with_history(service, name="Imke", **facts):
    """Snatches of ten days with velocities on one line, the last of them today's warm-ups."""
    made = service.client.post("/v1/athletes", json={"name": name, "sex": "female", **facts}).json()
    rows = ["date,lift,load,reps,velocity,velocity_u"]
    today = utc_now().date()
    for day in range(HISTORY_DAYS, -1, -1):
        on = (today - timedelta(days=2 * day)).isoformat()
        rows += [f"{on},snatch,{kg},2,{1.62 + 0.018 * (80 - kg):.3f},0.02" for kg in (45, 55, 62)]
    answer = service.client.post(
        f"/v1/athletes/{made['id']}/history", content="\n".join(rows), headers={"content-type": "text/csv"}
    )
    assert answer.status_code in (200, 201), answer.text
    return made["id"]


def plan_for_today(service, athlete_id):
    sets = [{"lift": "snatch", "percent": 75, "reps": 2, "sets": 3}, {"lift": "snatch", "percent": 85, "reps": 1}]
    answer = service.client.post(f"/v1/athletes/{athlete_id}/plans", json={"sets": sets})
    assert answer.status_code == 201, answer.text


@pytest.mark.parametrize("path", ALL)
def test_a_new_club_has_a_kind_word_on_every_page(desk, path):
    text = desk.page(path)
    assert "<h1>" in text or '<h1 class="' in text
    assert "None" not in re.sub(r"<[^>]+>", " ", text).replace(">None<", "")


def test_today_shows_who_is_expected_with_loads_and_the_caution(service, desk):
    athlete = athlete_with_history(service)
    plan_for_today(service, athlete)
    text = desk.page("/")
    assert "1 athlete expected" in text
    assert "so far 45 · 55 · 62 kg" in text
    assert re.search(r'planned-load">\d+ kg<', text)
    assert "each side" in text
    assert "not an instruction" in text


def test_a_changed_load_stays_with_its_reason_and_the_suggestion_beside_it(service, desk):
    athlete = athlete_with_history(service)
    plan_for_today(service, athlete)
    answer = desk.send(f"/today/{athlete}/sets/1", load="57", reason="Looked slow", words="heavy legs")
    assert answer.status_code == 303
    text = desk.page("/")
    assert 'planned-load">57 kg<' in text
    assert "Your load" in text
    assert "Looked slow: heavy legs" in text
    assert "instead of" in text


def test_today_costs_a_large_club_no_more_questions_and_few_bytes(service, desk):
    """200 athletes have to fit into 300 kB over the wire, with one set of queries for all of them."""

    def look() -> tuple[int, int]:
        asked: list[str] = []
        engine = service.parts.database._engine
        event.listen(engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
        answer = desk.client.get("/", headers={"accept-encoding": "gzip"})
        return len([one for one in asked if one.startswith("SELECT")]), int(answer.headers["content-length"])

    sizes = []
    for group in (range(2), range(2, 8)):
        for number in group:
            plan_for_today(service, athlete_with_history(service, f"Athlete {number}"))
        desk.page("/")
        sizes.append(look())
    (few, small), (many, large) = sizes
    assert many == few > 3
    assert small + (large - small) / 6 * 200 < 300_000


def test_a_load_in_pounds_is_kept_in_kilograms(service, desk):
    athlete = athlete_with_history(service)
    plan_for_today(service, athlete)
    assert desk.send("/club/unit", unit="lb").status_code == 303
    assert desk.send(f"/today/{athlete}/sets/1", load="121.3", reason="Other", words="x").status_code == 303
    assert 'planned-load">121.3 lb<' in desk.page("/")
    (kept,) = service.client.get(f"/v1/athletes/{athlete}/decisions").json()["items"]
    assert kept["load_kg"] == pytest.approx(55.02, abs=0.01)


@pytest.mark.parametrize("load", ["", "heavy", "0", "-5", "99999"])
def test_a_load_that_is_none_is_refused_in_plain_words(service, desk, load):
    athlete = athlete_with_history(service)
    plan_for_today(service, athlete)
    answer = desk.send(f"/today/{athlete}/sets/1", load=load, reason="Other")
    assert answer.status_code == 422
    assert "The load" in answer.text
    assert "has to be a number" in answer.text


def test_an_athletes_page_has_strength_profile_and_readiness(service, desk):
    athlete = athlete_with_history(service)
    text = desk.page(f"/athletes/{athlete}")
    for title in ("strength over months", "load and velocity", "readiness day by day"):
        assert f"Snatch: {title}" in text
    assert "Usual maximum" in text
    assert text.count('role="img"') >= 3
    assert "It rests on 33 best reps." in text  # eleven days, three loads each; they are fewer loads


def test_where_no_lift_was_recorded_nothing_is_said_to_be_free_of_faults(service, desk):
    text = desk.page(f"/athletes/{athlete_with_history(service)}")
    assert text.count("No made lift was recorded yet: nothing to judge.") == 1
    assert "No fault stands out" not in text


def test_a_tested_maximum_is_told_and_shown(service, desk):
    athlete = athlete_with_history(service)
    day = (utc_now().date() - timedelta(days=1)).isoformat()
    assert desk.send(f"/athletes/{athlete}/maxima", lift="snatch", load="81", day=day).status_code == 303
    assert "tested" in desk.page(f"/athletes/{athlete}?lift=snatch")
    assert service.client.get(f"/v1/athletes/{athlete}/maxima").json()["items"][0]["load_kg"] == 81


def test_facts_can_be_added_and_changed(desk):
    answer = desk.send("/athletes", name="Łucja Ørsted", level="novice", birth_year="2011", sex="female")
    where = answer.headers["location"]
    assert "novice, born 2011" in desk.page(where)
    assert desk.send(where, name="Łucja Ørsted", level="intermediate", body_mass_kg="67,5").status_code == 303
    assert "intermediate, 67.5 kg" in desk.page(where)
    assert desk.send("/athletes", name="Łucja Ørsted").status_code == 409
    assert desk.send("/athletes", name="").status_code == 422


def test_erasing_needs_the_name_and_then_nothing_is_left(service, desk):
    athlete = athlete_with_history(service, "Zeta Test")
    assert desk.send(f"/athletes/{athlete}/erase", name="zeta").status_code == 422
    assert desk.send(f"/athletes/{athlete}/erase", name="Zeta Test").status_code == 303
    assert "Zeta Test" not in desk.page("/athletes")
    assert desk.client.get(f"/athletes/{athlete}").status_code == 404


def test_the_history_of_an_athlete_comes_as_a_file(service, desk):
    athlete = athlete_with_history(service)
    answer = desk.client.get(f"/athletes/{athlete}/history.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    assert answer.text.count("snatch") == 3 * (HISTORY_DAYS + 1)


def test_a_set_shows_its_reps_its_path_and_its_verdict(service, desk):
    made = service.closed_set()
    text = desk.page(f"/sets/{made['id']}")
    for words in (
        "Snatch, 60 kg",
        "Rep&nbsp;1",
        "✓",
        "Made",
        "Good recording",
        "Bar path",
        "Bar velocity",
        "A stand-in.",
    ):
        assert words in text
    assert "this lift is not caught" in text  # why a figure is not there


def test_a_rep_is_marked_failed_and_the_day_follows(service, desk):
    made = service.closed_set(load_kg=70)
    before = service.client.get(f"/v1/athletes/{made['athlete_id']}/readiness?lift=snatch&on=2026-03-01").json()
    assert desk.send(f"/sets/{made['id']}/reps/1", outcome="failed").status_code == 303
    text = desk.page(f"/sets/{made['id']}")
    assert "the analysis said made" in text
    assert "outcome made → failed" in text
    assert "1 rep, 1 failed" in desk.page("/sets")
    after = service.client.get(f"/v1/athletes/{made['athlete_id']}/readiness?lift=snatch&on=2026-03-01").json()
    assert before != after


def test_a_rep_that_is_no_lift_is_not_counted_and_can_be_counted_again(service, desk):
    made = service.closed_set()
    desk.send(f"/sets/{made['id']}/reps/1", counts="no")
    assert "Not counted" in desk.page(f"/sets/{made['id']}")
    desk.send(f"/sets/{made['id']}/reps/1", counts="yes")
    assert "Not counted" not in desk.page(f"/sets/{made['id']}")


def test_a_wrong_load_lift_or_athlete_is_put_right(service, desk):
    made = service.closed_set()
    other = service.client.post("/v1/athletes", json={"name": "Tomas"}).json()["id"]
    fields = {"load": "62,5", "lift": "power_snatch", "athlete": other, "reason": "mixed up"}
    assert desk.send(f"/sets/{made['id']}", **fields).status_code == 303
    now = service.client.get(f"/v1/sets/{made['id']}").json()
    assert (now["load_kg"], now["lift"], now["athlete"], now["state"]) == (62.5, "power_snatch", "Tomas", "analysed")
    text = desk.page(f"/sets/{made['id']}")
    assert "load 60 kg → 62.5 kg" in text
    assert "athlete Imke → Tomas" in text


def test_another_rep_is_laid_beneath(service, desk):
    one, other = service.closed_set(), service.closed_set(load_kg=65)
    text = desk.page(f"/sets/{one['id']}?rep=1&over={other['id']}.1")
    assert text.count('class="c-other"') >= 2
    assert desk.page(f"/sets/{one['id']}?rep=1&over=set_gone.1").count('d="M1 6H33"') >= 1  # gone: the rep itself stays


def test_a_week_is_planned_copied_and_given_to_others(service, desk):
    one, other = athlete_with_history(service), athlete_with_history(service, "Rana")
    monday = utc_now().date() - timedelta(days=utc_now().date().weekday())
    lines = {
        "lift": ["snatch", "snatch", "snatch"], "kind": ["percent", "velocity", "percent"],
        "value": ["70", "1,9", ""], "reps": ["2", "3", ""], "sets": ["4", "", ""], "loss": ["", "20", ""],
    }  # fmt: skip
    assert desk.send(f"/plan/{one}/{monday}", **lines, note="easy").status_code == 303
    week = desk.page(f"/plan?athlete={one}&week={monday}")
    assert "4\u00a0×\u00a02\u00a0at\u00a070\u00a0%" in week
    assert "3\u00a0reps\u00a0at\u00a01.9\u00a0m/s" in week
    assert "easy" in week
    assert re.search(r'planned-load">\d+ kg<', week)
    later = monday + timedelta(days=7)
    assert desk.send(f"/plan/{one}/copy", week=later.isoformat()).status_code == 303
    assert "1.9\u00a0m/s" in desk.page(f"/plan?athlete={one}&week={later}")
    assert desk.send(f"/plan/{one}/give", week=monday.isoformat(), to=[other]).status_code == 303
    assert "1.9\u00a0m/s" in desk.page(f"/plan?athlete={other}&week={monday}")


def test_a_target_out_of_reach_is_refused_with_its_line(service, desk):
    one = athlete_with_history(service)
    monday = date(2026, 3, 2)
    lines = {"lift": ["snatch"], "kind": ["percent"], "value": ["700"], "reps": ["2"], "sets": ["4"], "loss": [""]}
    answer = desk.send(f"/plan/{one}/{monday}", **lines)
    assert answer.status_code == 422
    assert "Line 1" in answer.text
    assert "1 to 130" in answer.text


def test_remote_sets_wait_until_they_are_looked_at(service, desk):
    made = service.closed_set()
    assert "Nobody is remote" in desk.page("/review")
    desk.send(f"/athletes/{made['athlete_id']}/remote", remote="yes")
    assert "1 set to look at" in desk.page("/review")
    assert "1 remote lift to look at" in desk.page("/")
    assert desk.send("/review", set=made["id"]).status_code == 303
    assert "All looked at" in desk.page("/review")


def test_the_wall_shows_the_last_set_of_a_platform(service, desk):
    made = service.closed_set()
    assert "Imke, snatch 60 kg" in desk.page("/wall")
    text = desk.page(f"/wall/{made['device_id']}")
    assert re.search(r'wall-velocity"><span>\d+\.\d\d</span>', text)
    assert "Rep 1" in text


def test_devices_tell_how_their_recordings_were(service, desk):
    service.closed_set()
    text = desk.page("/devices")
    assert "Last 1 recording: 1 good" in text
    assert "bar 3" in text


def test_what_the_club_owns_is_kept_and_loads_follow(service, desk):
    fields = {
        "bar_kg": ["20", ""], "bar_sex": ["", ""], "plate_kg": ["20", "5", ""], "plate_count": ["4", "2", ""],
        "collars": "5", "step": "5", "cap": "5", "matters": "", "time_zone": "Europe/Vienna",
    }  # fmt: skip
    assert desk.send("/club/equipment", **fields).status_code == 303
    club = service.client.get("/v1/club").json()
    assert club["time_zone"] == "Europe/Vienna"
    assert [one["kg"] for one in club["plates"]] == [20, 5]
    athlete = athlete_with_history(service)
    plan_for_today(service, athlete)
    loads = [float(kg) for kg in re.findall(r'planned-load">([\d.]+) kg<', desk.page("/"))]
    assert loads
    assert all(kg in (25, 35, 65, 75, 105, 115) for kg in loads)
    assert desk.send("/club/equipment", **{**fields, "time_zone": "Nowhere/Land"}).status_code == 422


def test_a_key_is_shown_once_works_and_ends(service, desk):
    text = desk.send("/club/keys", kind="reader").text
    key = re.search(r"bw_[A-Za-z0-9]+", text)[0]
    headers = {"Authorization": f"Bearer {key}"}
    assert service.client.get("/v1/sets", headers=headers).status_code == 200
    assert service.client.post("/v1/athletes", json={"name": "x"}, headers=headers).status_code == 403
    listed = desk.page("/club")
    assert key not in listed
    ids = re.findall(r"/club/keys/(key_\w+)/end", listed)
    assert desk.send(f"/club/keys/{ids[0]}/end").status_code == 303
    assert service.client.get("/v1/sets", headers=headers).status_code == 401


def test_no_page_shows_anything_of_another_club(service, desk):
    made = service.closed_set()
    athlete = athlete_with_history(service, "Rana")
    other = sign_in(service, club="Harbour Barbell", coach="Else")
    for path in ALL:
        text = other.page(path)
        assert "Imke" not in text
        assert "Rana" not in text
    for path in (
        f"/athletes/{athlete}", f"/athletes/{athlete}/erase", f"/athletes/{athlete}/history.csv", f"/sets/{made['id']}",
        f"/wall/{made['device_id']}", f"/plan?athlete={athlete}", f"/today/{athlete}/sets/1",
    ):  # fmt: skip
        assert other.client.get(path).status_code == 404, path
    for path, fields in (
        (f"/athletes/{athlete}/erase", {"name": "Rana"}), (f"/athletes/{athlete}", {"name": "Stolen"}),
        (f"/sets/{made['id']}/reps/1", {"outcome": "failed"}), ("/review", {"set": made["id"]}),
        (f"/athletes/{athlete}/maxima", {"lift": "snatch", "load": "80", "day": "2026-03-01"}),
    ):  # fmt: skip
        assert other.send(path, **fields).status_code == 404, path
    assert "Rana" in desk.page("/athletes")


def test_names_are_never_taken_for_html(service, desk):
    name = '<img src=x onerror="alert(1)">'
    where = desk.send("/athletes", name=name).headers["location"]
    for path in ("/athletes", where, f"{where}/erase", "/plan"):
        assert "<img src=x" not in desk.page(path)


def test_an_address_that_leads_nowhere_is_a_page_for_browsers_and_a_problem_for_programs(desk):
    browser = desk.client.get("/nowhere", headers={"accept": "text/html"})
    assert browser.status_code == 404
    assert "There is no such page" in browser.text
    program = desk.client.get("/nowhere", headers={"accept": "application/json"})
    assert program.json()["code"] == "no-such-route"
    api = desk.client.get("/v1/nowhere", headers={"accept": "text/html"})
    assert api.json()["code"] == "no-such-route"


@pytest.mark.parametrize(
    "name", ["../rendering.py", "..%2f..%2fsettings.py", "style.scss", "fonts/../../forms.py", "x/y"]
)
def test_static_files_are_those_of_the_folder_only(desk, name):
    assert desk.client.get(f"/static/0/{name}").status_code == 404


def test_static_files_are_kept_by_browsers(desk):
    from barwright.coach.rendering import static_url

    answer = desk.client.get(static_url("style.css"))
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-type"].startswith("text/css")


def test_pages_are_compressed(service, desk):
    athlete_with_history(service)
    answer = desk.client.get("/athletes", headers={"accept-encoding": "gzip"})
    assert answer.headers["content-encoding"] == "gzip"
    assert "Imke" in answer.text


def test_an_open_set_says_that_it_is_being_lifted(service, desk):
    stream = service.stream()
    service.send(stream["id"], imu_block(0))
    text = desk.page("/sets")
    assert "Being lifted" in text
    assert "No reps yet" in desk.page(f"/sets/{stream['set_id']}")


def test_a_full_disk_is_told_as_a_page(desk, monkeypatch):
    from barwright.storage.sessions import StorageUnavailableError

    def broken(*_):
        raise StorageUnavailableError("disk full")

    monkeypatch.setattr(Database, "reading", broken)
    answer = desk.client.get("/")
    assert answer.status_code == 503
    assert "Nothing can be read or kept just now" in answer.text
