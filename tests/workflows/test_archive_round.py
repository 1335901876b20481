"""A whole archive analysed again: once each, whatever stops it, and with the same result as one by one."""

from __future__ import annotations

import shutil
import signal
import sqlite3
import subprocess
import sys
from collections import Counter
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

import stand_in
from barwright.__main__ import main
from barwright.analysis.reps.set_analysis import METHOD
from barwright.app import create_app
from barwright.ingest.limits import Limits
from barwright.settings import Settings
from barwright.storage.raw_objects import open_raw
from barwright.storage.rounds import DueSet, Round, due_sets
from barwright.storage.sessions import Database
from barwright.workflows.analyse_stored_set import analyse_in_round
from barwright.workflows.analysis_job import run_job
from barwright.workflows.archive_round import here, run_round
from barwright.workflows.parts import Parts
from conftest import Service, TestClient, imu_block, still_poses

pytestmark = pytest.mark.sqlite
SETS = 12
NEWER = Round("method-2", "stand-in-2")
RESULTS = {
    "lift_set": "id, state, revision, method, quality, notes, reason, reason_code, calibration_id",
    "rep": "set_id, `index`, outcome, start_s, stop_s, measures, phases, path_measures, notes, path",
    "effort": "set_id, athlete_id, lift, day, load_kg, made, missed, velocity, u, rep, reps",
    "point": "athlete_id, lift, day, load_kg, made, missed, velocity, u, among",
}


def analyse_newer(job):
    """What another revision of the method would find."""
    found = stand_in.outcome_of(job)
    return replace(found, method="stand-in-2", notes=("Newer.",)) if hasattr(found, "method") else found


def parts_of(settings, analyse=analyse_newer):
    return Parts(Database(settings.database_url), open_raw(settings.raw), Limits(), analyse)


def results_of(settings):
    with closing(sqlite3.connect(settings.data / "barwright.db")) as database:
        return {name: sorted(database.execute(f"SELECT {what} FROM {name}")) for name, what in RESULTS.items()}


@pytest.fixture
def archive(settings):
    """Sets of three athletes, one that cannot be analysed, one still open, and a calibration made afterwards."""
    app = create_app(settings, analyse=stand_in.outcome_of)
    with TestClient(app) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        for n in range(SETS - 1):
            service.closed_set(athlete=f"Lifter {n % 3}", load_kg=50 + n, started_at=f"2026-03-{n + 1:02}T17:30:00Z")
        few = service.stream()
        service.send(few["id"], imu_block(0, 5))
        client.post(f"/v1/streams/{few['id']}/close?wait=20")
        service.send(service.stream()["id"], imu_block(0))
        device = client.get("/v1/devices").json()["items"][0]["id"]
        assert client.post(f"/v1/devices/{device}/calibration", json=still_poses()).status_code == 201

    return settings


def test_the_results_are_those_of_one_by_one(archive, tmp_path):
    other = Settings.from_env({}, str(tmp_path / "one_by_one"))
    shutil.copytree(archive.data, other.data)
    app = create_app(other, analyse=analyse_newer)
    with TestClient(app) as client:
        client.headers.update(Service(client, other, app.state.parts).new_key())
        for one in client.get("/v1/sets?limit=100").json()["items"]:
            if one["state"] != "open":
                assert client.post(f"/v1/sets/{one['id']}/reanalyse?wait=20").json()["revision"] == 2
    parts = parts_of(archive)
    before = results_of(archive)
    counts = run_round(parts, NEWER, None, here(parts, NEWER, 2))
    parts.database.close()
    assert counts == {"analysed": SETS - 1, "unusable": 1}
    assert results_of(archive) == results_of(other)
    assert results_of(archive)["rep"] == before["rep"]  # the stand-in finds the same reps
    assert results_of(archive)["lift_set"] != before["lift_set"]


def test_a_second_round_finds_nothing_to_do(archive):
    parts = parts_of(archive)
    run_round(parts, NEWER, None, here(parts, NEWER, 1))
    after = results_of(archive)
    assert run_round(parts, NEWER, None, here(parts, NEWER, 1)) == {}
    assert results_of(archive) == after
    twice = here(parts, NEWER, 2)([DueSet(club_id_of(archive), one[0], "") for one in after["lift_set"]])
    assert {came for _, came in twice} == {"left"}
    parts.database.close()


def club_id_of(settings):
    with closing(sqlite3.connect(settings.data / "barwright.db")) as database:
        return database.execute("SELECT id FROM club").fetchone()[0]


