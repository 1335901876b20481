"""Raw objects in an S3-compatible store, by obstore (extra `bucket`)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from os import environ
from typing import TYPE_CHECKING

import obstore
from obstore.exceptions import BaseError, NotFoundError
from obstore.store import S3Store

from barwright.storage.raw_objects import DamagedObjectError, ListedObject, StoredObject, checked, stored_as
from barwright.storage.sessions import StorageUnavailableError

if TYPE_CHECKING:
    from obstore.store import ClientConfig, RetryConfig, S3Config

_ENDPOINTS = ("AWS_ENDPOINT_URL_S3", "AWS_ENDPOINT_URL", "AWS_ENDPOINT")
_PROBE = "write-check"
_NO_BUCKET = "NoSuchBucket"  # S3's code for it
_AT_ONCE = 1000  # keys a bulk delete takes


class RawBucket:
    """RawObjects below s3://bucket/prefix. Keys, region and endpoint come from the usual AWS_ variables.

    Raises StorageUnavailableError when the store cannot be reached or refuses. The store answers a write once it is
    durable; every object is held against its digest when it is read.
    """

    def __init__(self, url: str) -> None:
        bucket, _, prefix = url.removeprefix("s3://").strip("/").partition("/")
        if not bucket:
            raise ValueError(f"{url!r} names no bucket; write s3://bucket/prefix")
        endpoint = next((environ[name] for name in _ENDPOINTS if environ.get(name)), None)
        client: ClientConfig = {"timeout": "30s", "connect_timeout": "5s"}
        if endpoint is not None and endpoint.startswith("http://"):
            client["allow_http"] = True
        retry: RetryConfig = {"max_retries": 3, "retry_timeout": timedelta(seconds=20)}
        config: S3Config = {} if endpoint is None else {"endpoint": endpoint}
        self._store = S3Store(bucket, prefix=prefix or None, config=config, client_options=client, retry_config=retry)

    def put(self, stream_id: str, content: bytes) -> StoredObject:
        """Writing the same again refreshes the time of the object and nothing else."""
        stored = stored_as(stream_id, content)
        with _available():
            obstore.put(self._store, stored.name, content)
        return stored

    def get(self, stored: StoredObject) -> bytes:
        """The whole object."""
        with _available():
            try:
                content = obstore.get(self._store, stored.name).bytes().to_bytes()
            except (FileNotFoundError, NotFoundError) as error:
                if _NO_BUCKET in str(error):  # then nothing can be said of any object
                    raise
                raise DamagedObjectError(f"the raw object {stored.name} is gone") from error
        return checked(stored, content)

    def delete(self, names: Iterable[str]) -> None:
        """Up to 1000 in one request."""
        doomed = list(names)
        with _available():
            for start in range(0, len(doomed), _AT_ONCE):
                with suppress(FileNotFoundError, NotFoundError):
                    obstore.delete(self._store, doomed[start : start + _AT_ONCE])

    def all(self) -> list[ListedObject]:
        """Every object below the prefix."""
        with _available():
            found = [
                ListedObject(one["path"], one["size"], one["last_modified"])
                for page in obstore.list(self._store)
                for one in page
            ]
        return sorted((one for one in found if one.name != _PROBE), key=lambda one: one.name)

    def check(self) -> None:
        """Writes one small object, always the same."""
        with _available():
            obstore.put(self._store, _PROBE, b"")


@contextmanager
def _available() -> Iterator[None]:
    try:
        yield
    except (BaseError, OSError) as error:
        # Its text goes on for pages; the first line says what matters.
        said = "there is no such bucket" if _NO_BUCKET in str(error) else str(error).splitlines()[0][:300]
        raise StorageUnavailableError(f"the object store: {said}") from error
