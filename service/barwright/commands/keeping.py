"""backup, restore, verify, vacuum, thin: so that nothing is lost, and that what was erased is gone."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from barwright.commands.asked import BAD_USE, Trouble, data_option, settings_of
from barwright.settings import Settings

if TYPE_CHECKING:
    from barwright.commands.asked import Commands
    from barwright.storage.raw_objects import RawObjects
    from barwright.storage.sessions import Database
    from barwright.workflows.verify import Verdict

_MOST_LINES = 50


def add_to(commands: Commands) -> None:
    """The options."""
    backup = commands.add_parser("backup", help="copy database and raw samples, while the service runs (SQLite)")
    data_option(backup)
    backup.add_argument("--to", required=True, metavar="DIR", help="an empty folder, or that of an earlier backup")
    backup.set_defaults(run=_backup)

    restore = commands.add_parser("restore", help="put a backup where nothing is yet, and verify it (SQLite)")
    data_option(restore)
    restore.add_argument("--from", required=True, metavar="DIR", dest="backup", help="folder of the backup")
    restore.set_defaults(run=_restore)

    verify = commands.add_parser("verify", help="hold every row against the raw samples")
    data_option(verify)
    verify.add_argument("--quick", action="store_true", help="only that raw objects are there, without reading them")
    verify.add_argument(
        "--clear", action="store_true", help="delete raw objects that no stream names and that are older than a day"
    )
    verify.set_defaults(run=_verify)

    thin = commands.add_parser("thin", help="make raw samples smaller, and drop them, as the clubs' settings say")
    data_option(thin)
    thin.set_defaults(run=_thin)

    vacuum = commands.add_parser("vacuum", help="write the database anew, so that no file holds what was erased")
    data_option(vacuum)
    vacuum.set_defaults(run=_vacuum)


def _thin(told: argparse.Namespace) -> None:
    from barwright.ingest.limits import Limits
    from barwright.storage.sessions import StorageUnavailableError
    from barwright.workflows.analysis_job import run_job
    from barwright.workflows.parts import Parts
    from barwright.workflows.thin_raw import thin_what_is_due

    settings = settings_of(told)
    database = _database(settings)
    try:
        done = thin_what_is_due(Parts(database, _raw(settings), Limits(), run_job))
    except StorageUnavailableError as error:
        raise Trouble(f"stopped: {error}. What is done stays done") from error
    finally:
        database.close()
    print(", ".join(f"{number} {what}" for what, number in sorted(done.items())) or "nothing is due")


def _backup(told: argparse.Namespace) -> None:
    from barwright.storage.sessions import StorageUnavailableError
    from barwright.workflows.back_up import BackupError, back_up
    from barwright.workflows.parts import utc_now

    settings = settings_of(told)
    database = _file_of(settings)
    if not database.exists():
        raise Trouble(f"there is no database {database}")
    try:
        made = back_up(database, _raw(settings), Path(told.to), utc_now())
    except (BackupError, StorageUnavailableError, OSError) as error:
        raise Trouble(str(error)) from error
    size = f"{made.objects} raw objects of {made.object_bytes} bytes, {made.copied} of them new"
    print(f"{told.to}: {made.database}, {size}")
    if made.damaged:
        raise Trouble(f"these raw objects could not be read as they were written: {', '.join(made.damaged)}")


def _restore(told: argparse.Namespace) -> None:
    from barwright.storage.migrate import migrate
    from barwright.storage.sessions import StorageUnavailableError
    from barwright.workflows.back_up import BackupError, restore

    settings = settings_of(told)
    database = _file_of(settings)
    with _nobody_else(settings.data):
        try:
            made = restore(Path(told.backup), settings.data, database, _raw(settings))
        except (BackupError, StorageUnavailableError, OSError) as error:
            raise Trouble(str(error)) from error
        migrate(settings.database_url)
        print(f"{settings.data}: the backup of {made.made_at}, {made.objects} raw objects")
        _tell(_verified(settings))


def _verify(told: argparse.Namespace) -> None:
    settings = settings_of(told)
    found = _verified(settings, not told.quick)
    if told.clear and found.extra:
        from datetime import timedelta

        from barwright.workflows.parts import utc_now

        old = [one.name for one in found.extra if one.written_at < utc_now() - timedelta(days=1)]
        _raw(settings).delete(old)
        print(f"{len(old)} raw objects that no stream names are deleted")
        found.extra = [one for one in found.extra if one.name not in set(old)]
    _tell(found)


def _vacuum(told: argparse.Namespace) -> None:
    database = _database(settings_of(told))
    try:
        database.vacuum()
    finally:
        database.close()


def _verified(settings: Settings, read_raw: bool = True) -> Verdict:
    from barwright.workflows.verify import verify

    database = _database(settings)
    try:
        return verify(database, _raw(settings), read_raw)
    finally:
        database.close()


def _tell(found: Verdict) -> None:
    print(
        f"{found.streams} streams, {found.blocks} blocks, {found.objects} raw objects of {found.object_bytes} bytes; "
        f"{found.open_sets} sets open, {found.unfinished_sets} to be analysed, {found.thinned} streams thinned"
    )
    for stream, boot, (first, last) in found.gaps[:_MOST_LINES]:
        print(f"gap: {stream}: blocks {first} to {last} of boot {boot!r} never came")
    for one in found.extra[:_MOST_LINES]:
        print(f"extra: {one.name}, {one.size} bytes, of {one.written_at.isoformat()}; no stream names it")
    for wrong in found.wrong[:_MOST_LINES]:
        print(f"wrong: {wrong.where}: {wrong.detail}")
    if found.wrong:
        raise Trouble(f"{len(found.wrong)} things are wrong")
    print("all is as it was acknowledged")


def _raw(settings: Settings) -> RawObjects:
    from barwright.storage.raw_objects import open_raw
    from barwright.storage.sessions import StorageUnavailableError

    try:
        return open_raw(settings.raw)
    except ValueError as error:
        raise Trouble(f"BARWRIGHT_RAW: {error}", BAD_USE) from error
    except (ImportError, StorageUnavailableError) as error:
        raise Trouble(str(error)) from error


def _database(settings: Settings) -> Database:
    from barwright.storage.sessions import Database

    file = _file_of(settings) if settings.on_sqlite else None
    if file is not None and not file.exists():
        raise Trouble(f"there is no database {file}")
    return Database(settings.database_url)


def _file_of(settings: Settings) -> Path:
    from barwright.storage.sqlite_copies import file_of

    file = file_of(settings.database_url)
    if file is None:
        raise Trouble(
            "this command is for SQLite; PostgreSQL has pg_dump and pg_restore, docs/operate.md says how", BAD_USE
        )
    return file


@contextmanager
def _nobody_else(folder: Path) -> Iterator[None]:
    from barwright.storage.folder_lock import FolderInUseError, alone_in

    try:
        with alone_in(folder):
            yield
    except FolderInUseError as error:
        raise Trouble(f"a service uses the folder {folder}; stop it first") from error
