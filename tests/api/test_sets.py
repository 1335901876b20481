"""Sets, reps and paths."""

from __future__ import annotations

import csv
import io

import cbor2
import numpy as np
import pytest

from barwright.ingest.typed_arrays import array_of_tag
from conftest import imu_block
from stand_in import BUGGY_LIFT


def test_a_set_answers_figures_with_uncertainty_or_a_reason(service):
    lift_set = service.closed_set()
    assert (lift_set["state"], lift_set["revision"], lift_set["method"]) == ("analysed", 1, "stand-in-1")
    assert (lift_set["athlete"], lift_set["lift"], lift_set["load_kg"]) == ("Imke", "snatch", 60)
    assert lift_set["started_at"] == "2026-03-01T17:30:00Z"
    assert lift_set["notes"] == ["A stand-in."]
    assert lift_set["quality"]["verdict"] == "good"
    assert lift_set["quality"]["rests"] == [[0.0, 0.5]]
    (rep,) = lift_set["reps"]
    # 0.49 [g] is the largest number sent; standard gravity is 9.80665 m/s2 (3rd CGPM, 1901)
    assert rep["measures"]["peak_velocity"] == {"value": pytest.approx(0.49 * 9.80665), "u": 0.01, "unit": "m/s"}
    assert rep["measures"]["drop_to_catch"] == {
        "value": None,
        "u": None,
        "unit": "m",
        "reason": "this lift is not caught",
    }
    bounds = {"start_s": 0.1, "stop_s": 0.6, "start_u_s": None, "stop_u_s": None}
    assert rep["phases"] == [{"phase": "first_pull", "sure": 0.9, **bounds}]
    assert (rep["index"], rep["outcome"], rep["notes"]) == (1, "made", [])
    assert rep["path_measures"]["x_most"]["value"] == -0.1


def test_sets_are_found_by_athlete_lift_and_time(service):
    for athlete, lift, day in [("Imke", "snatch", 1), ("Imke", "clean", 2), ("Rana", "snatch", 3)]:
        service.closed_set(1, athlete=athlete, lift=lift, started_at=f"2026-03-0{day}T17:30:00Z")

    def found(**asked):
        answer = service.client.get("/v1/sets", params=asked)
        assert answer.status_code == 200, answer.text
        return [(one["athlete"], one["lift"]) for one in answer.json()["items"]]

    imke = service.client.get("/v1/athletes").json()["items"][0]["id"]
    assert found() == [("Rana", "snatch"), ("Imke", "clean"), ("Imke", "snatch")]
    assert found(athlete_id=imke) == [("Imke", "clean"), ("Imke", "snatch")]
    assert found(athlete_id=imke, lift="clean") == [("Imke", "clean")]
    assert found(**{"from": "2026-03-02T17:30:00Z"}) == [("Rana", "snatch"), ("Imke", "clean")]
    assert found(to="2026-03-02T17:30:00Z") == [("Imke", "snatch")]
    assert found(**{"from": "2026-03-02", "to": "2026-03-03"}) == [("Imke", "clean")]
    assert found(**{"from": "2026-03-03T18:30:00+01:00"}) == [("Rana", "snatch")]
    plus_as_space = service.client.get("/v1/sets?from=2026-03-03T18:30:00+01:00").json()["items"]
    assert len(plus_as_space) == 1
    assert found(athlete_id="ath_none") == []


def test_sets_come_page_by_page_even_when_many_began_at_once(service):
    made = {service.closed_set(1)["id"] for _ in range(5)}
    seen, url = [], "/v1/sets?limit=2"
    while url:
        answer = service.client.get(url)
        seen += [one["id"] for one in answer.json()["items"]]
        url = answer.links.get("next", {}).get("url")
    assert len(seen) == 5
    assert set(seen) == made


@pytest.mark.parametrize("cursor", ["x", "!!!", "W10", "WzFd", "bnVsbA", "WyJ4IiwgInkiXQ", "é"])
@pytest.mark.parametrize("route", ["/v1/sets", "/v1/streams", "/v1/athletes", "/v1/devices"])
def test_a_cursor_that_is_none_is_refused(service, route, cursor):
    answer = service.client.get(route, params={"cursor": cursor})
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


def test_a_path_as_json_cbor_and_csv(service):
    url = f"/v1/sets/{service.closed_set()['id']}/reps/1/path"
    names = ["t_s", "x_m", "z_m", "vx", "vz", "az", "u_x", "u_z", "u_vz"]
    plain = service.client.get(url)
    assert plain.headers["content-type"] == "application/json"
    columns = plain.json()
    assert columns["index"] == 1
    assert {name: len(columns[name]) for name in names} == dict.fromkeys(names, 100)
    assert columns["units"]["az"] == "m/s2"
    assert columns["forward_known"] is False  # the stand-in never tells

    packed = service.client.get(url, headers={"Accept": "application/cbor"})
    assert packed.headers["content-type"] == "application/cbor"
    typed = cbor2.loads(packed.content, tag_hook=lambda tag, _=None: array_of_tag(tag.tag, tag.value))
    table = service.client.get(url, headers={"Accept": "text/csv"})
    assert table.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(table.text)))
    for name in names:
        assert np.array_equal(typed[name], columns[name])
        assert [float(row[name]) for row in rows] == columns[name]


