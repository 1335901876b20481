"""Raw objects as files in one folder."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from barwright.storage.raw_objects import DamagedObjectError, ListedObject, StoredObject, checked, stored_as
from barwright.storage.sessions import StorageFullError, StorageUnavailableError

_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})


class RawFolder:
    """RawObjects in a folder, which is made when it is not there. Raises StorageUnavailableError."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        with _available():
            folder.mkdir(parents=True, exist_ok=True)

    def put(self, stream_id: str, content: bytes) -> StoredObject:
        """Writes beside, syncs, then renames: a name stands for a whole object or for none."""
        stored = stored_as(stream_id, content)
        # Two writers of one object must not share a temporary file.
        half_written = self._folder / f"{stored.name}.{os.getpid()}-{os.urandom(4).hex()}.tmp"
        with _available():
            try:
                with half_written.open("wb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
                half_written.replace(self._folder / stored.name)
            except OSError:
                half_written.unlink(missing_ok=True)  # on a full disk, of all places, nothing may be left lying
                raise
            self._sync_folder()
        return stored

    def get(self, stored: StoredObject) -> bytes:
        """The whole file."""
        with _available():
            try:
                content = (self._folder / stored.name).read_bytes()
            except FileNotFoundError as error:
                raise DamagedObjectError(f"the raw object {stored.name} is gone") from error
        return checked(stored, content)

    def delete(self, names: Iterable[str]) -> None:
        """Removes files and waits until the disk knows it."""
        with _available():
            for name in names:
                (self._folder / name).unlink(missing_ok=True)
            self._sync_folder()

    def all(self) -> list[ListedObject]:
        """Every file."""
        with _available():
            return sorted(_listed(self._folder), key=lambda one: one.name)

    def check(self) -> None:
        """Writes a little file and removes it."""
        probe = self._folder / f"write-check.{os.getpid()}-{os.urandom(4).hex()}.tmp"
        with _available():
            try:
                probe.write_bytes(bytes(4096))
            finally:
                probe.unlink(missing_ok=True)

    def _sync_folder(self) -> None:
        handle = os.open(self._folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _listed(folder: Path) -> Iterator[ListedObject]:
    for path in folder.iterdir():
        try:
            facts = path.stat()
        except FileNotFoundError:  # renamed or deleted while we looked
            continue
        if path.is_file():
            yield ListedObject(path.name, facts.st_size, datetime.fromtimestamp(facts.st_mtime, UTC))


@contextmanager
def _available() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        kind = StorageFullError if error.errno in _FULL else StorageUnavailableError
        raise kind(f"the folder for raw samples: {error.strerror or error}") from error
