"""Readiness, profiles and zones, from what has been recorded and told."""

from __future__ import annotations

import pytest

from training_days import DAY, WARM_UPS, history, import_history, problem, record, warm_up

ON = {"on": str(DAY)}


@pytest.fixture
def imke(service):
    """Thirty days of history around a maximum of 100 kg."""
    athlete = service.client.post("/v1/athletes", json={"name": "Imke", "birth_year": 1990}).json()["id"]
    assert import_history(service.client, athlete, history(30)).status_code == 201
    return athlete


def readiness(service, athlete, **more):
    answer = service.client.get(f"/v1/athletes/{athlete}/readiness", params={**ON, **more})
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_before_the_first_warm_up_nothing_is_said_of_today(service, imke):
    told = readiness(service, imke)
    assert (told["verdict"], told["lift"], told["on"], told["athlete"]) == (
        "not_enough_data",
        "snatch",
        str(DAY),
        "Imke",
    )
    assert told["change"]["value"] is None
    assert "no warm-up set" in told["change"]["reason"]
    assert told["probability"] is None
    # the usual maximum is known all the same; the history was made with 100 kg
    assert told["usual_max"]["value"] == pytest.approx(100, rel=0.08)
    assert told["day_max"]["u"] > told["usual_max"]["u"]
    assert "not an instruction" in told["caution"]


@pytest.mark.parametrize(("strength", "verdict"), [(1.1, "up"), (1.0, "usual"), (0.9, "down")])
def test_warm_ups_that_were_recorded_count_at_once(service, imke, strength, verdict):
    readiness(service, imke)  # what was worked out before must not stand in the way
    warm_up(service.client, "Imke", strength)
    told = readiness(service, imke)
    assert told["verdict"] == verdict, told["reasons"]
    (lift,) = told["lifts"]
    assert lift["warm_up_sets"] == 3
    assert {name: lift[name] for name in ("verdict", "change", "probability", "day_max", "reasons")} == {
        name: told[name] for name in ("verdict", "change", "probability", "day_max", "reasons")
    }
    assert lift["interval_95"]["from_kg"] < lift["interval_50"]["from_kg"] < told["day_max"]["value"]
    if verdict != "usual":
        assert told["probability"] > 0.75
        assert (told["change"]["value"] > 0) == (verdict == "up")
        # the day was made 10 % stronger or weaker; the change is known to a few per cent
        assert told["change"]["value"] == pytest.approx(100 * (strength - 1), abs=3 * told["change"]["u"] + 1)


def test_a_stream_that_is_closed_counts_too(service, imke):
    before = readiness(service, imke)["lifts"][0]["warm_up_sets"]
    service.closed_set(athlete="Imke", lift="snatch", load_kg=60, started_at=f"{DAY}T18:00:00Z")
    assert (before, readiness(service, imke)["lifts"][0]["warm_up_sets"]) == (0, 1)


def test_a_day_is_seen_from_the_days_before_it_only(service, imke):
    later = record(service.client, "Imke", 75, 2.4, "2026-03-05T10:00:00Z")
    warm_up(service.client, "Imke", 0.9)
    now = readiness(service, imke)
    service.client.patch(f"/v1/sets/{later['id']}/reps/1", json={"excluded": True, "reason": "sensor slipped"})
    assert readiness(service, imke) == now


def test_an_athlete_without_anything(service):
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    told = readiness(service, athlete)
    assert (told["verdict"], told["lift"], told["lifts"]) == ("not_enough_data", None, [])
    assert told["reasons"]
    assert told["day_max"]["reason"]
    one = readiness(service, athlete, lift="snatch")
    assert [lift["verdict"] for lift in one["lifts"]] == ["not_enough_data"]
    assert "nothing is known" in one["reasons"][0]


def test_a_first_day_has_a_wide_honest_maximum_and_no_verdict(service):
    warm_up(service.client, "Rana")
    athlete = service.client.get("/v1/athletes").json()["items"][0]["id"]
    told = readiness(service, athlete)
    assert told["verdict"] == "not_enough_data"
    interval = told["lifts"][0]["interval_95"]
    assert interval["from_kg"] < 100 < interval["to_kg"]
    assert interval["to_kg"] - interval["from_kg"] > 10


