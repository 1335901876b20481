"""A block arrives: decoded, checked against its neighbours, durable; only then acknowledged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.ingest.declared_units import check_declared
from barwright.ingest.decode import decode_block
from barwright.ingest.limits import Limits
from barwright.ingest.recording_of import other_content
from barwright.ingest.refusals import Refusal
from barwright.storage.blocks import Around, BlockStore, BootSpan, PackedBlock
from barwright.storage.sets import SetStore
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.parts import Parts
from barwright.workflows.set_queue import SetQueue


@dataclass(frozen=True, slots=True)
class BlockReceipt:
    """stored: False when this very block was here before. missing: rising [first, last] pairs below next_seq."""

    stored: bool
    next_seq: int
    missing: list[list[int]]
    received_at: datetime


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
    with parts.database.reading() as session:
        stream = StreamStore(session, caller.club_id).form(stream_id)
    if stream is None:
        raise not_found("stream", stream_id)
    block = decode_block(sent.body, sent.content_type, sent.content_encoding, stream.kind, parts.limits)
    check_declared(block, stream.units)
    packed = PackedBlock.of(block)
    now = parts.now()
    with parts.database.writing() as session:
        closed = StreamStore(session, caller.club_id).take_turn(stream_id)
        if closed is None:  # erased in between
            raise not_found("stream", stream_id)
        store = BlockStore(session, stream)
        stored, span = add_block(store, packed, parts.limits, now)
        if stored and closed:
            SetStore(session, caller.club_id).mark_analysing(stream.set_id)
        next_seq, missing = store.missing(span)
    if stored and closed:
        queue.request(caller.club_id, stream.set_id)
    elif stored:
        parts.live.take(caller.club_id, stream_id, block, packed.body)
    return BlockReceipt(stored, next_seq, missing, now)


def find_stream(session: Session, caller: Caller, stream_id: str) -> Stream:
    """The caller's stream. Raises Cannot when the club has none with this id."""
    stream = StreamStore(session, caller.club_id).get(stream_id)
    if stream is None:
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
    _check_order(around, block)
    grown = block.alone() if known is None else known.with_block(block)
    _check_length([*({**spans, block.boot: grown}).values()], limits)
    return True, store.add(block, known, now)


def _check_order(around: Around, block: PackedBlock) -> None:
    first, last = block.first_us, block.last_us
    before, after = around.before, around.after
    if before is not None and first < before[1]:
        raise Refusal(
            "time-runs-backwards",
            f"Block {block.seq} begins at {first} us, before block {before[0]} ends ({before[1]} us). Within one boot "
            "a block with a higher seq has to hold later samples; after a restart of the device use a new boot.",
            "/t_us",
        )
    if after is not None and last > after[1]:
        raise Refusal(
            "time-runs-backwards",
            f"Block {block.seq} ends at {last} us, after block {after[0]} begins ({after[1]} us). Within one boot "
            "a block with a higher seq has to hold later samples; after a restart of the device use a new boot.",
            "/t_us",
        )


def _check_length(spans: list[BootSpan], limits: Limits) -> None:
    length_s = sum(one.last_us - one.first_us for one in spans) / 1e6
    if length_s > limits.stream_seconds:
        raise _too_long(f"last {length_s:.1f} s", f"{limits.stream_seconds:g} s")
    samples = sum(one.samples for one in spans)
    if samples > limits.stream_samples:
        raise _too_long(f"have {samples} samples", f"{limits.stream_samples}")


def _too_long(would: str, limit: str) -> Cannot:
    return Cannot(
        "stream-too-long",
        f"With this block the stream would {would}; the limit is {limit}. Close this stream and begin a new one.",
    )
