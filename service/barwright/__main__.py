"""The command line: serve, new-key, sign-in-link, analyse, migrate, openapi."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from barwright.access.scopes import parse_scopes
from barwright.settings import Settings
from barwright.workflows.one_thread import one_thread_each

GOOD, ELSE, BAD_USE = 0, 1, 2


class Trouble(Exception):  # noqa: N818 - one plain line for stderr
    """What went wrong, and the exit code."""

    def __init__(self, line: str, code: int = ELSE) -> None:
        super().__init__(line)
        self.code = code


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command. Exit codes: 0 good, 2 bad use, 1 anything else."""
    one_thread_each()  # before anything loads numpy
    told = _parser().parse_args(arguments)
    try:
        told.run(told)
    except Trouble as trouble:
        print(f"barwright: {trouble}", file=sys.stderr)
        return trouble.code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has gone; nothing to tell it
    except KeyboardInterrupt:
        return ELSE
    return GOOD


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="barwright", description="Bar velocity and bar path from a sensor on the bar."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    serve = commands.add_parser("serve", help="run the service")
    serve.add_argument("--host", default="127.0.0.1")
    serve.add_argument("--port", type=int, default=8400)
    _data(serve)
    serve.set_defaults(run=_serve)

    key = commands.add_parser("new-key", help="make a key for a club and print it; it is shown only once")
    _data(key)
    key.add_argument("--club", required=True, metavar="NAME", help="created when new")
    key.add_argument(
        "--scopes", default="all", help="all, or some of streams:write,results:read,athletes:write,club:admin"
    )
    key.set_defaults(run=_new_key)

    link = commands.add_parser("sign-in-link", help="make a link that signs a coach in once and print it")
    _data(link)
    link.add_argument("--club", required=True, metavar="NAME", help="created when new")
    link.add_argument("--coach", default="coach", metavar="NAME", help="created when new (default: coach)")
    link.add_argument(
        "--address", default="http://127.0.0.1:8400", metavar="URL", help="where browsers find the service"
    )
    link.set_defaults(run=_sign_in_link)

    analyse = commands.add_parser("analyse", help="analyse one recording file, without a database")
    analyse.add_argument("file", metavar="FILE", help="CSV, Parquet, JSON or CBOR columns")
    analyse.add_argument("--lift", default="snatch", help="a lift's code (default: snatch)")
    analyse.add_argument("--load-kg", type=float, metavar="N")
    analyse.add_argument(
        "--bar-axis", metavar="AXIS", help="sensor axis to the lifter's left: +x, -z, ... or 0.9,0.1,0"
    )
    analyse.add_argument("--units", metavar="LIST", default="", help="for example accel=[g],gyro=deg/s")
    analyse.add_argument("--json", action="store_true", help="print the set as the API answers it")
    analyse.set_defaults(run=_analyse)

    migrate = commands.add_parser("migrate", help="bring the database to the newest shape")
    _data(migrate)
    migrate.set_defaults(run=_migrate)

    document = commands.add_parser("openapi", help="print the OpenAPI document")
    document.set_defaults(run=_openapi)
    return parser


def _data(command: argparse.ArgumentParser) -> None:
    command.add_argument("--data", metavar="DIR", help="folder of the database (default: $BARWRIGHT_DATA, else ./data)")


def _settings(told: argparse.Namespace) -> Settings:
    try:
        settings = Settings.from_env(data=told.data)
        settings.data.mkdir(parents=True, exist_ok=True)
    except ValueError as error:
        raise Trouble(str(error), BAD_USE) from error
    except OSError as error:
        raise Trouble(f"the folder {told.data!r} cannot be used: {error.strerror}") from error
    return settings


def _serve(told: argparse.Namespace) -> None:
    from barwright.app import serve

    if not 0 <= told.port <= 65535:
        raise Trouble(f"--port is {told.port}; it has to be from 0 to 65535", BAD_USE)
    settings = _settings(told)
    try:
        serve(settings, told.host, told.port)
    except OSError as error:
        raise Trouble(f"cannot serve on {told.host}:{told.port}: {error.strerror or error}") from error


