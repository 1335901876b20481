"""A device that stops in mid-set: its set is closed although the device never says anything again."""

from __future__ import annotations

from datetime import timedelta

from barwright.access.caller import Caller
from barwright.access.scopes import Scope
from barwright.storage.feeds import FeedStore, quiet_pieces
from barwright.storage.streams import StreamStore
from barwright.workflows.close_stream import close_stream
from barwright.workflows.device_feed import QUIET_S
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue

OURSELVES = "service"


def close_quiet_feeds(parts: Parts, queue: SetQueue) -> int:
    """Closes every set of a device that only streams of which nothing has come for QUIET_S; answers how many.

    Safe to do in several processes at once. What the device sends later belongs to no set until its bar moves.
    """
    before, closed = parts.now() - timedelta(seconds=QUIET_S), 0
    with parts.database.reading() as session:
        quiet = quiet_pieces(session, before)
    for one in quiet:
        with parts.database.writing(one.club_id) as session:
            if StreamStore(session, one.club_id).take_turn(one.stream_id) is None:
                continue  # erased in between
            ended = FeedStore(session, one.club_id, one.device_id).end_quiet_piece(one.stream_id, before)
        if ended:
            close_stream(parts, queue, Caller(one.club_id, OURSELVES, frozenset({Scope.STREAMS_WRITE})), one.stream_id)
            closed += 1
    return closed
