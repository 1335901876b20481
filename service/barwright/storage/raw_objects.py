"""Raw samples of closed streams: one compressed object each, written once, never changed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol


class DamagedObjectError(RuntimeError):
    """A stored object is gone or no longer what was written."""


@dataclass(frozen=True, slots=True)
class StoredObject:
    """name: below the folder or prefix. digest: SHA-256 of the bytes, hexadecimal."""

    name: str
    digest: str


@dataclass(frozen=True, slots=True)
class ListedObject:
    """What a listing tells. size: bytes. written_at: by the clock of the store."""

    name: str
    size: int
    written_at: datetime


class RawObjects(Protocol):
    """Where raw objects are kept. Every call raises StorageUnavailableError when the store cannot be reached."""

    def put(self, stream_id: str, content: bytes) -> StoredObject:
        """Writes an object; when this returns it outlives a power cut. The name follows from stream and content."""

    def get(self, stored: StoredObject) -> bytes:
        """The bytes of an object, held against its digest. Raises DamagedObjectError."""

    def delete(self, names: Iterable[str]) -> None:
        """Removes objects; those already gone are no error."""

    def all(self) -> list[ListedObject]:
        """Everything that is there, half-written files too, in order of name."""

    def check(self) -> None:
        """Raises StorageUnavailableError when nothing can be written."""


def stored_as(stream_id: str, content: bytes) -> StoredObject:
    """The name and digest that these bytes of this stream always get."""
    digest = hashlib.sha256(content).hexdigest()
    return StoredObject(f"{stream_id}.{digest[:16]}.bwb", digest)


def checked(stored: StoredObject, content: bytes) -> bytes:
    """The bytes, when they are what was written. Raises DamagedObjectError."""
    if hashlib.sha256(content).hexdigest() != stored.digest:
        raise DamagedObjectError(f"the raw object {stored.name} is not what was written")
    return content


def clear_left_overs(raw: RawObjects, names: frozenset[str], older_than: datetime | None = None) -> list[str]:
    """Deletes what a crash left behind: every object no stream knows. Answers what was deleted.

    names: read from the database before this is called. older_than: leaves younger ones alone, which another service
    on the same store may just be about to record; None when there is no other.
    """
    found = [one for one in raw.all() if one.name not in names]
    left = [one.name for one in found if older_than is None or one.written_at < older_than]
    if left:
        raw.delete(left)
    return left


def open_raw(where: str) -> RawObjects:
    """The store at a folder's path, or at s3://bucket/prefix. Raises ValueError for an address that is neither."""
    if where.startswith("s3://"):
        from barwright.storage.raw_bucket import RawBucket  # its library loads only where it is used

        return RawBucket(where)
    if "://" in where:
        raise ValueError(f"{where!r} is no place for raw samples; write a folder or s3://bucket/prefix")
    from barwright.storage.raw_folder import RawFolder

    return RawFolder(Path(where))
