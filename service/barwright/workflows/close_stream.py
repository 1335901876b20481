"""A stream ends, and its set is analysed."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import dataclass

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.storage.raw_objects import clear_left_overs
from barwright.storage.sets import SetStore, unfinished_sets
from barwright.storage.streams import StreamStore, names_of_all_objects
from barwright.storage.thinning import DROPPED, ThinStore
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.parts import Parts
from barwright.workflows.read_streams import ReceivedBoot, received_of
from barwright.workflows.receive_block import find_stream
from barwright.workflows.set_queue import SetQueue
from barwright.workflows.which_calibration import nearest_calibration


@dataclass(frozen=True, slots=True)
class Closed:
    """received: what came, per device start. analysis: done when the set is analysed; None when it already was."""

    set_id: str
    received: tuple[ReceivedBoot, ...]
    analysis: Future[None] | None


def close_stream(parts: Parts, queue: SetQueue, caller: Caller, stream_id: str) -> Closed:
    """Closes a stream and asks for its analysis. Closing again changes nothing. Raises Cannot."""
    with parts.database.writing(caller.club_id) as session:
        stream = find_stream(session, caller, stream_id)
        sets = SetStore(session, caller.club_id)
        first_time = stream.closed_at is None
        if first_time:
            StreamStore(session, caller.club_id).close(stream.id, parts.now())
            sets.mark_analysing(stream.set_id)
        received = received_of(session, stream)
    parts.live.forget(stream_id)
    if first_time:
        return Closed(stream.set_id, received, queue.request(caller.club_id, stream.set_id))
    return Closed(stream.set_id, received, analysis_of(parts, queue, caller, stream.set_id))


def analyse_again(parts: Parts, queue: SetQueue, caller: Caller, set_id: str) -> Future[None]:
    """Asks for a fresh analysis from the raw samples, with the calibration nearest to the set, made later or not.

    Raises Cannot when the set is still open.
    """
    with parts.database.writing(caller.club_id) as session:
        sets = SetStore(session, caller.club_id)
        state = sets.state(set_id)
        if state is None:
            raise not_found("set", set_id)
        if state == "open":
            raise Cannot("set-open", "The set is still open; it is analysed when its stream is closed.")
        check_raw(session, caller.club_id, set_id)
        sets.mark_analysing(set_id)
        sets.use_calibration(set_id, nearest_calibration(session, caller.club_id, set_id))
    return queue.request(caller.club_id, set_id)


def check_raw(session: Session, club_id: str, set_id: str) -> None:
    """Raises Cannot when the raw samples of a set were dropped by the club's policy."""
    found = SetStore(session, club_id).get(set_id)
    thinned = None if found is None else ThinStore(session, club_id).of(found.stream_id)
    if thinned is not None and thinned.form == DROPPED:
        raise Cannot("raw-gone", thinned.note)


def finish_what_was_left(parts: Parts, queue: SetQueue, alone: bool = True) -> int:
    """At start: asks for every analysis that a stop or a crash left undone, and clears away half-kept raw objects.

    alone: no other service is on the same store; what a neighbour is about to record looks like a left-over too.
    """
    with parts.database.reading() as session:
        known = names_of_all_objects(session)
        due = unfinished_sets(session)
    if alone:
        clear_left_overs(parts.raw, known)
    for club_id, set_id in due:
        queue.request(club_id, set_id)
    return len(due)


def analysis_of(parts: Parts, queue: SetQueue, caller: Caller, set_id: str) -> Future[None] | None:
    """The analysis a set waits for, whoever asked for it; None when it is not waiting for one."""
    with parts.database.reading() as session:
        due = SetStore(session, caller.club_id).state(set_id) == "analysing"
    return queue.join(caller.club_id, set_id) if due else None
