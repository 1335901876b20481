"""From simulated recordings to readiness and loads, through the app with its real analysis."""

from __future__ import annotations

import json

import pytest

import conftest
from barsim import EncoderKind, Lifter, simulate
from barwright.app import create_app
from barwright.workflows.analysis_job import run_job
from sample_formats import as_csv, columns_of
from training_days import DAY

RANA = Lifter("Rana", 1.62, 59.0, {"back_squat": 100.0})
UNITS = {"position": "m"}
ON = {"on": str(DAY)}


@pytest.fixture
def client(settings):
    app = create_app(settings, analyse=run_job)
    with conftest.TestClient(app) as client:
        service = conftest.Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        yield client


def squat(client, load_kg, seed, day, reps=3):
    """A set of squats on a string encoder; the simulator's truth beside the answer."""
    one = simulate("back_squat", seed=seed, device=None, encoder=EncoderKind(), reps=reps, load_kg=load_kg, lifter=RANA)
    meta = {
        "athlete": "Rana",
        "device": "string",
        "lift": "back_squat",
        "load_kg": load_kg,
        "started_at": f"{day}T17:00:00Z",
    }
    file = {"file": ("set.csv", as_csv(columns_of(one.recording, UNITS), UNITS))}
    answer = client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files=file)
    assert answer.status_code == 201, answer.text
    return answer.json(), [rep.measures["mean_velocity"] for rep in one.truth.reps]


def test_a_coachs_day(client):
    athlete = client.post("/v1/athletes", json={"name": "Rana", "birth_year": 1990}).json()["id"]
    for week, seed in ((1, 20), (8, 30), (15, 40)):
        for k, load in enumerate((50, 65, 80)):
            squat(client, load, seed + k, f"2026-02-{week:02d}")
    profile = client.get(f"/v1/athletes/{athlete}/profiles/back_squat", params=ON).json()
    assert (profile["days"], profile["loads"], profile["measure"]) == (3, 3, "mean_velocity")
    # the simulated lifter's maximum is 100 kg, with a velocity at it that is not the prior's
    predicted = profile["predicted_max"]
    assert predicted["value"] == pytest.approx(100, abs=3 * predicted["u"])
    assert predicted["u"] < 10

    client.post(f"/v1/athletes/{athlete}/plans", json={**ON, "sets": [
        {"lift": "back_squat", "percent": 75, "reps": 3, "velocity_loss": 15}]})  # fmt: skip
    (before,) = client.get(f"/v1/athletes/{athlete}/loads", params=ON).json()["sets"]
    assert before["load_kg"] == pytest.approx(75, abs=10)
    sets = [squat(client, load, 60 + load, str(DAY)) for load in (50, 65, 80)]
    ready = client.get(f"/v1/athletes/{athlete}/readiness", params=ON).json()
    assert ready["verdict"] == "usual", ready["reasons"]  # the simulator has no good or bad days
    assert ready["lifts"][0]["warm_up_sets"] == 3

    lift_set, truth = sets[2]
    told = client.get(f"/v1/sets/{lift_set['id']}/velocity_loss").json()
    true_loss = 100 * (max(truth) - truth[-1]) / max(truth)
    assert told["loss"]["value"] == pytest.approx(true_loss, abs=3 * told["loss"]["u"] + 0.5)
    assert (told["limit_percent"], told["limit_from"]) == (15, "plan")
    assert told["stop"] == (true_loss >= 15)
    below = max(true_loss / 2, 0.1)
    asked = client.get(f"/v1/sets/{lift_set['id']}/velocity_loss", params={"limit": below}).json()
    assert asked["limit_from"] == "asked"
    velocity = lift_set["reps"][0]["measures"]["mean_velocity"]["value"]
    zones = client.get(f"/v1/athletes/{athlete}/zones/back_squat", params={**ON, "velocity": velocity}).json()
    assert zones["zone"]["from_m_s"] <= velocity < (zones["zone"]["to_m_s"] or 9)
    # the athlete lifted 80 kg at that velocity
    assert zones["load"]["value"] == pytest.approx(80, abs=6)