def test_a_path_without_forward_motion_never_invents_it(service):
    stream = service.stream(device="string 1", units={"position": "mm"})["id"]
    block = {"boot": "a", "seq": 0, "t0_us": 0, "dt_us": 10_000, "channels": {"position": [1.0] * 30}}
    service.send(stream, block)
    set_id = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()["set_id"]
    url = f"/v1/sets/{set_id}/reps/1/path"
    columns = service.client.get(url).json()
    assert columns["x_m"] is columns["vx"] is columns["u_x"] is None
    assert columns["reason"]
    row = next(csv.DictReader(io.StringIO(service.client.get(url, headers={"Accept": "text/csv"}).text)))
    assert row["x_m"] == ""
    assert row["z_m"] != ""


@pytest.mark.parametrize(
    ("accept", "given"),
    [
        ("*/*", "application/json"),
        ("text/*", "text/csv"),
        ("text/html, application/cbor;q=0.5, text/csv;q=0.7", "text/csv"),
        ("application/json;q=0, */*", "application/cbor"),
        ("text/html", None),
        ("application/json;q=0", None),
    ],
)
def test_the_format_follows_accept(service, accept, given):
    answer = service.client.get(f"/v1/sets/{service.closed_set()['id']}/reps/1/path", headers={"Accept": accept})
    if given is None:
        assert (answer.status_code, answer.json()["code"]) == (406, "not-acceptable")
    else:
        assert answer.headers["content-type"].startswith(given)


def test_a_rep_that_is_not_there(service):
    set_id = service.closed_set()["id"]
    for index, status in (("0", 404), ("2", 404), ("-1", 422), ("one", 422), (str(10**30), 422)):
        assert service.client.get(f"/v1/sets/{set_id}/reps/{index}/path").status_code == status


def test_analysing_again_raises_the_revision_and_nothing_else(service):
    before = service.closed_set()
    path_before = service.client.get(f"/v1/sets/{before['id']}/reps/1/path").content
    after = service.client.post(f"/v1/sets/{before['id']}/reanalyse?wait=20").json()
    assert after["revision"] == 2
    passing = ("revision", "analysed_at")
    assert {k: v for k, v in after.items() if k not in passing} == {k: v for k, v in before.items() if k not in passing}
    assert service.client.get(f"/v1/sets/{before['id']}/reps/1/path").content == path_before


def test_an_open_set_cannot_be_analysed_again(service):
    answer = service.client.post(f"/v1/sets/{service.stream()['set_id']}/reanalyse")
    assert (answer.status_code, answer.json()["code"]) == (409, "set-open")


def test_unusable_samples_fail_the_set_with_a_reason_and_are_kept(service):
    stream = service.stream()["id"]
    service.send(stream, imu_block(0, count=10))
    set_id = service.client.post(f"/v1/streams/{stream}/close?wait=20").json()["set_id"]
    failed = service.client.get(f"/v1/sets/{set_id}").json()
    assert (failed["state"], failed["reason_code"], failed["revision"]) == ("failed", "too-few-samples", 1)
    assert failed["reason"] == failed["quality"]["words"][0] == "There are 10 samples; 20 are needed."
    assert failed["quality"]["verdict"] == "unusable"
    assert failed["reps"] == []
    service.send(stream, imu_block(1, count=50))
    mended = service.client.post(f"/v1/sets/{set_id}/reanalyse?wait=20").json()
    assert (mended["state"], mended["reason"]) == ("analysed", None)
    assert mended["quality"]["samples"] == 60


def test_a_bug_in_the_analysis_costs_one_set(service):
    failed = service.closed_set(lift=BUGGY_LIFT)
    assert (failed["state"], failed["reason_code"]) == ("failed", "analysis-broken")
    assert "ZeroDivision" not in failed["reason"]
    assert service.closed_set()["state"] == "analysed"


def test_a_filter_that_is_empty_asks_for_all_and_a_misspelt_lift_is_told(service):
    service.closed_set()
    assert len(service.client.get("/v1/sets?athlete_id=&lift=&from=&to=").json()["items"]) == 1
    answer = service.client.get("/v1/sets?lift=Power%20Snach")
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown-lift")
    assert "'power_snatch' meant?" in answer.json()["detail"]
    assert answer.json()["errors"][0]["pointer"] == "lift"
