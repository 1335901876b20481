"""Technique over HTTP: faults, advice, drills given, comparison, review. Lifts are written down by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from barwright.access.scopes import Scope
from barwright.analysis.reps.results import SetAnalysis
from barwright.app import create_app
from conftest import Service, TestClient, imu_block
from lifts_by_hand import DAY, analysis, days_of

FORWARD = {"forward_off_floor": 0.03, "swing_to_mid_turnover": 0.06}
Filled = Callable[..., str]


@pytest.fixture
def days() -> dict[str, SetAnalysis]:
    """What the analysis answers for a set that began on a day."""
    return {}


@pytest.fixture
def club(settings, days) -> Iterator[Service]:
    """A service whose analysis answers from `days`, and whose clock stands at the last of them."""
    app = create_app(settings, analyse=lambda job: days[job.told.started_at.date().isoformat()])
    with TestClient(app, raise_server_exceptions=False) as client:
        parts = app.state.parts
        object.__setattr__(parts, "now", lambda: datetime.fromisoformat(max(days, default="2026-09-01")).replace(
            hour=20, tzinfo=UTC))  # fmt: skip
        service = Service(client, settings, parts)
        client.headers.update(service.new_key())
        yield service


@pytest.fixture
def filled(club, days) -> Filled:
    """Records sets of an athlete, every third day; answers the athlete's id."""

    def fill(sets: list[SetAnalysis], name: str = "Imke", **facts: Any) -> str:
        days.update(days_of(sets))
        told = {"name": name, "level": "advanced", "birth_year": 1998, "sex": "female", **facts}
        athlete = club.client.post("/v1/athletes", json=told).json()["id"]
        device = {"device": "bar 3"}
        for k in range(len(sets)):
            stream = club.stream(
                athlete=name, load_kg=80, started_at=(DAY + timedelta(days=3 * k)).isoformat(), **device
            )
            assert club.send(stream["id"], imu_block(0)).status_code == 200
            assert club.client.post(f"/v1/streams/{stream['id']}/close?wait=20").status_code == 200
        return athlete

    return fill


def good(count: int) -> list[SetAnalysis]:
    return [analysis(k) for k in range(count)]


def technique(club: Service, athlete: str, lift: str = "snatch") -> dict[str, Any]:
    answer = club.client.get(f"/v1/athletes/{athlete}/technique/{lift}")
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_the_earliest_fault_with_one_drill_and_its_load(club, filled):
    found = technique(club, filled([*good(3), analysis(3, **FORWARD)]))
    assert [f["code"] for f in found["faults"]] == ["S1", "S9"]
    first, second = found["faults"]
    assert (first["phase"], first["against"], first["in_reps"], first["echo_of"]) == ("lift_off", "own", 3, None)
    assert second["echo_of"] == "S1"
    assert first["size"]["value"] > first["limit"] > first["reference"]["value"]
    assert first["source"]
    assert 0.9 < first["sure"] <= 1
    assert (len(found["reps"]), found["own_lifts"], found["load_kg"]) == (3, 9, 80)
    assert [p["phase"] for p in found["phases"]] == ["first_pull", "transition", "second_pull"]
    assert found["phases"][0]["length"]["value"] == pytest.approx(0.55)
    assert found["style"]["letter"] in ("A", "B", "C", "other")
    advice = found["advice"]
    assert (advice["fault"], advice["main"]["drill"], advice["given"]) == ("S1", "pause_off_floor_snatch", None)
    assert advice["primer"]["drill"] == "muscle_snatch"
    load = advice["main"]["load"]
    assert load["unit"] == "kg"
    assert load["value"] == int(load["value"])  # the club's plates
    assert 40 < load["value"] <= advice["main"]["at_most_kg"]
    assert load["u"] > 0
    assert "the bar goes forward" in advice["main"]["because"]
    assert any("several kilograms" in words for words in advice["cautions"])
    assert found["cautions"] == advice["cautions"]


def test_a_clean_lifter_is_told_no_fault_and_no_drill(club, filled):
    found = technique(club, filled(good(4)))
    assert (found["faults"], found["advice"], found["earlier_drills"]) == ([], None, [])


def test_nothing_recorded_is_said_and_is_no_error(club, filled):
    found = technique(club, filled([]))
    assert (found["reps"], found["faults"], found["load_kg"]) == ([], [], None)
    assert "nothing to judge" in found["words"][0]
    assert technique(club, found["athlete_id"], "back_squat")["faults"] == []


