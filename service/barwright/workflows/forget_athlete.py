"""Everything of one athlete: handed over, or erased."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from barwright.access.caller import Caller
from barwright.ingest.block import Block, unpack_many
from barwright.storage.athletes import AthleteStore
from barwright.storage.blocks import BlockStore
from barwright.storage.efforts import EffortStore, SetEffort
from barwright.storage.maxima import Maximum, MaximumStore
from barwright.storage.plans import Decision, Plan, PlanStore
from barwright.storage.sets import SetStore, StoredSet
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.cannot import not_found
from barwright.workflows.parts import Parts


@dataclass(frozen=True, slots=True)
class EverythingOfStream:
    """A stream, its raw blocks as they were sent, and its set."""

    stream: Stream
    blocks: tuple[Block, ...]
    lift_set: StoredSet


@dataclass(frozen=True, slots=True)
class Training:
    """What was told of an athlete beside streams: tested maxima, sets of files of history, plans, decisions."""

    maxima: tuple[Maximum, ...]
    told_sets: tuple[SetEffort, ...]
    plans: tuple[Plan, ...]
    decisions: tuple[Decision, ...]


def export_training(parts: Parts, caller: Caller, athlete_id: str) -> Training:
    """Everything but the streams, the oldest first."""
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
        packed = [] if stream.raw is None else [parts.raw.get(stream.raw)]
    assert lift_set is not None
    blocks = tuple(block for stored in packed + loose for block in unpack_many(stored))
    return EverythingOfStream(stream, blocks, lift_set)


def forget_athlete(parts: Parts, caller: Caller, athlete_id: str) -> None:
    """Erases the athlete: rows, raw samples, results and kept answers. Raises Cannot when there is none."""
    with parts.database.writing() as session:
        objects = AthleteStore(session, caller.club_id).erase(athlete_id)
    if objects is None:
        raise not_found("athlete", athlete_id)
    parts.raw.delete(objects)
    parts.database.leave_no_trace()