KILLED = """
import os, signal, sys
from dataclasses import replace
from pathlib import Path
sys.path[:0] = {paths!r}
import stand_in
from barwright.ingest.limits import Limits
from barwright.storage.raw_folder import RawFolder
from barwright.storage.rounds import Round
from barwright.storage.sessions import Database
from barwright.workflows.archive_round import here, run_round
from barwright.workflows.parts import Parts
left = {after}
def until_killed(job):
    global left
    left -= 1
    if left < 0:
        os.kill(os.getpid(), signal.SIGKILL)
    found = stand_in.outcome_of(job)
    return replace(found, method="stand-in-2", notes=("Newer.",)) if hasattr(found, "method") else found
data = Path({data!r})
parts = Parts(Database(f"sqlite:///{{data / 'barwright.db'}}"), RawFolder(data / "raw"), Limits(), until_killed)
newer = Round("method-2", "stand-in-2")
run_round(parts, newer, None, here(parts, newer, 1))
"""


def test_killed_half_way_it_goes_on_and_does_nothing_twice(archive, tmp_path):
    other = Settings.from_env({}, str(tmp_path / "undisturbed"))
    shutil.copytree(archive.data, other.data)
    parts = parts_of(other)
    run_round(parts, NEWER, None, here(parts, NEWER, 1))
    parts.database.close()
    paths = [str(Path(__file__).parents[1]), *sys.path]
    told = KILLED.format(paths=paths, after=9, data=str(archive.data))
    assert subprocess.run([sys.executable, "-c", told], timeout=100).returncode == -signal.SIGKILL
    revisions = Counter(row[2] for row in results_of(archive)["lift_set"])
    assert revisions == {2: 9, 1: SETS - 9, 0: 1}
    parts = parts_of(archive)
    assert sum(run_round(parts, NEWER, None, here(parts, NEWER, 1)).values()) == SETS - 9
    parts.database.close()
    assert results_of(archive) == results_of(other)


def test_two_rounds_at_the_same_time_do_nothing_twice(archive):
    parts = parts_of(archive)
    with parts.database.reading() as session:
        due = due_sets(session, NEWER, None, "", 100)
    came = Counter(came for _, came in here(parts, NEWER, 6)(due * 3))
    parts.database.close()
    assert (came["analysed"], came["unusable"], came["left"]) == (SETS - 1, 1, 2 * SETS)
    assert {row[2] for row in results_of(archive)["lift_set"]} == {0, 2}


def test_a_set_whose_samples_cannot_be_read_keeps_its_results(archive):
    parts = parts_of(archive)
    before = results_of(archive)["rep"]
    parts.raw.delete([parts.raw.all()[0].name])
    counts = run_round(parts, NEWER, None, here(parts, NEWER, 1))
    parts.database.close()
    assert counts["damaged"] == 1
    assert results_of(archive)["rep"] == before


def test_the_command_with_the_real_analysis(archive, capsys):
    asked = ["reanalyse-all", "--data", str(archive.data)]
    assert main(asked) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"{SETS - 1} analysed, 1 unusable"
    assert main([*asked, "--round", "again", "--club", "No such club"]) == 0
    assert capsys.readouterr().out == "nothing is due\n"
    assert main([*asked, "--dask", "tcp://127.0.0.1:9"]) == 1
    assert "no scheduler of dask answers" in capsys.readouterr().err
    assert METHOD


def test_on_dask_the_same_comes_out(archive, tmp_path):
    """Workers as threads here; one that is killed is a matter of the bench, `archive`."""
    from dask.distributed import Client, LocalCluster

    from barwright.workflows.archive_on_dask import on_dask

    other = Settings.from_env({}, str(tmp_path / "here"))
    shutil.copytree(archive.data, other.data)
    real = Round("dask", None)
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        for settings in (archive, other):
            parts = parts_of(settings, run_job)
            work = (
                here(parts, real, 1)
                if settings is other
                else on_dask(client, settings.database_url, settings.raw, real)
            )
            assert sum(run_round(parts, real, None, work).values()) == SETS
            parts.database.close()
    assert results_of(archive) == results_of(other)
    assert {row[2] for row in results_of(archive)["lift_set"]} == {0, 2}


def test_a_set_of_another_round_is_due_again(archive):
    parts = parts_of(archive)
    (club,) = {club_id_of(archive)}
    run_round(parts, NEWER, None, here(parts, NEWER, 1))
    set_id = results_of(archive)["rep"][0][0]
    assert analyse_in_round(parts, club, set_id, NEWER) == "left"
    assert analyse_in_round(parts, club, set_id, Round("once more", None)) == "analysed"
    parts.database.close()
