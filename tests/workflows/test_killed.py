"""A worker that the system ends in the middle of an analysis."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

import stand_in
from barwright.app import create_app
from barwright.workflows.analyst import Analyst
from conftest import Service, TestClient

DEATHS = "TEST_DEATHS"  # names a file with the number of deaths still to come


def die_so_often(job):
    left = Path(os.environ[DEATHS])
    if int(left.read_text()):
        left.write_text(str(int(left.read_text()) - 1))
        os.kill(os.getpid(), signal.SIGKILL)
    return stand_in.outcome_of(job)


@pytest.fixture
def service(settings, tmp_path, monkeypatch):
    monkeypatch.setenv(DEATHS, str(tmp_path / "deaths"))
    analyst = Analyst(1, die_so_often)
    app = create_app(settings, analyse=analyst)
    with TestClient(app, raise_server_exceptions=False) as client:
        service = Service(client, settings, app.state.parts)
        client.headers.update(service.new_key())
        yield service
    analyst.close()


def test_it_is_done_again_once(service, tmp_path):
    (tmp_path / "deaths").write_text("1")
    lift_set = service.closed_set()
    assert (lift_set["state"], lift_set["revision"]) == ("analysed", 1)


def test_killed_twice_the_set_says_so_and_can_be_analysed_later(service, tmp_path, caplog):
    (tmp_path / "deaths").write_text("2")
    failed = service.closed_set()
    assert (failed["state"], failed["reason_code"]) == ("failed", "analysis-killed")
    assert "too little memory" in failed["reason"]
    assert failed["quality"]["samples"] == 100  # what came is known all the same
    assert "died, twice" in caplog.text
    service.stream()  # the service goes on
    again = service.client.post(f"/v1/sets/{failed['id']}/reanalyse?wait=30").json()
    assert (again["state"], again["reason"], again["revision"]) == ("analysed", None, 2)
    assert again["quality"]["samples"] == 100
