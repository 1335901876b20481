"""Everything of one athlete: handed over, or erased."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from barwright.access.caller import Caller
from barwright.ingest.block import Block, unpack_many
from barwright.storage.athletes import AthleteStore
from barwright.storage.audit import note_deed
from barwright.storage.blocks import BlockStore
from barwright.storage.efforts import EffortStore, SetEffort
from barwright.storage.erasures import (
    doom,
    doomed,
    forget_in_feeds,
    gone,
    objects_of_athlete,
    rows_of_athlete,
)
from barwright.storage.maxima import Maximum, MaximumStore
from barwright.storage.plans import Decision, Plan, PlanStore
from barwright.storage.raw_objects import DamagedObjectError, StoredObject
from barwright.storage.sessions import StorageUnavailableError
from barwright.storage.sets import SetStore, StoredSet
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.cannot import not_found
from barwright.workflows.parts import Parts

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class EverythingOfStream:
    """A stream, its raw blocks as they were sent, and its set. lost: why there are no blocks, where there were some."""

    stream: Stream
    blocks: tuple[Block, ...]
    lift_set: StoredSet
    lost: str | None = None


@dataclass(frozen=True, slots=True)
class Training:
    """What was told of an athlete beside streams: tested maxima, sets of files of history, plans, decisions."""

    maxima: tuple[Maximum, ...]
    told_sets: tuple[SetEffort, ...]
    plans: tuple[Plan, ...]
    decisions: tuple[Decision, ...]


def export_training(parts: Parts, caller: Caller, athlete_id: str) -> Training:
    """Everything but the streams, the oldest first. With it an export begins, which is noted; no export is unnoted."""
    with parts.database.writing() as session:
        note_deed(session, caller, "athlete.exported", athlete_id, parts.now())
    with parts.database.reading() as session:
        efforts = EffortStore(session, caller.club_id).of_athlete(athlete_id)
        plans = PlanStore(session, caller.club_id)
        return Training(
            tuple(MaximumStore(session, caller.club_id).of_athlete(athlete_id)),
            tuple(one for one in efforts if one.set_id is None),
            tuple(plans.of_athlete(athlete_id)),
            tuple(plans.decisions(athlete_id)),
        )


def export_athlete(parts: Parts, caller: Caller, athlete_id: str) -> Iterator[EverythingOfStream]:
    """Every stream of an athlete with all samples and results, one at a time, the oldest first."""
    with parts.database.reading() as session:
        streams = StreamStore(session, caller.club_id).of_athlete(athlete_id)
    for stream in streams:
        everything = _everything(parts, caller, stream.id)
        if everything is not None:
            yield everything


def _everything(parts: Parts, caller: Caller, stream_id: str) -> EverythingOfStream | None:
    with parts.database.reading() as session:
        stream = StreamStore(session, caller.club_id).get(stream_id)
        if stream is None:
            return None
        lift_set = SetStore(session, caller.club_id).get(stream.set_id)
        loose = [body for _, body in BlockStore(session, stream).unpacked()]
    assert lift_set is not None
    lost = None
    try:
        packed = [] if stream.raw is None else [parts.raw.get(stream.raw)]
    except DamagedObjectError as error:
        packed, lost = [], str(error)
    blocks = tuple(block for stored in packed + loose for block in unpack_many(stored))
    return EverythingOfStream(stream, blocks, lift_set, lost)


@dataclass(frozen=True, slots=True)
class ErasureReceipt:
    """What was erased: rows by table, kept answers to retried requests, raw objects with their digests.

    objects_waiting: how many of them the store could not delete yet; it is tried again until it can. log_emptied: the
    database's log holds nothing of it any more.
    """

    athlete_id: str
    erased_at: datetime
    rows: dict[str, int]
    answers: int
    objects: tuple[StoredObject, ...]
    objects_waiting: int
    log_emptied: bool


def forget_athlete(parts: Parts, caller: Caller, athlete_id: str) -> ErasureReceipt:
    """Erases the athlete: rows, raw samples, results and kept answers. Raises Cannot when there is none."""
    now = parts.now()
    with parts.database.writing(caller.club_id) as session:
        athletes = AthleteStore(session, caller.club_id)
        if athletes.get(athlete_id) is None:
            raise not_found("athlete", athlete_id)
        rows = rows_of_athlete(session, athlete_id)
        streams = [stream.id for stream in StreamStore(session, caller.club_id).of_athlete(athlete_id)]
        objects = objects_of_athlete(session, caller.club_id, athlete_id)
        doom(session, (one.name for one in objects), now)
        forget_in_feeds(session, caller.club_id, athlete_id)
        answers = athletes.erase(athlete_id) or 0
        note_deed(session, caller, "athlete.erased", athlete_id, now, {"rows": rows, "objects": len(objects)})
    for stream_id in streams:
        parts.live.forget(stream_id)
    parts.days.forget(athlete_id)
    waiting = len(objects) if objects and not delete_doomed(parts) else 0
    return ErasureReceipt(athlete_id, now, rows, answers, tuple(objects), waiting, parts.database.leave_no_trace())


def delete_doomed(parts: Parts) -> bool:
    """Deletes raw objects of what was erased; False when the store is away, and the next upkeep tries again."""
    while True:
        with parts.database.reading() as session:
            names = doomed(session)
        if not names:
            return True
        try:
            parts.raw.delete(names)
        except StorageUnavailableError as error:
            log.warning("%d raw objects of erased athletes wait to be deleted: %s", len(names), error)
            return False
        with parts.database.writing() as session:
            gone(session, names)
