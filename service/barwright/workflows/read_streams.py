"""What has come of a stream."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.storage.blocks import BlockStore
from barwright.storage.streams import Stream, StreamStore
from barwright.workflows.parts import Parts
from barwright.workflows.receive_block import find_stream


@dataclass(frozen=True, slots=True)
class ReceivedBoot:
    """What came of one device start. missing: rising [first, last] pairs below next_seq."""

    boot: str
    next_seq: int
    missing: list[list[int]]
    samples: int
    duration_s: float


@dataclass(frozen=True, slots=True)
class StreamState:
    """A stream and what came of it."""

    stream: Stream
    received: tuple[ReceivedBoot, ...]


def read_stream(parts: Parts, caller: Caller, stream_id: str) -> StreamState:
    """One stream with what came of it."""
    with parts.database.reading() as session:
        stream = find_stream(session, caller, stream_id)
        return StreamState(stream, received_of(session, stream))


def list_streams(parts: Parts, caller: Caller, after: tuple[datetime, str] | None, limit: int) -> list[Stream]:
    """Streams, the newest first."""
    with parts.database.reading() as session:
        return StreamStore(session, caller.club_id).page(after, limit)


def received_of(session: Session, stream: Stream) -> tuple[ReceivedBoot, ...]:
    """What came, per device start."""
    store = BlockStore(session, stream)
    out = []
    for span in store.spans():
        next_seq, missing = store.missing(span)
        duration_s = (span.last_us - span.first_us) / 1e6
        out.append(ReceivedBoot(span.boot, next_seq, missing, span.samples, duration_s))
    return tuple(out)


def missing_words(received: tuple[ReceivedBoot, ...]) -> tuple[str, ...]:
    """One plain sentence per device start that has blocks missing."""
    return tuple(
        f"{_blocks(boot.missing)} of the device start {boot.boot} never arrived." for boot in received if boot.missing
    )


def _blocks(missing: list[list[int]]) -> str:
    word = "Block" if len(missing) == 1 and missing[0][0] == missing[0][1] else "Blocks"
    return f"{word} {', '.join(_range_words(one) for one in missing)}"


def _range_words(one: list[int]) -> str:
    first, last = one
    return str(first) if first == last else f"{first} to {last}"
