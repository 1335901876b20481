"""A backup of SQLite and raw samples, taken while the service runs, and the way back.

The database is copied first and says which raw objects belong to it; objects are written once, so any later moment is
good enough for copying them. One that is gone by then was erased or replaced meanwhile: the database is copied again.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from barwright.storage.raw_folder import RawFolder
from barwright.storage.raw_objects import DamagedObjectError, RawObjects, StoredObject
from barwright.storage.sqlite_copies import copy_database, is_sound, objects_named_in

FORMAT = "barwright backup 1"
_TABLE_OF_CONTENTS = "backup.json"
_ROUNDS = 6


class BackupError(RuntimeError):
    """It cannot be backed up, or what is there is no whole backup."""


@dataclass(frozen=True, slots=True)
class Backup:
    """What a backup holds. database: name of its file. damaged: objects that could not be read as they were written."""

    format: str
    made_at: str
    database: str
    database_digest: str
    objects: int
    object_bytes: int
    copied: int
    damaged: tuple[str, ...] = ()


def back_up(database: Path, raw: RawObjects, to: Path, now: datetime) -> Backup:
    """Into a folder, which may hold an earlier backup: what that has already is not copied again.

    At every moment the folder holds the earlier backup or this one, whole. Raises BackupError for a folder that holds
    something else, and StorageUnavailableError.
    """
    to.mkdir(parents=True, exist_ok=True)
    if any(to.iterdir()) and not (to / _TABLE_OF_CONTENTS).exists():
        raise BackupError(f"{to} holds something else than a backup; choose an empty folder, or one of a backup")
    kept = RawFolder(to / "raw")
    copy = to / f"barwright-{now:%Y%m%dT%H%M%S%f}.db"
    copied = 0
    damaged: list[str] = []
    for _ in range(_ROUNDS):
        copy_database(database, copy)
        wanted = objects_named_in(copy)
        there = {one.name for one in kept.all()}
        copied, damaged, gone = _copy([one for one in wanted if one.name not in there], raw, kept, copied)
        if not gone:
            break
    else:
        damaged += gone
    names = {one.name for one in wanted}
    size = sum(one.size for one in kept.all() if one.name in names)
    made = Backup(FORMAT, now.isoformat(), copy.name, _digest(copy), len(wanted), size, copied, tuple(damaged))
    _write(to / _TABLE_OF_CONTENTS, json.dumps(asdict(made), indent=2))
    _clear(to, made, kept, names)
    return made


def restore(backup: Path, data: Path, database: Path, raw: RawObjects) -> Backup:
    """Puts a backup where nothing is yet: raw objects first, the database last. Raises BackupError.

    When it stops half-way nothing is there that a service would take for its data; it may just be done again.
    """
    made = read_backup(backup)
    if database.exists():
        raise BackupError(f"{database} is there already; move it away first, nothing is overwritten")
    copy = backup / made.database
    if not copy.exists() or _digest(copy) != made.database_digest or not is_sound(copy):
        raise BackupError(f"{copy} is not what was backed up; take an earlier backup")
    kept = RawFolder(backup / "raw")
    lost = set(made.damaged)
    for stored in objects_named_in(copy):
        if stored.name in lost:
            continue  # it was so when the backup was taken; `verify` tells of it
        try:
            raw.put(stored.name.partition(".")[0], kept.get(stored))
        except DamagedObjectError as error:
            raise BackupError(f"{error} in the backup; take an earlier one") from error
    data.mkdir(parents=True, exist_ok=True)
    half = database.with_name(database.name + ".restoring")
    half.unlink(missing_ok=True)
    copy_database(copy, half)
    half.rename(database)
    _sync(database.parent)
    return made


def read_backup(folder: Path) -> Backup:
    """What is in a backup. Raises BackupError."""
    try:
        told = json.loads((folder / _TABLE_OF_CONTENTS).read_text())
        made = Backup(**{**told, "damaged": tuple(told["damaged"])})
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise BackupError(f"{folder} holds no backup, or one that was never finished") from error
    if made.format != FORMAT:
        raise BackupError(f"{folder} holds a backup of the form {made.format!r}; this program reads {FORMAT!r}")
    return made


def _copy(
    wanted: list[StoredObject], raw: RawObjects, kept: RawFolder, copied: int
) -> tuple[int, list[str], list[str]]:
    """(copied so far, those that are damaged, those that are gone)."""
    damaged: list[str] = []
    gone: list[str] = []
    there = {one.name for one in raw.all()}
    for stored in wanted:
        try:
            kept.put(stored.name.partition(".")[0], raw.get(stored))
            copied += 1
        except DamagedObjectError:
            (damaged if stored.name in there else gone).append(stored.name)
    return copied, damaged, gone


def _clear(to: Path, made: Backup, kept: RawFolder, names: set[str]) -> None:
    """What belonged to an earlier backup only, or to one that was never finished."""
    for path in to.glob("barwright-*.db*"):
        if path.name != made.database:
            path.unlink()
    kept.delete([one.name for one in kept.all() if one.name not in names])


def _write(path: Path, text: str) -> None:
    half = path.with_name(path.name + ".tmp")
    with half.open("w") as file:
        file.write(text + "\n")
        file.flush()
        os.fsync(file.fileno())
    half.replace(path)
    _sync(path.parent)


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
