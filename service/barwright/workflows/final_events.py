"""A set is analysed: what was told of it live is put right, and the set is told as closed."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime

from sqlmodel import Session

from barwright.analysis.quantities.lifts import LIFTS
from barwright.live.run import FoundRep, KnownRep, Memory, known_rep, overlap
from barwright.storage.live_events import EventStore, LiveEvent, NewEvent
from barwright.storage.live_runs import LiveRunStore
from barwright.storage.sets import SetStore, StoredRep
from barwright.storage.streams import Stream
from barwright.workflows.begin_following import memory_of
from barwright.workflows.event_data import event, rep_json, set_closed_json
from barwright.workflows.webhook_messages import enqueue_events


def final_events(session: Session, club_id: str, stream: Stream, now: datetime) -> list[LiveEvent]:
    """Keeps the events of an analysis that has just been saved in this session; publish them once it is committed."""
    lift_set = SetStore(session, club_id).get(stream.set_id)
    if lift_set is None:
        return []
    runs = LiveRunStore(session, club_id)
    kept = runs.get(stream.id).memory
    events: list[NewEvent] = []
    store = EventStore(session, club_id)
    followed = kept is not None or store.newest_id(stream.id) > 0  # a file that was sent whole was followed by nobody
    if followed and lift_set.state in ("analysed", "analysing"):
        memory = Memory("", 0, 0.0, 0) if kept is None else memory_of(kept)
        known = tuple(known_rep(rep.index, _found(rep), LIFTS[stream.told.lift]) for rep in lift_set.reps)
        events = _put_right(stream, memory.reps, known, lift_set.reps)
        runs.remember(stream.id, asdict(replace(memory, reps=known)))
    events.append(event("set_closed", stream, **set_closed_json(lift_set)))
    told = store.add(events, now)
    enqueue_events(session, club_id, told, now)
    return told


def _put_right(
    stream: Stream, told: tuple[KnownRep, ...], known: tuple[KnownRep, ...], reps: tuple[StoredRep, ...]
) -> list[NewEvent]:
    """One event for every rep that is new, other than it was told, or was none after all."""
    out, matched = [], set()
    for now, rep in zip(known, reps, strict=True):
        before = next((one for one in told if overlap(one.start_s, one.stop_s, now.start_s, now.stop_s)), None)
        if before is not None:
            matched.add(before.index)
        if before != now:
            kind = "rep" if before is None else "rep_corrected"
            was = None if before is None else before.index
            out.append(event(kind, stream, provisional=False, withdrawn=False, was=was, rep=rep_json(now.index, rep)))
    for one in told:
        if one.index not in matched:
            gone = {"index": one.index, "outcome": one.outcome, "start_s": one.start_s, "stop_s": one.stop_s}
            out.append(event("rep_corrected", stream, provisional=False, withdrawn=True, was=one.index, rep=gone))
    return out


def _found(rep: StoredRep) -> FoundRep:
    return FoundRep(rep.outcome, rep.start_s, rep.stop_s, rep.measures, rep.phases, rep.path_measures, rep.notes)
