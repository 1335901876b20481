"""What a spool still has to send, as steps: open, blocks in order, close. No network here."""

from __future__ import annotations

from dataclasses import dataclass

from barwright_client.answers import BlockReceipt, Closed, Stream
from barwright_client.bodies import Whole, json_body
from barwright_client.call import Call, Steps, part
from barwright_client.errors import NotAllowed, NotSignedIn, Refused, TooFast
from barwright_client.spool import Kept, Spool, SpooledSet
from barwright_client.stream_calls import close_stream

_LATER = (NotSignedIn, NotAllowed, TooFast)  # the block may be fine: it stays


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay did: blocks sent, samples the service refused, and the sets that are whole now (their ids)."""

    blocks: int
    refused: int
    sets: tuple[str, ...]


def replay(spool: Spool) -> Steps[Replayed]:
    """Sends everything in the spool, the oldest first. Stops at the first call that cannot be made now, and raises."""
    blocks, refused, done = 0, 0, []
    for one in spool.sets():
        sent, lost, set_id = yield from send_set(one)
        blocks, refused = blocks + sent, refused + lost
        if set_id is not None:
            done.append(set_id)
    return Replayed(blocks, refused, tuple(done))


def send_set(one: SpooledSet) -> Steps[tuple[int, int, str | None]]:
    """Sends what there is of one set, and closes it when that is all of it; (blocks sent, samples refused, its id)."""
    ended = one.ended  # asked before its blocks are listed: what is put in later goes with the next round
    sent, refused = yield from _send_blocks(one)
    if not ended or one.stream is None or not one.folder.exists():
        return sent, refused, None
    set_id = yield from _close(one)
    return sent, refused, set_id


def _send_blocks(one: SpooledSet) -> Steps[tuple[int, int]]:
    """Opens the stream if need be and sends the blocks there are now; (blocks sent, samples refused)."""
    sent = refused = 0
    if one.stream is None:
        try:
            opened: Stream = yield Call("POST", "/v1/streams", Stream.read, body=json_body(one.about), key=one.key)
        except _LATER:
            raise
        except Refused as error:
            reason = error.problem.code or "refused"
            for kept in one.blocks():
                refused += kept.samples
                one.lost(kept, reason)
            one.drop()
            return sent, refused
        one.opened(opened.id, opened.set_id)
    stream = one.stream
    assert stream is not None
    for kept in one.blocks():
        try:
            yield _send(stream["id"], kept)
        except _LATER:
            raise
        except Refused as error:
            refused += kept.samples
            one.lost(kept, error.problem.code or "refused")
            continue
        one.sent(kept)
        sent += 1
    return sent, refused


def _close(one: SpooledSet) -> Steps[str]:
    stream = one.stream
    assert stream is not None
    closed: Closed = yield close_stream(stream["id"])
    one.drop()
    return closed.set_id


def _send(stream_id: str, kept: Kept) -> Call[BlockReceipt]:
    body = Whole(kept.body(), "application/cbor")
    return Call("POST", f"/v1/streams/{part(stream_id)}/blocks", BlockReceipt.read, body=body)
