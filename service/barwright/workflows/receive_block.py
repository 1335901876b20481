"""A block arrives: decoded, checked against its neighbours, durable; only then acknowledged."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.ingest.declared_units import check_declared
from barwright.ingest.decode import decode_block
from barwright.ingest.limits import Limits
from barwright.ingest.recording_of import other_content
from barwright.live.follower import NewBlock
from barwright.storage.blocks import BlockStore, BootSpan, PackedBlock
from barwright.storage.streams import Stream, StreamForm, StreamStore
from barwright.workflows.block_order import check_length, check_order
from barwright.workflows.cannot import not_found
from barwright.workflows.commit_blocks import AfterCommit, Arrival, BlockReceipt, Kept, commit_arrivals
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue

AT_ONCE_BYTES = 65_536  # of a body that is read faster than another thread would be woken for it


@dataclass(frozen=True, slots=True)
class SentBlock:
    """One block as bytes, and what its headers said of them."""

    body: bytes
    content_type: str
    content_encoding: str | None


def receive_block(parts: Parts, queue: SetQueue, caller: Caller, stream_id: str, sent: SentBlock) -> BlockReceipt:
    """Takes one block whole, knows it already, or refuses it whole. Raises Cannot and Refusal.

    A block that comes after the stream was closed is taken too, and its set analysed anew.
    """
    arrival = read_block(parts, caller, stream_form(parts, caller, stream_id), sent)
    if parts.writer is not None:
        return parts.writer.store(arrival)
    (outcome,) = commit_arrivals(parts.database, parts.limits, parts.now(), [arrival])
    if not isinstance(outcome, Kept):
        raise outcome
    if outcome.receipt.stored:
        pass_on(parts, queue)([(arrival, outcome)])
    return outcome.receipt


async def receive_soon(parts: Parts, caller: Caller, form: StreamForm, sent: SentBlock) -> BlockReceipt:
    """The same in the service's loop, for a stream that is known; a large or packed block is read in a thread."""
    assert parts.writer is not None
    if len(sent.body) > AT_ONCE_BYTES or sent.content_encoding is not None:
        arrival = await asyncio.to_thread(read_block, parts, caller, form, sent)
    else:
        arrival = read_block(parts, caller, form, sent)
    return await parts.writer.store_soon(arrival)


def stream_form(parts: Parts, caller: Caller, stream_id: str) -> StreamForm:
    """What a block of the caller's stream has to fit; it never changes. Raises Cannot when the club has none of it."""
    found = parts.forms.get(caller.club_id, stream_id)
    if found is None:
        with parts.database.reading() as session:
            found = StreamStore(session, caller.club_id).form(stream_id)
        if found is not None:
            parts.forms.keep(caller.club_id, found)
    if found is None or not caller.has_device(found.device_id):
        raise not_found("stream", stream_id)
    return found


def read_block(parts: Parts, caller: Caller, form: StreamForm, sent: SentBlock) -> Arrival:
    """The checked block in these bytes. Raises Refusal."""
    block = decode_block(sent.body, sent.content_type, sent.content_encoding, form.kind, parts.limits, form.units)
    check_declared(block, form.units)
    return Arrival(caller.club_id, form, block, PackedBlock.of(block))


def pass_on(parts: Parts, queue: SetQueue) -> AfterCommit:
    """Who is told of blocks that are durable: the open sets' follower, and the analysis of closed ones."""

    def told(stored: Sequence[tuple[Arrival, Kept]]) -> None:
        for arrival, kept in stored:
            if kept.closed:
                queue.request(arrival.club_id, arrival.form.set_id)
        parts.live.take(
            [NewBlock(one.club_id, one.form.id, one.block, one.packed.body) for one, kept in stored if not kept.closed]
        )

    return told


def find_stream(session: Session, caller: Caller, stream_id: str) -> Stream:
    """The caller's stream. Raises Cannot when the club has none with this id."""
    stream = StreamStore(session, caller.club_id).get(stream_id)
    if stream is None or not caller.has_device(stream.told.device_id):
        raise not_found("stream", stream_id)
    return stream


def add_block(store: BlockStore, block: PackedBlock, limits: Limits, now: datetime) -> tuple[bool, BootSpan]:
    """Keeps a block; False when it is known already. With it what came of its device start. Raises Cannot, Refusal."""
    spans = {one.boot: one for one in store.spans()}
    known = spans.get(block.boot)
    around = store.around(known, block.seq)
    if known is not None and around.digest == block.digest:
        return False, known
    if around.digest is not None:
        raise other_content(block.boot, block.seq)
    check_order(around, block)
    grown = block.alone() if known is None else known.with_block(block)
    check_length({**spans, block.boot: grown}.values(), limits)
    return True, store.add(block, known, now)
