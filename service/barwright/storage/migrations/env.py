"""How Alembic reaches the database."""

from __future__ import annotations

from alembic import context

from barwright.storage.engine import WRITES, make_engine
from barwright.storage.tables import METADATA


def run() -> None:
    """Every missing migration in one transaction."""
    engine = make_engine(context.config.attributes["url"])
    with engine.connect().execution_options(**{WRITES: True}) as connection:
        context.configure(
            connection=connection,
            target_metadata=METADATA,
            render_as_batch=True,
            compare_type=True,
        )
        with context.begin_transaction():
            context.run_migrations()
    engine.dispose()


run()
