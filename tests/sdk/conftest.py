"""The real service in memory, and a key for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient

from barwright.access.scopes import ALL_SCOPES, Scope
from barwright.app import create_app
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from barwright.storage.sessions import Database
from barwright.workflows.analysis_job import AnalysisJob, Outcome, run_job
from barwright.workflows.manage_keys import issue_key
from barwright.workflows.parts import utc_now
from barwright_client import Client, RetryPolicy

CLUB = "Quarry Lane Lifting Club"


@dataclass(frozen=True)
class RealService:
    """http reaches the app in memory; new_key makes keys of the club."""

    http: httpx.Client
    new_key: Callable[..., str]

    def client(self, *scopes: Scope) -> Client:
        """A client with all scopes, or with these."""
        return Client("http://testserver", self.new_key(*scopes), http=self.http, retry=RetryPolicy(most_tries=1))


@pytest.fixture
def start_service(tmp_path: Path) -> Iterator[Callable[[Callable[[AnalysisJob], Outcome]], RealService]]:
    """Starts the app on a fresh database with an analysis of the test's choice, run in this process."""
    with ExitStack() as running:

        def start(analyse: Callable[[AnalysisJob], Outcome] = run_job) -> RealService:
            settings = Settings.from_env({}, data=str(tmp_path))
            migrate(settings.database_url)
            database = Database(settings.database_url)

            def new_key(*scopes: Scope) -> str:
                return issue_key(database, CLUB, frozenset(scopes) or ALL_SCOPES, utc_now())

            running.callback(database.close)
            return RealService(running.enter_context(TestClient(create_app(settings, analyse=analyse))), new_key)

        yield start