def test_the_whole_club_in_order_of_name(service, imke):
    warm_up(service.client, "Imke", 0.9)
    service.client.post("/v1/athletes", json={"name": "Bram"})
    club = service.client.get("/v1/readiness", params=ON).json()
    assert [(one["athlete"], one["verdict"]) for one in club["items"]] == [
        ("Bram", "not_enough_data"),
        ("Imke", "down"),
    ]
    assert club["items"][1] == readiness(service, imke)
    assert (club["on"], club["next"]) == (str(DAY), None)
    assert "not an instruction" in club["caution"]
    assert service.client.get("/v1/readiness", headers=service.new_key(club="Another club")).json()["items"] == []


def test_the_day_is_that_of_the_clubs_clock(service, imke):
    """23:30 in Vienna is the same day there, 22:30 UTC; 00:30 is the next day there and still the same day in UTC."""
    assert service.client.patch("/v1/club", json={"time_zone": "Europe/Vienna"}).status_code == 200
    record(service.client, "Imke", 55, 2.2, f"{DAY}T22:30:00Z")
    record(service.client, "Imke", 65, 2.1, f"{DAY}T23:30:00Z")
    assert readiness(service, imke)["lifts"][0]["warm_up_sets"] == 1
    service.client.patch("/v1/club", json={"time_zone": "UTC"})
    assert readiness(service, imke)["lifts"][0]["warm_up_sets"] == 2


def test_the_coach_says_which_change_matters(service, imke):
    warm_up(service.client, "Imke", 0.94)
    assert readiness(service, imke)["lifts"][0]["smallest_change_percent"] == 2.0
    service.client.patch("/v1/club", json={"smallest_change_percent": 15})
    told = readiness(service, imke)
    assert told["lifts"][0]["smallest_change_percent"] == 15
    assert told["verdict"] == "usual"


@pytest.mark.parametrize(
    ("on", "code", "words"),
    [
        ("2999-01-01", "in-the-future", "today is"),
        ("1900-01-01", "not-plausible", "1950"),
        ("soon", "request-invalid", "a day such as 2026-03-01"),
        ("2026-02-30", "request-invalid", "not a day that exists"),
    ],
)
def test_a_day_that_cannot_be_asked_for(service, on, code, words):
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    for path in ("readiness", "loads", "profiles/snatch", "zones/snatch"):
        answer = service.client.get(f"/v1/athletes/{athlete}/{path}", params={"on": on})
        assert problem(answer) == (422, code, ["on"]), path
        assert words in answer.json()["detail"]
    assert problem(service.client.get("/v1/readiness", params={"on": on})) == (422, code, ["on"])


def test_a_lift_that_is_not_known(service, imke):
    for path in ("profiles/bicycle", "zones/bicycle", "readiness?lift=bicycle"):
        assert problem(service.client.get(f"/v1/athletes/{imke}/{path}")) == (422, "unknown-lift", ["lift"]), path


def test_a_profile_tells_where_its_points_come_from(service, imke):
    sets = warm_up(service.client, "Imke")
    profile = service.client.get(f"/v1/athletes/{imke}/profiles/snatch", params=ON).json()
    today = [point for point in profile["points"] if point["on"] == str(DAY)]
    assert [(p["set_id"], p["rep"], p["load_kg"]) for p in today] == [
        (s["id"], 1, round(100 * share)) for s, share in zip(sets, WARM_UPS, strict=True)
    ]
    assert all(p["set_id"] is None for p in profile["points"] if p["on"] < str(DAY))
    assert profile["measure"] == "peak_velocity"
    assert "memory" in profile["prior"] or "20" in profile["prior"]
    yesterday = service.client.get(f"/v1/athletes/{imke}/profiles/snatch", params={"on": "2026-02-28"}).json()
    assert (profile["days"], yesterday["days"]) == (31, 30)


def test_a_profile_of_nothing_says_so(service, imke):
    profile = service.client.get(f"/v1/athletes/{imke}/profiles/press").json()
    assert (profile["line"], profile["days"], profile["points"]) == (None, 0, [])
    assert profile["predicted_max"]["value"] is None
    assert profile["reason"]
    assert "not an instruction" in profile["caution"]


