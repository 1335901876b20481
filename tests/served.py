"""The real service on a free port, in a thread of this process: what a client in memory cannot do is stream."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import uvicorn
from fastapi import FastAPI

from barwright.access.scopes import ALL_SCOPES, Scope
from barwright.app import create_app
from barwright.settings import Settings
from barwright.workflows.analysis_job import AnalysisJob, Outcome, run_job
from barwright.workflows.live_job import LiveJob, run_live_job
from barwright.workflows.manage_keys import issue_key
from barwright.workflows.parts import Parts, utc_now
from barwright_client import AsyncClient, Client, RetryPolicy

CLUB = "Quarry Lane Lifting Club"


@dataclass
class Served:
    """url: where it is. app: the app itself, to look into."""

    url: str
    app: FastAPI

    @property
    def parts(self) -> Parts:
        """What its workflows work with."""
        parts: Parts = self.app.state.parts
        return parts

    def key(self, *scopes: Scope, club: str = CLUB) -> str:
        """A fresh key, with every scope when none is named."""
        return issue_key(self.parts.database, club, frozenset(scopes) or ALL_SCOPES, utc_now())

    def client(self, *scopes: Scope, club: str = CLUB) -> Client:
        """A client that tries once."""
        return Client(self.url, self.key(*scopes, club=club), retry=RetryPolicy(most_tries=1))

    def async_client(self) -> AsyncClient:
        """The same for asyncio."""
        return AsyncClient(self.url, self.key(), retry=RetryPolicy(most_tries=1))


@contextmanager
def served(
    settings: Settings,
    port: int = 0,
    analyse: Callable[[AnalysisJob], Outcome] = run_job,
    look: Callable[[LiveJob], Any] | None = run_live_job,
) -> Iterator[Served]:
    """Serves until the block ends, then stops in order."""
    app = create_app(settings, analyse=analyse, look=look)
    with socket.create_server(("127.0.0.1", port)) as listening:
        config = uvicorn.Config(app, log_config=None, access_log=False, timeout_graceful_shutdown=3)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        try:
            yield Served(f"http://127.0.0.1:{listening.getsockname()[1]}", app)
        finally:
            app.state.parts.hub.close()
            server.should_exit = True
            thread.join()