def test_a_novice_or_minor_stays_below_the_beginners_ceiling(club, filled, days):
    adult = technique(club, filled([*good(3), analysis(3, **FORWARD)]))["advice"]["main"]
    for name, facts in (("Lucja", {"level": "novice"}), ("Mika", {"birth_year": 2011})):
        main = technique(club, filled([*good(3), analysis(3, **FORWARD)], name, **facts))["advice"]["main"]
        drill = club.client.get(f"/v1/drills/{main['drill']}").json()
        assert main["percent"][1] <= drill["beginner"] < adult["percent"][1]
        assert main["load"]["value"] is None or main["load"]["value"] <= main["at_most_kg"]
        assert any("novices and minors" in words for words in main["caps"])


def test_without_a_bar_axis_fore_aft_is_not_judged(club, filled):
    blind = [analysis(k, forward_known=False, **(FORWARD if k == 3 else {})) for k in range(4)]
    found = technique(club, filled(blind))
    assert found["faults"] == []
    assert "bar axis" in next(n["why"] for n in found["not_judged"] if n["code"] == "S1")
    assert found["style"] is None


def test_lost_lifts_are_listed(club, filled):
    found = technique(club, filled([*good(2), analysis(2, outcome="failed", count=1)]))
    assert [one["way"] for one in found["lost"]] == ["not_told"]


def give(club: Service, athlete: str, **told: Any):
    return club.client.post(f"/v1/athletes/{athlete}/prescriptions", json={"lift": "snatch", **told})


def test_the_advised_drill_is_given_and_followed_up(club, filled, days):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    answer = give(club, athlete)
    assert answer.status_code == 201, answer.text
    given = answer.json()
    assert (given["fault"], given["drill"], given["advised"], given["reason"]) == (
        "S1", "pause_off_floor_snatch", None, None,
    )  # fmt: skip
    assert given["response"]["response"] == "too early"
    assert any("several kilograms" in words for words in given["cautions"])
    assert answer.headers["Location"].endswith(given["id"])
    one = club.client.get(answer.headers["Location"]).json()
    assert one == given
    assert club.client.get(f"/v1/athletes/{athlete}/prescriptions").json()["items"] == [given]
    found = technique(club, athlete)
    assert found["advice"]["given"] == given["id"]
    assert [e["id"] for e in found["earlier_drills"]] == [given["id"]]


def test_another_drill_needs_a_reason_and_keeps_it(club, filled):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    refused = give(club, athlete, drill="deficit_snatch")
    assert (refused.status_code, refused.json()["code"]) == (422, "reason-needed")
    assert refused.json()["errors"][0]["pointer"] == "/reason"
    given = give(club, athlete, drill="deficit_snatch", reason="Her hips are stiff today.", load_kg=50).json()
    assert (given["advised"], given["reason"], given["load_kg"]) == (
        "pause_off_floor_snatch", "Her hips are stiff today.", 50,
    )  # fmt: skip
    advice = technique(club, athlete)["advice"]
    assert (advice["main"]["drill"], advice["given_reason"]) == ("deficit_snatch", "Her hips are stiff today.")


def test_a_drill_that_helped_is_told_so(club, filled, days):
    bad = [analysis(k, forward_off_floor=0.04) for k in range(3, 7)]
    athlete = filled([*good(3), *bad])
    first = {"on": DAY.date().isoformat(), "fault": "S1", "drill": "slow_pull_snatch", "reason": "She likes it."}
    assert give(club, athlete, **first).status_code == 201
    given = give(club, athlete, on=(DAY + timedelta(days=18)).date().isoformat(), reason="as before").json()
    better = [analysis(7 + k, forward_off_floor=0.04 - 0.006 * k) for k in range(5)]
    days.update({(DAY + timedelta(days=21 + 3 * k)).date().isoformat(): one for k, one in enumerate(better)})
    for k in range(len(better)):
        stream = club.stream(load_kg=80, started_at=(DAY + timedelta(days=21 + 3 * k)).isoformat())
        club.send(stream["id"], imu_block(0))
        club.client.post(f"/v1/streams/{stream['id']}/close?wait=20")
    found = club.client.get(f"/v1/athletes/{athlete}/prescriptions/{given['id']}").json()
    response = found["response"]
    assert response["response"] == "helped"
    assert response["change"]["value"] < response["high"] < 0
    assert (response["sessions_before"], response["sessions_after"]) == (4, 5)
    kept = club.client.get(f"/v1/athletes/{athlete}/prescriptions").json()["items"]
    (first,) = (one for one in kept if one["id"] != given["id"])
    assert first["ended_on"] == given["given_on"]  # a new drill for the same fault ends the one before


def test_a_drill_can_be_ended(club, filled):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    given = give(club, athlete).json()
    url = f"/v1/athletes/{athlete}/prescriptions/{given['id']}/end"
    before = club.client.post(url, json={"ended_on": "2026-08-01"})
    assert (before.status_code, before.json()["code"]) == (422, "not-plausible")
    assert club.client.post(url, json={}).json()["ended_on"] == given["given_on"]
    assert technique(club, athlete)["advice"]["given"] is None


