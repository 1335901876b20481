"""Services, workers and the database are killed while sets come in: nothing that was acknowledged is lost."""

from __future__ import annotations

import tempfile
import threading
from pathlib import Path

import pytest

from barwright.app import create_app
from barwright.workflows.analysis_job import run_job
from chaos import Chaos, recordings, undisturbed
from conftest import Service, TestClient
from postgres import postgres

SETS = 10


@pytest.fixture
def expected(settings):
    """What an undisturbed service makes of the recordings."""
    with TestClient(create_app(settings, analyse=run_job)) as client:
        service = Service(client, settings, client.app.state.parts)
        client.headers.update(service.new_key())
        yield undisturbed(service, recordings(2))


def test_nothing_is_lost_and_every_set_is_analysed_once(expected, tmp_path):
    def each_once(chaos: Chaos, over: threading.Event) -> None:
        for kind in ("worker", "database", "service"):
            if not over.wait(0.4):
                chaos.kill_one(kind, 0.1)

    with postgres(Path(tempfile.mkdtemp()) / "data") as server:
        chaos = Chaos(server, server.create("chaos"), tmp_path, seed=1, services=1, workers=1)
        try:
            after = chaos.run(SETS, recordings(2), expected, each_once)
        finally:
            chaos.close()
    assert (after.sets, after.lost, after.different) == (SETS, 0, 0)
    assert after.revisions == {1: SETS}
    assert after.kills == {"worker": 1, "database": 1, "service": 1}
    assert after.tries_again > 0