def _new_key(told: argparse.Namespace) -> None:
    try:
        scopes = parse_scopes(told.scopes)
    except ValueError as error:
        raise Trouble(str(error), BAD_USE) from error
    name = told.club.strip()
    if not name or len(name) > 200:
        raise Trouble("--club has to be a name of 1 to 200 characters", BAD_USE)
    settings = _settings(told)
    from barwright.storage.migrate import migrate
    from barwright.storage.sessions import Database
    from barwright.workflows.manage_keys import issue_key
    from barwright.workflows.parts import utc_now

    if settings.on_sqlite:
        migrate(settings.database_url)
    database = Database(settings.database_url)
    print(issue_key(database, name, scopes, utc_now()))
    database.close()


def _sign_in_link(told: argparse.Namespace) -> None:
    for option, name in (("--club", told.club), ("--coach", told.coach)):
        if not name.strip() or len(name) > 100:
            raise Trouble(f"{option} has to be a name of 1 to 100 characters", BAD_USE)
    settings = _settings(told)
    from barwright.storage.migrate import migrate
    from barwright.storage.sessions import Database
    from barwright.workflows.cannot import Cannot
    from barwright.workflows.parts import utc_now
    from barwright.workflows.sign_in import make_link

    if settings.on_sqlite:
        migrate(settings.database_url)
    database = Database(settings.database_url)
    try:
        token = make_link(database, told.club.strip(), told.coach.strip(), utc_now())
    except Cannot as error:
        raise Trouble(error.detail) from error
    finally:
        database.close()
    print(f"{told.address.rstrip('/')}/sign-in/{token}")


def _analyse(told: argparse.Namespace) -> None:
    from barwright.analysis.quantities.unusable import UnusableSamples
    from barwright.ingest.refusals import Refusal
    from barwright.rep_table import table_of
    from barwright.workflows.analyse_file import FileRequest, analyse_file
    from barwright.workflows.cannot import Cannot

    try:
        body = Path(told.file).read_bytes()
    except OSError as error:
        raise Trouble(f"{told.file} cannot be read: {error.strerror}") from error
    asked = FileRequest(body, told.file, told.lift, _axis(told.bar_axis), _units(told.units))
    try:
        analysis = analyse_file(asked)
    except Cannot as error:
        raise Trouble(error.detail, BAD_USE) from error
    except (Refusal, UnusableSamples) as error:
        raise Trouble(f"{told.file}: {error.detail}") from error
    if told.json:
        from barwright.api.shapes.sets import SetAnswer

        print(SetAnswer.of_file(analysis, told.load_kg).model_dump_json(indent=2))
    else:
        print(table_of(analysis))


def _axis(text: str | None) -> str | list[float] | None:
    if text is None or "," not in text:
        return text
    try:
        return [float(part) for part in text.split(",")]
    except ValueError as error:
        raise Trouble(
            f"--bar-axis is {text!r}; write +x, -z, ... or three numbers such as 0.9,0.1,0", BAD_USE
        ) from error


def _units(text: str) -> dict[str, str]:
    units = {}
    for pair in filter(None, text.split(",")):
        group, is_there, unit = pair.partition("=")
        if not is_there:
            raise Trouble(f"--units has {pair!r}; write for example accel=[g],gyro=deg/s", BAD_USE)
        units[group.strip()] = unit.strip()
    return units


def _migrate(told: argparse.Namespace) -> None:
    from barwright.storage.migrate import migrate

    migrate(_settings(told).database_url)


def _openapi(_told: argparse.Namespace) -> None:
    import json

    from barwright.app import bare_app

    print(json.dumps(bare_app().openapi(), indent=2, ensure_ascii=False))


if __name__ == "__main__":
    sys.exit(main())
