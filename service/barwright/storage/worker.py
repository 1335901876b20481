"""Takes jobs from the queue of analyses, and gives back to it what workers that died had taken."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from procrastinate import App, PsycopgConnector
from procrastinate.exceptions import ConnectorException
from procrastinate.jobs import Status
from psycopg_pool import PoolTimeout

from barwright.storage.engine import libpq_url
from barwright.storage.jobs import QUEUE, TASK

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds. A worker that gave no sign for stalled_s is taken for dead, and its sets are analysed by others."""

    heartbeat_s: float = 3.0
    stalled_s: float = 15.0
    upkeep_s: float = 3.0
    poll_s: float = 2.0
    pause_s: float = 1.0  # before another try when the database is away


class Worker:
    """Runs run(club_id, set_id) in threads, `at_once` of them, until stop(). upkeep() asks for what is due and lost."""

    def __init__(
        self,
        database_url: str,
        run: Callable[[str, str], None],
        upkeep: Callable[[], Any],
        at_once: int,
        pace: Pace | None = None,
    ) -> None:
        self._url = libpq_url(database_url)
        self._run_one = run
        self._upkeep = upkeep
        self._at_once = at_once
        self._pace = pace or Pace()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stopping: asyncio.Event | None = None

    def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Works until stop() is called; a database that goes away is waited for. ready: called once at work."""
        asyncio.run(self._work(ready))

    def stop(self) -> None:
        """Takes no more jobs; run() returns once the present ones are done. From any thread or signal."""
        if self._loop is not None and self._stopping is not None:
            self._loop.call_soon_threadsafe(self._stopping.set)

    async def _work(self, ready: Callable[[], None]) -> None:
        self._loop, self._stopping = asyncio.get_running_loop(), asyncio.Event()
        first = True
        while not self._stopping.is_set():
            try:
                app = self._app()
                async with app.open_async():
                    if first:
                        ready()
                    first = False
                    await self._take_jobs(app, self._stopping)
            except (ConnectorException, PoolTimeout) as error:
                log.warning("the database is away: %s", error.__cause__ or error)
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._stopping.wait(), self._pace.pause_s)

    def _app(self) -> App:
        connector = PsycopgConnector(conninfo=self._url, min_size=1, max_size=self._at_once + 2, timeout=5.0)
        app = App(connector=connector)
        run = self._run_one

        @app.task(name=TASK, queue=QUEUE)
        def analyse_set(club_id: str, set_id: str) -> None:
            run(club_id, set_id)

        return app

    async def _take_jobs(self, app: App, stopping: asyncio.Event) -> None:
        pace = self._pace
        tasks = [
            asyncio.create_task(one)
            for one in (
                app.run_worker_async(
                    queues=[QUEUE],
                    concurrency=self._at_once,
                    install_signal_handlers=False,
                    delete_jobs="successful",
                    fetch_job_polling_interval=pace.poll_s,
                    update_heartbeat_interval=pace.heartbeat_s,
                    stalled_worker_timeout=pace.stalled_s,
                ),
                self._keep_up(app),
                stopping.wait(),
            )
        ]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _keep_up(self, app: App) -> None:
        """Every few seconds: jobs of the dead are dropped, and whatever is due without a job gets one."""
        jobs, pace = app.job_manager, self._pace
        while True:
            for job in await jobs.get_stalled_jobs(queue=QUEUE, seconds_since_heartbeat=pace.stalled_s):
                log.warning("the worker of job %s is gone; its set is analysed by another", job.id)
                assert job.id is not None
                with suppress(ConnectorException):  # another worker was quicker
                    await jobs.finish_job_by_id_async(job_id=job.id, status=Status.FAILED, delete_job=True)
            await jobs.prune_stalled_workers(pace.stalled_s)
            await asyncio.to_thread(self._upkeep)
            await asyncio.sleep(pace.upkeep_s)
