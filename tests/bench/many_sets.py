"""How long lists and readiness take in a full database: 100,000 sets on both kinds, 10 million reps on PostgreSQL."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import psycopg

from barwright.access.scopes import ALL_SCOPES
from barwright.ingest.limits import Limits
from barwright.settings import Settings
from barwright.storage.migrate import migrate
from barwright.storage.raw_objects import open_raw
from barwright.storage.sessions import Database
from barwright.workflows.analysis_job import run_job
from barwright.workflows.manage_keys import issue_key, who_calls
from barwright.workflows.parts import Parts, utc_now
from barwright.workflows.refresh_profile import refresh_profile
from bench.full_database import ATHLETES, REPS_EACH, SETS_EACH, TABLES, clone_statement, fill
from bench.tables import Table, against
from bench.work import Bench
from chaos import Running
from postgres import CHEAP, postgres
from served import CLUB

CLONES = 20  # clubs that are all as full: 2 million sets, 10 million reps
LIMIT_MS, LIMIT_OF_MANY_MS = 50.0, 100.0
ASKED, FIRST = 200, 10
TUNED = CHEAP | {"shared_buffers": "1GB", "max_wal_size": "8GB", "autovacuum": "on", "maintenance_work_mem": "512MB"}


def many_sets(_bench: Bench) -> list[Table]:
    """Milliseconds of each route, one request after another, in a club with 100,000 sets, on both databases."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings.from_env({}, folder)
        migrate(settings.database_url)
        fill(settings.database_url, CLUB)
        rows = _rows("SQLite", 1, settings, LIMIT_MS)
        with _on_postgresql(folder) as settings:
            rows += _rows("PostgreSQL", 1, settings, LIMIT_MS)
    return [_table("Lists and readiness of a club with 100,000 sets", rows)]


def many_reps(_bench: Bench) -> list[Table]:
    """The same of one club among twenty that are all as full, on PostgreSQL."""
    with tempfile.TemporaryDirectory() as folder, _on_postgresql(folder) as settings:
        for number in range(1, CLONES):
            _run(settings.database_url, *(clone_statement(table, number) for table in TABLES))
            _say(f"{number + 1} clubs")
        _run(settings.database_url, "VACUUM ANALYZE")
        return [
            _table("Lists and readiness among 10 million reps", _rows("PostgreSQL", CLONES, settings, LIMIT_OF_MANY_MS))
        ]


@contextmanager
def _on_postgresql(folder: str) -> Iterator[Settings]:
    with postgres(Path(tempfile.mkdtemp()) / "data", TUNED) as server:
        url = server.create("many")
        fill(url, CLUB)
        _run(url, "VACUUM ANALYZE")
        yield Settings.from_env({"BARWRIGHT_DATABASE_URL": url}, folder)


def _table(title: str, rows: list[tuple[str, ...]]) -> Table:
    notes = (
        f"`barwright serve`, a process of its own. One club of {ATHLETES} athletes is asked, {ASKED} times a route,",
        f"one request after another over HTTP, after {FIRST} that are not counted. Every club has",
        f"{ATHLETES * SETS_EACH:,} sets of {REPS_EACH} reps.",
    )
    columns = ("database", "sets", "reps", "route", "p50 ms", "p95 ms", "p99 ms")
    return Table(title, columns, tuple(rows), notes)


def _rows(kind: str, clubs: int, settings: Settings, limit_ms: float) -> list[tuple[str, ...]]:
    rows = []
    sets = clubs * ATHLETES * SETS_EACH
    database = Database(settings.database_url)
    key = issue_key(database, CLUB, ALL_SCOPES, utc_now())
    _as_after_every_set(database, settings, key)
    database.close()
    service = Running(settings.database_url, settings.data, "serve", "--port", "0")
    try:
        service.wait_until_ready()
        service.wait_until_settled()
        for route, ask in _routes(service.address, key).items():
            times = np.array([ask() for _ in range(FIRST + ASKED)][FIRST:]) * 1e3
            p50, p95, p99 = np.percentile(times, [50, 95, 99])
            told = against(float(p95), limit_ms, 1)
            rows.append((kind, f"{sets:,}", f"{sets * REPS_EACH:,}", route, f"{p50:.1f}", told, f"{p99:.1f}"))
            _say(" ".join(rows[-1]))
    finally:
        service.stop()
    return rows


