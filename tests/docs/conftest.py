"""The real service with its real analysis, in memory."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from barwright.access.scopes import ALL_SCOPES
from barwright.app import create_app
from barwright.settings import Settings
from barwright.workflows.analysis_job import run_job
from barwright.workflows.manage_keys import issue_key
from barwright.workflows.parts import utc_now


@pytest.fixture
def real_service(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A client of the app; a key of the club with all scopes is in BARWRIGHT_KEY."""
    app = create_app(settings, analyse=run_job)
    with TestClient(app) as client:
        key = issue_key(app.state.parts.database, "Quarry Lane Lifting Club", ALL_SCOPES, utc_now())
        monkeypatch.setenv("BARWRIGHT_KEY", key)
        yield client
