"""Whether blocks can be stored right now, and the sets of them be analysed."""

from __future__ import annotations

import logging

from barwright.storage.sessions import StorageFullError, StorageUnavailableError
from barwright.workflows.cannot import Cannot
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue

log = logging.getLogger(__name__)


def check_health(parts: Parts, queue: SetQueue) -> None:
    """Raises Cannot not-ready or storage-full.

    Writes to the database and to the place for raw samples; asks the queue for a sign of life, and the disk for room.
    """
    try:
        parts.database.check(parts.now())
        parts.raw.check()
    except StorageUnavailableError as error:
        log.error("not ready: %s", error)
        if isinstance(error, StorageFullError):
            raise Cannot("storage-full", "The disk with the database or the raw samples is full.") from error
        raise Cannot("not-ready", "The database or the place for raw samples cannot be written.") from error
    if parts.room.is_short():
        log.error("not ready: %d bytes are left on the disk", parts.room.free_bytes())
        raise Cannot("storage-full", f"Less than {parts.room.least >> 20} MiB are left on the disk of the data folder.")
    if not queue.is_alive():
        log.error("not ready: a thread of the queue of analyses has ended")
        raise Cannot("not-ready", "The queue of analyses does not work any more; the service has to be started anew.")