def _as_after_every_set(database: Database, settings: Settings, key: str) -> None:
    """What the service keeps of an athlete after every set of theirs; rows that were copied in had none."""
    caller = who_calls(database, key, utc_now())
    assert caller is not None
    parts = Parts(database, open_raw(settings.raw), Limits(), run_job)
    refresh_profile(parts, caller.club_id, [f"ath_{number}" for number in range(ATHLETES)])


def _routes(address: str, key: str) -> dict[str, Callable[[], float]]:
    """What is asked; each asking answers how many seconds it took."""
    http = httpx.Client(base_url=address, headers={"Authorization": f"Bearer {key}"}, timeout=120)
    rng = np.random.default_rng(3)
    today = datetime.now(UTC).date()

    def asking(path: Callable[[], str], **query: Callable[[], Any]) -> Callable[[], float]:
        def ask() -> float:
            where, params = path(), {name: value() for name, value in query.items()}
            begun = time.perf_counter()
            answer = http.get(where, params=params)
            taken = time.perf_counter() - begun
            assert answer.status_code == 200, answer.text
            return taken

        return ask

    def after(change: Callable[[], httpx.Response], ask: Callable[[], float]) -> Callable[[], float]:
        def changed() -> float:
            answer = change()
            assert answer.status_code < 300, answer.text
            return ask()

        return changed

    def somebody_planned() -> httpx.Response:
        plan = {"on": str(today), "sets": [{"lift": "snatch", "percent": 80, "reps": 2}]}
        return http.post(f"/v1/athletes/{someone()}/plans", json=plan)

    def someone() -> str:
        return f"ath_{rng.integers(ATHLETES)}"

    def before(days: int) -> str:
        return f"{today - timedelta(days=days)}T00:00:00Z"

    def a_day() -> str:
        return before(int(rng.integers(1, SETS_EACH // 4 - 1)))

    cursors = [http.get("/v1/sets", params={"to": before(days)}).json()["next"] for days in (2, 9, 19)]
    return {
        "GET /v1/sets": asking(lambda: "/v1/sets"),
        "... some page": asking(lambda: "/v1/sets", cursor=lambda: str(rng.choice(cursors))),
        "... of an athlete": asking(lambda: "/v1/sets", athlete_id=someone),
        "... of an athlete's lift": asking(lambda: "/v1/sets", athlete_id=someone, lift=lambda: "snatch"),
        "... of a lift before a day": asking(lambda: "/v1/sets", lift=lambda: "back_squat", to=a_day),
        "... of a lift nobody does": asking(lambda: "/v1/sets", lift=lambda: "tall_snatch"),
        "GET /v1/sets/{id}": asking(lambda: f"/v1/sets/set_{rng.integers(ATHLETES * SETS_EACH)}"),
        "GET /v1/streams": asking(lambda: "/v1/streams"),
        "GET /v1/athletes": asking(lambda: "/v1/athletes", limit=lambda: 100),
        "GET /v1/readiness, nobody has lifted": asking(lambda: "/v1/readiness"),
        "... of a day everybody did": asking(lambda: "/v1/readiness", on=lambda: today - timedelta(days=1)),
        "GET .../readiness": asking(lambda: f"/v1/athletes/{someone()}/readiness"),
        "GET .../profiles/{lift}": asking(lambda: f"/v1/athletes/{someone()}/profiles/back_squat"),
        "GET .../maxima": asking(lambda: f"/v1/athletes/{someone()}/maxima"),
        "GET /v1/review": asking(lambda: "/v1/review"),
        "GET /v1/readiness, somebody's plan is new": after(somebody_planned, asking(lambda: "/v1/readiness")),
    }


def _run(url: str, *statements: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        for statement in statements:
            connection.execute(statement)  # type: ignore[call-overload]


def _say(words: str) -> None:
    print(f"many_sets: {words}", file=sys.stderr, flush=True)
