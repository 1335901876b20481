"""The service: the only place where the parts are joined."""

from __future__ import annotations

import logging
import os
import signal
import socket
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing, nullcontext
from dataclasses import replace
from functools import cache
from threading import Thread
from typing import TYPE_CHECKING

import uvicorn
from fastapi import APIRouter, Depends, FastAPI
from starlette.routing import BaseRoute

from barwright import __version__
from barwright.access.rates import Rates
from barwright.api import openapi, problems
from barwright.api.connection import Connection
from barwright.api.dependencies import only_known_queries
from barwright.api.edge import Edge
from barwright.api.metrics import Metrics
from barwright.api.routes import (
    about,
    athletes,
    bench,
    calibration,
    club,
    corrections,
    devices,
    drills,
    feeds,
    gym,
    keys,
    live_in,
    live_out,
    maxima,
    plans,
    profiles,
    readiness,
    recordings,
    records,
    sets,
    streams,
    technique,
    webhooks,
)
from barwright.coach import joined as coach_pages
from barwright.ingest.limits import MIB, Limits
from barwright.live.hub import Hub
from barwright.live.hub_postgres import PostgresHub
from barwright.live.notices import Notices
from barwright.live.run import Found
from barwright.log_lines import write_log
from barwright.settings import Settings
from barwright.storage.folder_lock import alone_in
from barwright.storage.migrate import check_migrated, migrate
from barwright.storage.notices import Listening
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database, StorageUnavailableError
from barwright.workflows.analyse_stored_set import analyse_stored_set
from barwright.workflows.analysis_job import AnalysisJob, Broken, Outcome
from barwright.workflows.analyst import Analyst
from barwright.workflows.bench_job import run_bench
from barwright.workflows.calibration_job import run_calibration
from barwright.workflows.close_stream import finish_what_was_left
from barwright.workflows.commit_blocks import BlockWriter
from barwright.workflows.device_feed import Feeds
from barwright.workflows.follow_live import LiveRuns
from barwright.workflows.live_job import LiveJob
from barwright.workflows.parts import Parts
from barwright.workflows.read_events import event_readers
from barwright.workflows.receive_block import pass_on
from barwright.workflows.refresh_profile import fill_efforts
from barwright.workflows.room import Room
from barwright.workflows.set_queue import SetQueue
from barwright.workflows.settle_in import settle_in
from barwright.workflows.upkeep import Upkeep
from barwright.workflows.webhooks import WebhookSender
from barwright.workflows.worker_queue import WorkerQueue

if TYPE_CHECKING:
    from barwright.api.traces import Traces

SUMMARY = "Bar velocity and bar path from bar-mounted sensors, with an honest uncertainty on every figure."
DESCRIPTION = (
    "Samples go in as blocks of a stream or as one recording; sets with reps, phases and bar paths come out. Every "
    "measured figure is a value with its standard uncertainty `u` and a UCUM unit, or null with the reason."
)


def create_app(
    settings: Settings,
    limits: Limits | None = None,
    analyse: Callable[[AnalysisJob], Outcome] | None = None,
    look: Callable[[LiveJob], Found | Broken | None] | None = None,
) -> FastAPI:
    """The service on a database that is migrated already.

    analyse, look: in place of worker processes. With analyse and no look, sets are not followed while they are lifted.
    """
    limits = limits or Limits()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        analyst = Analyst(settings.workers, nice=10)  # nobody sees a finished set so soon as an open one
        if analyse is None and settings.on_sqlite:  # elsewhere `barwright work` analyses
            analyst.warm()
        database = Database(settings.database_url)
        raw = open_raw(settings.raw)
        calibrate, bench = (analyst.calibrate, analyst.bench) if analyse is None else (run_calibration, run_bench)
        notices = None if settings.on_sqlite else Notices(lambda: Listening(settings.database_url))
        hub = Hub() if notices is None else PostgresHub(*event_readers(database))
        parts = Parts(database, raw, limits, analyse or analyst, calibrate=calibrate, bench=bench, hub=hub)
        parts = replace(parts, watch=metrics, room=Room(settings.data), rates=Rates(settings.rates))
        onlookers = max(settings.workers, min(2, os.cpu_count() or 1))  # bars come to rest together
        onlooker = Analyst(onlookers, nice=3)  # of its own: a long set must not keep a short look waiting
        if analyse is None or look is not None:
            warm = onlooker.warm if look is None else list
            live = LiveRuns(database, parts.hub, look or onlooker.look, parts.now, onlookers, warm)
            parts = replace(parts, live=live)
            if notices is not None:
                live.connect(notices)
        if notices is None or analyse is not None:
            queue = SetQueue(lambda club_id, set_id: analyse_stored_set(parts, club_id, set_id), settings.workers)
        else:
            queue = WorkerQueue(database, notices)
        writer = BlockWriter(database, limits, parts.now, pass_on(parts, queue))
        parts = replace(parts, writer=writer)
        app.state.parts, app.state.queue, app.state.feeds = parts, queue, Feeds()
        _show(metrics, parts, queue)
        if notices is not None and isinstance(hub, PostgresHub):
            hub.connect(notices)
            notices.start()
        sender = WebhookSender(database, parts.now)
        upkeep = Upkeep(parts, queue, stuck=not isinstance(queue, WorkerQueue))
        fill_efforts(parts)
        finish_what_was_left(parts, queue, settings.alone)
        yield
        parts.hub.close()
        if notices is not None:
            notices.close()
        sender.close()
        upkeep.close()
        writer.close()
        parts.live.close()
        queue.close()
        onlooker.close()
        analyst.close()
        database.close()
        if traces is not None:
            traces.close()

    traces = _traces(settings.traces)
    metrics = Metrics(traces)
    app = bare_app()
    app.router.lifespan_context = lifespan
    app.state.metrics, app.state.metrics_token = metrics, settings.metrics_token
    app.add_middleware(Edge, body_limit=_body_limit(limits), metrics=metrics, traces=traces)
    return app


