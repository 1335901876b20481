"""The same round spread over many machines by dask (extra `archive`); the only file that imports it.

A task is a few sets; it opens database and raw samples for itself and keeps what it found. A worker that dies takes
nothing with it: the scheduler gives its tasks to another one, and what was kept already is not done again.
"""

from __future__ import annotations

from collections.abc import Iterator

from dask.distributed import Client, as_completed

from barwright.ingest.limits import Limits
from barwright.storage.raw_objects import open_raw
from barwright.storage.rounds import DueSet, Round
from barwright.storage.sessions import Database
from barwright.workflows.analyse_stored_set import analyse_in_round
from barwright.workflows.analysis_job import run_job
from barwright.workflows.archive_round import Work
from barwright.workflows.parts import Parts

_OF_A_TASK = 5


def on_dask(client: Client, database_url: str, raw: str, of_round: Round) -> Work:
    """Work for the workers of a dask client, all of which have to reach the same database and raw samples."""

    def work(batch: list[DueSet]) -> Iterator[tuple[DueSet, str]]:
        parts = [batch[start : start + _OF_A_TASK] for start in range(0, len(batch), _OF_A_TASK)]
        tasks = client.map(_task, parts, database_url=database_url, raw=raw, of_round=of_round, pure=False)
        for done in as_completed(tasks):  # type: ignore[no-untyped-call]
            yield from done.result()

    return work


def connect(where: str) -> Client:
    """A client of the scheduler at an address, tcp://host:port. Raises OSError when there is none."""
    return Client(where, timeout="10s")  # type: ignore[no-untyped-call]


def _task(sets: list[DueSet], database_url: str, raw: str, of_round: Round) -> list[tuple[DueSet, str]]:
    database = Database(database_url)
    try:
        parts = Parts(database, open_raw(raw), Limits(), run_job)
        return [(one, analyse_in_round(parts, one.club_id, one.set_id, of_round)) for one in sets]
    finally:
        database.close()
