"""Raw samples of closed streams: one compressed object each, written once, never changed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


class DamagedObjectError(RuntimeError):
    """A stored object is gone or no longer what was written."""


@dataclass(frozen=True, slots=True)
class StoredObject:
    """name: below the folder. digest: SHA-256 of the bytes, hexadecimal."""

    name: str
    digest: str


class RawObjects:
    """Objects as files in one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def put(self, stream_id: str, content: bytes) -> StoredObject:
        """Writes an object; when this returns it outlives a power cut. The name follows from stream and content."""
        digest = hashlib.sha256(content).hexdigest()
        name = f"{stream_id}.{digest[:16]}.bwb"
        # Two writers of one object must not share a temporary file.
        half_written = self._folder / f"{name}.{os.getpid()}-{os.urandom(4).hex()}.tmp"
        with half_written.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        half_written.replace(self._folder / name)
        self._sync_folder()
        return StoredObject(name, digest)

    def get(self, stored: StoredObject) -> bytes:
        """The bytes of an object. Raises DamagedObjectError."""
        try:
            content = (self._folder / stored.name).read_bytes()
        except FileNotFoundError as error:
            raise DamagedObjectError(f"the raw object {stored.name} is gone") from error
        if hashlib.sha256(content).hexdigest() != stored.digest:
            raise DamagedObjectError(f"the raw object {stored.name} is not what was written")
        return content

    def delete(self, names: Iterable[str]) -> None:
        """Removes objects; those already gone are no error."""
        for name in names:
            (self._folder / name).unlink(missing_ok=True)
        self._sync_folder()

    def keep_only(self, names: frozenset[str]) -> list[str]:
        """Deletes what a crash left behind: every file that no stream knows. Answers what was deleted."""
        left_over = sorted(path.name for path in self._folder.iterdir() if path.is_file() and path.name not in names)
        if left_over:
            self.delete(left_over)
        return left_over

    def check(self) -> None:
        """Raises OSError when the folder cannot be written."""
        probe = self._folder / f"write-check.{os.getpid()}-{os.urandom(4).hex()}.tmp"
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
