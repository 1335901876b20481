"""The worker: analyses what services on the same PostgreSQL ask for; has no HTTP."""

from __future__ import annotations

import logging
import signal
import time
from collections.abc import Callable

from barwright.ingest.limits import Limits
from barwright.log_lines import write_log
from barwright.settings import Settings
from barwright.storage.jobs import ask_for_forgotten, try_again_what_failed
from barwright.storage.migrate import check_migrated
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.storage.sets import SetStore
from barwright.storage.worker import Pace, Worker
from barwright.workflows.analyse_stored_set import analyse_stored_set
from barwright.workflows.analysis_job import AnalysisJob, Outcome
from barwright.workflows.analyst import Analyst
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)

_PATIENCE_S = 300.0  # so long a set that is in hand waits for the database to come back


def work(settings: Settings) -> None:
    """Works until it is told to stop. Raises OSError when the database cannot be used."""
    write_log(settings.log)
    for talkative in ("procrastinate", "alembic"):
        logging.getLogger(talkative).setLevel(logging.WARNING)
    check_migrated(settings.database_url)
    analyst = Analyst(settings.workers)
    for warm in analyst.warm():
        warm.result()
    joined = JoinedWorker(settings, analyst)
    for stop in (signal.SIGTERM, signal.SIGINT):
        signal.signal(stop, lambda *_: joined.worker.stop())
    try:
        joined.worker.run(lambda: log.info("working with %d process(es)", settings.workers))
    finally:
        joined.close()
        analyst.close()


class JoinedWorker:
    """A worker with its parts. analyse: does one analysis and waits for it."""

    def __init__(self, settings: Settings, analyse: Callable[[AnalysisJob], Outcome], pace: Pace | None = None) -> None:
        self._database = Database(settings.database_url)
        self._parts = Parts(self._database, open_raw(settings.raw), Limits(), analyse)
        self._started = False
        self.worker = Worker(settings.database_url, self._analyse, self._upkeep, settings.workers, pace)

    def close(self) -> None:
        """Gives back the connections."""
        self._database.close()

    def _analyse(self, club_id: str, set_id: str) -> None:
        give_up_at = time.monotonic() + _PATIENCE_S
        while True:
            try:
                self._analyse_if_due(club_id, set_id)
                return
            except StorageUnavailableError as error:
                if time.monotonic() > give_up_at:
                    raise
                log.warning("set %s waits: %s", set_id, error)
                time.sleep(1.0)

    def _analyse_if_due(self, club_id: str, set_id: str) -> None:
        """A job whose worker died after the last commit is taken up once more, and finds nothing to do."""
        with self._database.reading() as session:
            due = SetStore(session, club_id).state(set_id) == "analysing"
        if due:
            analyse_stored_set(self._parts, club_id, set_id)

    def _upkeep(self) -> None:
        try:
            with self._database.writing() as session:
                if not self._started:
                    try_again_what_failed(session)
                found = ask_for_forgotten(session)
        except StorageUnavailableError as error:
            log.warning("what is due could not be looked for: %s", error)
            return
        self._started = True
        if found:
            log.info("%d set(s) were due and nobody was asked", found)