def test_what_cannot_be_given_is_refused_with_a_pointer(club, filled):
    athlete = filled(good(4))
    for told, code, pointer in (
        ({}, "nothing-advised", "/fault"),
        ({"fault": "S1"}, "nothing-advised", "/drill"),
        ({"fault": "J1", "drill": "deficit_snatch"}, "not-plausible", "/fault"),
        ({"fault": "S1", "drill": "none_such"}, "not-found", "/drill"),
        ({"fault": "S1", "drill": "deficit_snatch", "on": "2031-01-01"}, "in-the-future", "/on"),
        ({"fault": "S1", "drill": "deficit_snatch", "sets": 0}, "request-invalid", "/sets"),
    ):
        answer = give(club, athlete, **told)
        assert answer.json()["code"] == code, told
        assert answer.json()["errors"][0]["pointer"] == pointer
    club.client.patch("/v1/drills/deficit_snatch", json={"forbidden": True})
    forbidden = give(club, athlete, fault="S1", drill="deficit_snatch")
    assert (forbidden.status_code, forbidden.json()["code"]) == (409, "drill-forbidden")


NEW = {
    "code": "towel_snatch", "title": "Towel snatch", "of": "snatch", "percent": [50, 60], "beginner": 50,
    "sets": [3, 4], "reps": [2, 2], "form": "A towel before the toes.", "why": "shows where the bar goes",
    "faults": ["S1"],
}  # fmt: skip


def test_the_clubs_own_drills(club, filled):
    drills = club.client.get("/v1/drills").json()["items"]
    assert len(drills) > 40
    answer = club.client.post("/v1/drills", json=NEW)
    assert (answer.status_code, answer.headers["Location"]) == (201, "/v1/drills/towel_snatch")
    assert club.client.post("/v1/drills", json=NEW).json()["code"] == "name-taken"
    assert club.client.get("/v1/drills/towel_snatch").json()["own"] is True
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    assert technique(club, athlete)["advice"]["main"]["drill"] == "towel_snatch"
    assert club.client.patch("/v1/drills/towel_snatch", json={"forbidden": True}).json()["forbidden"] is True
    assert technique(club, athlete)["advice"]["main"]["drill"] == "pause_off_floor_snatch"
    changed = club.client.patch("/v1/drills/pause_off_floor_snatch", json={"percent": [40, 50], "beginner": 45}).json()
    assert (changed["percent"], changed["own"]) == ([40, 50], True)
    assert technique(club, athlete)["advice"]["main"]["title"] == "Snatch with a pause off the floor"
    assert club.client.delete("/v1/drills/pause_off_floor_snatch").status_code == 204
    assert club.client.get("/v1/drills/pause_off_floor_snatch").json()["percent"] == [60, 75]
    assert club.client.delete("/v1/drills/pause_off_floor_snatch").status_code == 404
    assert club.client.delete("/v1/drills/towel_snatch").status_code == 204
    assert club.client.get("/v1/drills/towel_snatch").status_code == 404


def test_drills_that_cannot_be_are_refused(club):
    for changes, pointer in (
        ({"percent": [70, 60]}, "/percent"),
        ({"faults": ["S99"]}, "/faults/0"),
        ({"of": "curl"}, "/of"),
        ({"code": "No Code"}, "/code"),
    ):
        answer = club.client.post("/v1/drills", json={**NEW, **changes})
        assert answer.status_code == 422, changes
        assert answer.json()["errors"][0]["pointer"].startswith(pointer)
    wrong = club.client.patch("/v1/drills/muscle_snatch", json={"beginner": 90})
    assert (wrong.status_code, wrong.json()["code"]) == (422, "not-plausible")


def test_two_lifts_laid_over_each_other(club, filled):
    athlete = filled([*good(3), analysis(3, x_at_knee=0.06)])
    url = f"/v1/athletes/{athlete}/technique/snatch/compare"
    found = club.client.get(url).json()
    assert found["first"]["t_s"][0] == found["second"]["t_s"][0] == 0
    assert len(found["first"]["x_m"]) == len(found["first"]["t_s"])
    assert found["band"]["count"] == 10
    by_day = club.client.get(url, params={"first": "2026-09-01", "second": "2026-09-10"}).json()
    assert by_day["first"]["rep"]["at"].startswith("2026-09-01")
    change = by_day["changes"]["x_at_knee"]
    assert change["value"] == pytest.approx(0.06, abs=0.02)
    assert change["u"] == pytest.approx(0.002 * 2**0.5)
    rep = by_day["second"]["rep"]
    named = club.client.get(url, params={"second": f"{rep['set_id']}:{rep['index']}"}).json()
    assert named["second"]["rep"] == rep
    for wanted, status in (("nonsense", 422), ("2020-01-01", 404), ("set_none:0", 404)):
        assert club.client.get(url, params={"first": wanted}).status_code == status