def bare_app() -> FastAPI:
    """All routes and no parts: enough to tell what the API looks like."""
    app = FastAPI(
        title="Barwright",
        version=__version__,
        summary=SUMMARY,
        description=DESCRIPTION,
        docs_url=None,  # the pages of the framework load scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,  # one address per thing; anything else is a problem like every other
    )
    problems.install(app)
    app.router.routes.extend(_api_routes())
    coach_pages.install(app)
    app.openapi = lambda: openapi.document(app)  # type: ignore[method-assign]
    return app


@cache
def _api_routes() -> tuple[BaseRoute, ...]:
    """Every route of the API, joined once in a process however many services it makes: that takes 0.1 s."""
    api = APIRouter(redirect_slashes=False)
    for routes in (
        club, athletes, readiness, profiles, plans, maxima, technique, drills, devices, calibration, bench, streams,
        recordings, sets, corrections, live_out, gym, webhooks, keys, records, feeds, about,
    ):  # fmt: skip
        api.include_router(routes.router, dependencies=[Depends(only_known_queries)])
    api.include_router(live_in.router)
    return tuple(api.routes)


def _traces(endpoint: str) -> Traces | None:
    if not endpoint:
        return None
    from barwright.api.traces import Traces  # an extra, and half a second to load

    return Traces(endpoint)


def _show(metrics: Metrics, parts: Parts, queue: SetQueue) -> None:
    def unfinished() -> float:
        try:
            return queue.length()
        except StorageUnavailableError:  # the other figures are needed most just then
            return float("nan")

    metrics.gauge("barwright_sets_unfinished", "Sets waiting for their analysis or being analysed.", unfinished)
    metrics.gauge("barwright_live_listeners", "Connections that listen to events.", parts.hub.count)
    metrics.gauge("barwright_disk_free_bytes", "Room on the disk of the data folder.", parts.room.free_bytes)


def _body_limit(limits: Limits) -> Callable[[str], int]:
    def limit(path: str) -> int:
        if path.startswith("/v1/recordings") or path.endswith(("/calibration", "/check", "/known-motions")):
            return limits.recording_body_bytes + MIB  # the file, and room for meta and boundaries
        if path.endswith("/history"):
            return 4 * MIB  # twenty thousand rows with notes
        return limits.body_bytes if path.endswith("/blocks") else MIB

    return limit


def serve(settings: Settings, host: str, port: int) -> None:
    """Runs the service until it is told to stop. Raises OSError when address or folder are taken."""
    write_log(settings.log)
    logging.getLogger("alembic").setLevel(logging.WARNING)
    for stop in (signal.SIGTERM, signal.SIGINT):
        signal.signal(stop, lambda *_: sys.exit(0))  # uvicorn ends in order, then sends itself the signal again
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    alone = alone_in(settings.data) if settings.on_sqlite else nullcontext()
    with alone, closing(socket.create_server((host, port), family=family)) as listening:
        if settings.on_sqlite:
            migrate(settings.database_url)
        else:
            check_migrated(settings.database_url)
        app = create_app(settings)
        config = uvicorn.Config(
            app,
            http=Connection,
            log_config=None,
            access_log=False,
            log_level="warning",
            ws_max_size=Limits().body_bytes,
            ws_per_message_deflate=False,  # samples hardly shrink, and packing them costs more than storing them
            timeout_graceful_shutdown=10,
        )
        server = _Server(config, f"serving on http://{host}:{listening.getsockname()[1]}, data in {settings.data}", app)
        server.run(sockets=[listening])
    if not server.was_ready:
        raise OSError("the service could not start; the log above says why")


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, ready_line: str, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app
        self._ready_line = ready_line
        self.was_ready = False

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        if self.was_ready:
            self._app.state.parts.hub.close()  # open event streams would hold the end up
        await super().shutdown(sockets)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self.was_ready = True
            logging.getLogger("barwright").info(self._ready_line)
            Thread(target=settle_in, args=(self._app.state.parts,), name="settle-in", daemon=True).start()
