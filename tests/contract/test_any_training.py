"""Whatever is told of training, plans or the club: the service takes it, or says in the one shape why not. No 500."""

from __future__ import annotations

import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from contract.test_any_body import ANY, changed, check
from training_days import DAY

SLOW_IS_FINE = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
GOOD = {
    "maxima": {"lift": "snatch", "load_kg": 80, "on": str(DAY), "units": {"load": "kg"}},
    "plans": {"on": str(DAY), "sets": [{"lift": "snatch", "percent": 80, "reps": 2, "sets": 5}]},
    "decisions": {"kind": "lift_cap", "on": str(DAY), "lift": "snatch", "reason": "a test"},
}
LINES = st.dictionaries(
    st.sampled_from(["lift", "percent", "velocity", "zone", "reps", "sets", "velocity_loss"]), ANY, max_size=4
)


@SLOW_IS_FINE
@given(changes=ANY, line=LINES, route=st.sampled_from(sorted(GOOD)))
def test_any_json_about_an_athlete(service, changes, line, route):
    athlete = _athlete(service)
    told = changed(GOOD[route], changes)
    if route == "plans" and isinstance(told, dict):
        told = {**told, "sets": [{"lift": "snatch", "percent": 80, **line}]}
    check(service.client.post(f"/v1/athletes/{athlete}/{route}", content=json.dumps(told).encode(), headers=_JSON))
    check(service.client.get(f"/v1/athletes/{athlete}/loads", params={"on": str(DAY)}))


@SLOW_IS_FINE
@given(changes=ANY)
def test_any_json_about_the_club_and_about_a_set(service, changes):
    stream = service.stream()
    for path, good in (
        ("/v1/club", {"step_kg": 2.5, "plates": [{"kg": 5, "count": 4}]}),
        (f"/v1/sets/{stream['set_id']}", {"load_kg": 60}),
        (f"/v1/sets/{stream['set_id']}/reps/1", {"excluded": True}),
    ):
        body = json.dumps(changed(good, changes)).encode()
        check(service.client.patch(path, content=body, headers=_JSON))


@SLOW_IS_FINE
@given(
    cells=st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=12), min_size=3, max_size=5),
    header=st.sampled_from(["date,lift,load", "date,lift,load[[lb_av]],velocity", "load;date;lift;set", "\ufeffa,b"]),
    tail=st.binary(max_size=30),
)
def test_any_file_of_history(service, cells, header, tail):
    body = f"{header}\n{','.join(cells)}\n2026-02-01,snatch,70\n".encode() + tail
    athlete = _athlete(service)
    check(service.client.post(f"/v1/athletes/{athlete}/history", content=body, headers={"Content-Type": "text/csv"}))


@SLOW_IS_FINE
@given(text=st.text(st.characters(exclude_categories=["Cs"]), max_size=15))
def test_any_day_lift_and_figure(service, text):
    athlete = _athlete(service)
    for path, name in (
        ("readiness", "on"),
        ("readiness", "lift"),
        ("loads", "on"),
        ("zones/snatch", "velocity"),
        ("profiles/snatch", "on"),
        ("maxima", "lift"),
        ("history.csv", "lift"),
        ("decisions", "on"),
    ):
        check(service.client.get(f"/v1/athletes/{athlete}/{path}", params={name: text}))
    for name in ("load", "reps", "unit", "lift"):
        check(service.client.get("/v1/rep_max", params={"load": 100, "reps": 5, name: text}))


_JSON = {"Content-Type": "application/json"}


def _athlete(service):
    found = service.client.get("/v1/athletes").json()["items"]
    return found[0]["id"] if found else service.client.post("/v1/athletes", json={"name": "Imke"}).json()["id"]
