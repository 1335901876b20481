"""Open streams as they are stored, for those who begin to follow them: many at once, as a hall begins its sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from barwright.analysis.motion.calibration import Calibration
from barwright.live.run import KnownRep, Memory
from barwright.storage.blocks import BlockStore, BootSpan
from barwright.storage.calibrations import CalibrationStore
from barwright.storage.live_events import EventStore, LiveEvent
from barwright.storage.live_runs import KeptRun, LiveRunStore
from barwright.storage.sessions import Database
from barwright.storage.sets import SetStore
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.event_data import event
from barwright.workflows.stop_limit import StopLimit, stop_limits

BETWEEN_STARTS_S = 1.0  # as the analysis of a whole set joins the parts of a device that started anew


@dataclass(frozen=True, slots=True)
class Beginning:
    """An open stream. kept: what its row remembers, and memory the same as a Memory; None for one never followed.

    offset_s: where in the stream the present device start begins. bodies: its blocks since the last agreed rest.
    """

    stream: Stream
    calibration: Calibration | None
    limit: StopLimit | None
    kept: Any
    memory: Memory | None
    offset_s: float
    bodies: list[bytes]


def find_beginnings(session: Session, club_id: str, boots: Mapping[str, str]) -> list[Beginning]:
    """Those streams of a club that are open. boots: id of a stream -> the device start that sends now."""
    streams = [one for one in StreamStore(session, club_id).several(boots) if one.closed_at is None]
    runs = LiveRunStore(session, club_id).several([one.id for one in streams])
    losses = {stream_id: run.velocity_loss for stream_id, run in runs.items()}
    limits = stop_limits(session, club_id, streams, losses)
    wanted = SetStore(session, club_id).calibrations_of([one.set_id for one in streams])
    store = CalibrationStore(session, club_id)
    found = {one: store.get(one) for one in set(wanted.values()) if one is not None}
    constants = {name: one.found.calibration for name, one in found.items() if one is not None}
    return [
        _beginning(
            session, one, boots[one.id], runs[one.id], constants.get(wanted.get(one.set_id) or ""), limits.get(one.id)
        )
        for one in streams
    ]


def _beginning(
    session: Session,
    stream: Stream,
    boot: str,
    run: KeptRun,
    calibration: Calibration | None,
    limit: StopLimit | None,
) -> Beginning:
    memory = None if run.memory is None else memory_of(run.memory)
    since = memory.from_us if memory is not None and memory.boot == boot else None
    blocks = BlockStore(session, stream)
    offset_s, bodies = offset_of(blocks.spans(), boot), blocks.unpacked_of(boot, since)
    return Beginning(stream, calibration, limit, run.memory, memory, offset_s, bodies)


def tell_opened(database: Database, club_id: str, streams: Sequence[Stream], now: datetime) -> list[LiveEvent]:
    """Keeps that sets have begun, of those that are open still and of which nothing was told."""
    with database.writing(club_id) as session:
        events, store = EventStore(session, club_id), StreamStore(session, club_id)
        told = events.streams_told([one.id for one in streams])
        new = [one for one in streams if one.id not in told and store.take_turn(one.id) is False]
        return events.add([event("set_opened", one, started_at=one.told.started_at.isoformat()) for one in new], now)


def offset_of(spans: list[BootSpan], boot: str) -> float:
    """Seconds of the stream at which a device start begins, as the analysis of the whole set joins them."""
    out = 0.0
    for span in spans:
        if span.boot == boot:
            break
        out += (span.last_us - span.first_us) * 1e-6 + BETWEEN_STARTS_S
    return out


def memory_of(kept: dict[str, Any]) -> Memory:
    """What was kept of a run."""
    return Memory(**{**kept, "reps": tuple(KnownRep(**rep) for rep in kept["reps"])})