def test_review_puts_the_most_worrying_first_until_it_is_looked_at(club, filled, days):
    oskar = filled([*good(3), analysis(3, **FORWARD), analysis(4, outcome="failed", count=2)], "Oskar")
    assert club.client.get("/v1/review").json()["items"] == []
    assert club.client.put(f"/v1/athletes/{oskar}/remote", json={"remote": True}).json()["remote"] is True
    assert club.client.get(f"/v1/athletes/{oskar}/remote").json()["remote"] is True
    waiting = club.client.get("/v1/review").json()["items"]
    assert len(waiting) == 5
    assert [one["worry"] for one in waiting] == sorted((one["worry"] for one in waiting), reverse=True)
    assert "2 of 2 lost" in waiting[0]["reasons"][0]
    assert [f["code"] for f in waiting[1]["faults"]] == ["S1", "S9"]
    assert waiting[-1]["worry"] == 0
    ids = [one["set_id"] for one in waiting]
    wrong = club.client.post("/v1/review/looked", json={"set_ids": [ids[0], "set_none"]})
    assert (wrong.status_code, wrong.json()["errors"][0]["pointer"]) == (404, "/set_ids/1")
    assert len(club.client.get("/v1/review").json()["items"]) == 5
    assert club.client.post("/v1/review/looked", json={"set_ids": ids[:2]}).status_code == 204
    assert [one["set_id"] for one in club.client.get("/v1/review").json()["items"]] == ids[2:]
    club.client.put(f"/v1/athletes/{oskar}/remote", json={"remote": False})
    assert club.client.get("/v1/review").json()["items"] == []
    assert len(club.client.get("/v1/review", params={"everybody": "true"}).json()["items"]) == 3


def test_another_club_sees_nothing_of_it(club, filled):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    given = give(club, athlete).json()
    club.client.patch("/v1/drills/muscle_snatch", json={"forbidden": True})
    other = club.new_key(club="Another Club")
    for method, url, body in (
        ("GET", f"/v1/athletes/{athlete}/technique/snatch", None),
        ("GET", f"/v1/athletes/{athlete}/technique/snatch/compare", None),
        ("GET", f"/v1/athletes/{athlete}/prescriptions", None),
        ("GET", f"/v1/athletes/{athlete}/prescriptions/{given['id']}", None),
        ("POST", f"/v1/athletes/{athlete}/prescriptions/{given['id']}/end", {}),
        ("POST", f"/v1/athletes/{athlete}/prescriptions", {"lift": "snatch", "fault": "S1", "drill": "tall_snatch"}),
        ("GET", f"/v1/athletes/{athlete}/remote", None),
        ("PUT", f"/v1/athletes/{athlete}/remote", {"remote": True}),
    ):
        assert club.client.request(method, url, json=body, headers=other).status_code == 404, url
    assert club.client.get("/v1/drills/muscle_snatch", headers=other).json()["forbidden"] is False
    assert club.client.get("/v1/review?everybody=true", headers=other).json()["items"] == []
    sets = club.client.get("/v1/sets").json()["items"]
    marked = club.client.post("/v1/review/looked", json={"set_ids": [sets[0]["id"]]}, headers=other)
    assert marked.status_code == 404


def test_erasing_an_athlete_takes_drills_and_review_along(club, filled):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    give(club, athlete)
    club.client.put(f"/v1/athletes/{athlete}/remote", json={"remote": True})
    sets = [one["id"] for one in club.client.get("/v1/sets").json()["items"]]
    club.client.post("/v1/review/looked", json={"set_ids": sets})
    assert club.client.delete(f"/v1/athletes/{athlete}").status_code == 200
    assert club.client.get(f"/v1/athletes/{athlete}/technique/snatch").status_code == 404


def test_reading_needs_a_reader_and_changing_a_registrar(club, filled):
    athlete = filled([*good(3), analysis(3, **FORWARD)])
    reader, sender = club.new_key(Scope.RESULTS_READ), club.new_key(Scope.STREAMS_WRITE)
    url = f"/v1/athletes/{athlete}/technique/snatch"
    assert club.client.get(url, headers=reader).status_code == 200
    assert club.client.get(url, headers=sender).status_code == 403
    for method, path, body in (
        ("POST", f"/v1/athletes/{athlete}/prescriptions", {"lift": "snatch"}),
        ("POST", "/v1/drills", NEW),
        ("PATCH", "/v1/drills/muscle_snatch", {"forbidden": True}),
        ("POST", "/v1/review/looked", {"set_ids": ["x"]}),
        ("PUT", f"/v1/athletes/{athlete}/remote", {"remote": True}),
    ):
        assert club.client.request(method, path, json=body, headers=reader).status_code == 403, path
