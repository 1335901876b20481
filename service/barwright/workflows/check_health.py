"""Whether blocks can be stored right now."""

from __future__ import annotations

import logging

from barwright.storage.sessions import StorageFullError, StorageUnavailableError
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)


def check_health(parts: Parts) -> None:
    """Raises Cannot not-ready or storage-full when the database or the place for raw samples cannot be written."""
    try:
        parts.database.check(parts.now())
        parts.raw.check()
    except StorageUnavailableError as error:
        log.error("not ready: %s", error)
        if isinstance(error, StorageFullError):
            raise Cannot("storage-full", "The disk with the database or the raw samples is full.") from error
        raise Cannot("not-ready", "The database or the place for raw samples cannot be written.") from error