def squats(service):
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    rows = ["date,lift,load,velocity,velocity_u"]
    for day in range(1, 21):
        rows += [
            f"2026-02-{day:02d},back_squat,{load},{0.32 + 1.5 * (1 - load / 100):.3f},0.02" for load in (50, 65, 80)
        ]
    assert import_history(service.client, athlete, "\n".join(rows)).status_code == 201
    return athlete


def test_zones_of_a_slow_lift_are_the_published_ones_in_kilograms_of_this_athlete(service):
    rana = squats(service)
    told = service.client.get(f"/v1/athletes/{rana}/zones/back_squat", params={**ON, "velocity": 0.8}).json()
    # Mann, Ivey and Sayers 2015, ranges from memory
    assert [(z["name"], z["from_m_s"], z["to_m_s"]) for z in told["zones"]] == [
        ("absolute strength", 0.0, 0.5),
        ("accelerative strength", 0.5, 0.75),
        ("strength-speed", 0.75, 1.0),
        ("speed-strength", 1.0, 1.3),
        ("starting strength", 1.3, None),
    ]
    assert told["zone"]["code"] == "strength_speed"
    # on the line the history was made with, 0.8 m/s is 100 (1 - 0.48 / 1.5) = 68 kg, 68 %
    assert told["load"]["value"] == pytest.approx(68, abs=2)
    assert told["percent"]["value"] == pytest.approx(68, abs=3)
    assert told["zone"]["from_kg"] < 68 < told["zone"]["to_kg"]
    assert told["own_zone"] in told["own_zones"]
    assert told["measure"] == "mean_velocity"


def test_zones_of_a_ballistic_lift_are_the_athletes_own(service, imke):
    told = service.client.get(f"/v1/athletes/{imke}/zones/snatch", params=ON).json()
    assert told["zones"] == told["own_zones"]
    assert (told["velocity"], told["zone"], told["percent"], told["load"]) == (None, None, None, None)


def test_zones_of_the_clubs_own(service):
    rana = squats(service)
    zones = [{"name": "Slow", "from_m_s": 0, "to_m_s": 0.6}, {"name": "Fast", "from_m_s": 0.6}]
    assert service.client.patch("/v1/club", json={"zones": zones}).status_code == 200
    told = service.client.get(f"/v1/athletes/{rana}/zones/back_squat", params={**ON, "velocity": 0.8}).json()
    assert [zone["code"] for zone in told["zones"]] == ["slow", "fast"]
    assert told["zone"]["name"] == "Fast"
    assert told["zone"]["to_m_s"] is None


def test_zones_without_any_data_are_in_metres_a_second_only(service):
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    told = service.client.get(f"/v1/athletes/{athlete}/zones/back_squat", params={"velocity": 0.4}).json()
    assert told["zone"]["name"] == "absolute strength"
    assert {zone["from_kg"] for zone in told["zones"]} == {None}
    assert told["load"]["value"] is None
    assert told["load"]["reason"]


def test_a_velocity_no_bar_has(service):
    athlete = service.client.post("/v1/athletes", json={"name": "Rana"}).json()["id"]
    for velocity in ("6.1", "0", "-1", "nan", "fast"):
        answer = service.client.get(f"/v1/athletes/{athlete}/zones/snatch", params={"velocity": velocity})
        assert problem(answer) == (422, "request-invalid", ["velocity"]), velocity


def test_velocity_loss_needs_two_reps_and_says_so(service):
    lift_set = record(service.client, "Imke", 70, 2.0)
    told = service.client.get(f"/v1/sets/{lift_set['id']}/velocity_loss").json()
    assert (told["loss"]["value"], told["stop"], told["limit_percent"], told["limit_from"]) == (None, None, None, None)
    assert "two reps" in told["words"]
    assert [rep["index"] for rep in told["reps"]] == [1]
    for limit in ("0", "100", "-5", "many"):
        answer = service.client.get(f"/v1/sets/{lift_set['id']}/velocity_loss", params={"limit": limit})
        assert problem(answer) == (422, "request-invalid", ["limit"])
    assert problem(service.client.get("/v1/sets/set_none/velocity_loss"))[:2] == (404, "not-found")
