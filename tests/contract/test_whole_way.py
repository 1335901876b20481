"""From a simulated recording to figures, through a real service with its real analysis."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from contract.servers import Server, run

SAMPLES = Path(__file__).parents[2] / "sample_streams"


def told(name):
    return json.loads((SAMPLES / f"{name}.truth.json").read_text())


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    data = tmp_path_factory.mktemp("data")
    key = run("new-key", "--data", data, "--club", "Quarry Lane Lifting Club").stdout.strip()
    server = Server(data)
    with server.client(key) as client:
        yield client
    assert server.stop() == 0


def record(client, file, meta):
    files = {"file": (file.name, file.read_bytes())}
    answer = client.post("/v1/recordings", data={"meta": json.dumps(meta)}, files=files)
    assert answer.status_code == 201, answer.text
    return answer.json()


@pytest.mark.parametrize("name", ["imke_snatch_55.csv", "rana_back_squat_80.parquet", "tomas_deadlift_150_imu.cbor"])
def test_peak_velocities_agree_with_the_truth_of_the_simulation(client, name):
    truth = told(name.partition(".")[0])
    lift_set = record(client, SAMPLES / name, truth["meta"])
    assert lift_set["state"] == "analysed", lift_set["reason"]
    true_peaks = [rep["measures"]["peak_velocity"] for rep in truth["reps"]]
    found = [rep["measures"]["peak_velocity"] for rep in lift_set["reps"]]
    assert len(found) == len(true_peaks)
    for figure, true in zip(found, true_peaks, strict=True):
        assert figure["unit"] == "m/s"
        assert figure["value"] == pytest.approx(true, abs=0.03)


def test_blocks_and_a_file_of_the_same_samples_give_the_same_reps(client):
    name = "imke_snatch_60_blocks"
    meta = told(name)["meta"]
    whole = record(client, SAMPLES / f"{name}.json", meta)
    blocks = json.loads((SAMPLES / f"{name}.json").read_text())["blocks"]
    stream = client.post("/v1/streams", json=meta).json()
    for block in blocks[::2] + blocks[1::2]:
        answer = client.post(f"/v1/streams/{stream['id']}/blocks", json=block)
        assert answer.status_code == 200, answer.text
    closed = client.post(f"/v1/streams/{stream['id']}/close?wait=60").json()
    assert (closed["state"], closed["missing"]) == ("analysed", [])
    assert client.get(f"/v1/sets/{closed['set_id']}").json()["reps"] == whole["reps"]


def test_the_command_line_says_the_same_in_the_same_shape(client):
    meta = told("imke_snatch_55")["meta"]
    lift_set = record(client, SAMPLES / "imke_snatch_55.csv", meta)
    asked = ["--lift", meta["lift"], "--load-kg", meta["load_kg"], f"--bar-axis={meta['bar_axis']}", "--json"]
    done = run("analyse", SAMPLES / "imke_snatch_55.csv", *asked)
    assert done.returncode == 0, done.stderr
    printed = json.loads(done.stdout)
    of_a_stream = {"id", "stream_id", "athlete_id", "athlete", "device_id", "started_at", "analysed_at"}
    assert list(printed) == list(lift_set)
    assert {name for name in printed if printed[name] != lift_set[name]} <= of_a_stream
    assert {printed[name] for name in of_a_stream} == {None}


def test_the_table_for_people_has_one_line_per_rep(client):
    done = run("analyse", SAMPLES / "tomas_deadlift_150_string.csv", "--lift", "deadlift")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].split()[:2] == ["rep", "outcome"]
    assert sum("made" in line for line in lines) == len(told("tomas_deadlift_150_string")["reps"])
    assert "±" in lines[1]


def test_analysing_again_gives_the_same_figures(client):
    lift_set = record(client, SAMPLES / "imke_snatch_55.csv", told("imke_snatch_55")["meta"])
    again = client.post(f"/v1/sets/{lift_set['id']}/reanalyse?wait=60").json()
    assert again["revision"] == 2
    assert again["reps"] == lift_set["reps"]
