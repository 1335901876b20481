"""What a spool still has to send, as steps: open, blocks in order, close. No network here."""

from __future__ import annotations

from dataclasses import dataclass

from barwright_client.answers import BlockReceipt, Closed, Stream
from barwright_client.bodies import Whole, json_body
from barwright_client.call import Call, Steps, part
from barwright_client.errors import NotFound, Refused
from barwright_client.spool import Kept, Spool, SpooledSet
from barwright_client.stream_calls import close_stream

_LATER = (401, 403, 408, 425, 429)  # the block may be fine: it stays


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay did: blocks sent, samples the service refused, and the sets that are whole now (their ids)."""

    blocks: int
    refused: int
    sets: tuple[str, ...]


def replay(spool: Spool, *, end: bool = False) -> Steps[Replayed]:
    """Sends everything in the spool, the oldest first. Stops at the first call that cannot be made now, and raises.

    end: nothing more comes for any set in the spool.
    """
    blocks, refused, done = 0, 0, []
    for one in spool.sets():
        if end and not one.ended:
            one.end()
        sent, lost, set_id = yield from send_set(one)
        blocks, refused = blocks + sent, refused + lost
        if set_id is not None:
            done.append(set_id)
    return Replayed(blocks, refused, tuple(done))


def send_set(one: SpooledSet) -> Steps[tuple[int, int, str | None]]:
    """Sends what there is of one set, and closes it when that is all of it; (blocks sent, samples refused, its id)."""
    ended = one.ended  # asked before its blocks are listed: what is put in later goes with the next round
    sent, refused = yield from _send_blocks(one)
    if not ended:
        return sent, refused, None
    set_id = None if one.refused is not None else (yield from _close(one))
    one.drop()
    return sent, refused, set_id


def _send_blocks(one: SpooledSet) -> Steps[tuple[int, int]]:
    """Opens the stream if need be and sends the blocks there are now; (blocks sent, samples refused)."""
    sent = refused = 0
    if one.refused is not None:
        return 0, one.refuse(one.refused)  # a program that was killed meanwhile may have left some
    if one.stream is None:
        try:
            opened: Stream = yield Call("POST", "/v1/streams", Stream.read, body=json_body(one.about), key=one.key)
        except Refused as error:
            return 0, one.refuse(_reason(error))
        one.opened(opened.id, opened.set_id)
    stream = one.stream
    assert stream is not None
    for kept in one.blocks():
        try:
            yield _send(stream["id"], kept)
        except Refused as error:
            one.lost(kept, _reason(error))
            refused += kept.samples
            continue
        one.sent(kept)
        sent += 1
    return sent, refused


def _close(one: SpooledSet) -> Steps[str | None]:
    """The id of the set; None when it was erased meanwhile."""
    stream = one.stream
    assert stream is not None
    try:
        closed: Closed = yield close_stream(stream["id"])
    except NotFound:
        return None
    return closed.set_id


def _reason(error: Refused) -> str:
    """Why the service will never take it. Raises the error when it may later."""
    if error.status in _LATER:
        raise error
    return error.problem.code or "refused"


def _send(stream_id: str, kept: Kept) -> Call[BlockReceipt]:
    body = Whole(kept.body(), "application/cbor")
    return Call("POST", f"/v1/streams/{part(stream_id)}/blocks", BlockReceipt.read, body=body)
