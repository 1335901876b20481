"""serve, work, migrate, openapi."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barwright.commands.asked import BAD_USE, Trouble, data_option, settings_of

if TYPE_CHECKING:
    from barwright.commands.asked import Commands


def add_to(commands: Commands) -> None:
    """The options."""
    serve = commands.add_parser("serve", help="run the service")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=8400)
    data_option(serve)
    serve.set_defaults(run=_serve)

    work = commands.add_parser("work", help="analyse what services on the same PostgreSQL ask for")
    data_option(work)
    work.set_defaults(run=_work)

    migrate = commands.add_parser("migrate", help="bring the database to the newest shape")
    data_option(migrate)
    migrate.set_defaults(run=_migrate)

    document = commands.add_parser("openapi", help="print the OpenAPI document")
    document.set_defaults(run=_openapi)


def _serve(told: argparse.Namespace) -> None:
    from barwright.app import serve

    if not 0 <= told.port <= 65535:
        raise Trouble(f"--port is {told.port}; it has to be from 0 to 65535", BAD_USE)
    settings = settings_of(told)
    try:
        serve(settings, told.host, told.port)
    except OSError as error:
        raise Trouble(f"cannot serve on {told.host}:{told.port}: {error.strerror or error}") from error


def _work(told: argparse.Namespace) -> None:
    settings = settings_of(told)
    if settings.on_sqlite:
        raise Trouble(
            "work is for PostgreSQL: set BARWRIGHT_DATABASE_URL to postgresql://...; on SQLite `barwright serve` "
            "analyses by itself",
            BAD_USE,
        )
    from barwright.worker import work

    try:
        work(settings)
    except OSError as error:
        raise Trouble(f"cannot work: {error}") from error


def _migrate(told: argparse.Namespace) -> None:
    from barwright.storage.migrate import migrate

    migrate(settings_of(told).database_url)


def _openapi(_told: argparse.Namespace) -> None:
    import json

    from barwright.app import bare_app

    print(json.dumps(bare_app().openapi(), indent=2, ensure_ascii=False))
