"""How Alembic reaches the database."""

from __future__ import annotations

from alembic import context
from sqlalchemy import func, select

from barwright.storage import bench_tables as bench_tables
from barwright.storage import coach_tables  # noqa: F401 - adds its tables
from barwright.storage import keeping_tables as keeping_tables
from barwright.storage import live_tables as live_tables
from barwright.storage import record_tables as record_tables
from barwright.storage import technique_tables as technique_tables
from barwright.storage import training_tables as training_tables
from barwright.storage.engine import WRITES, make_engine
from barwright.storage.queue_tables import bring_up_queue
from barwright.storage.tables import METADATA
from barwright.storage.turns import lock_of


def run() -> None:
    """Every missing migration in one transaction: a second process waits for it, then finds nothing to do."""
    engine = make_engine(context.config.attributes["url"])
    # Alembic would commit after each step on SQLite, and two first starts could then both take the second one.
    with engine.connect().execution_options(**{WRITES: True}) as connection, connection.begin():
        if connection.dialect.name == "postgresql":
            connection.execute(select(func.pg_advisory_xact_lock(lock_of("turn", "migrations"))))
        context.configure(
            connection=connection,
            target_metadata=METADATA,
            render_as_batch=True,
            compare_type=True,
        )
        context.run_migrations()
        if connection.dialect.name == "postgresql":
            bring_up_queue(connection)
    engine.dispose()


run()
