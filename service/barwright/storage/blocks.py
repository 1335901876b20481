"""Received blocks of one stream."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime
from typing import Any

from sqlalchemy import BindParameter, Executable, bindparam, delete, insert, select, update
from sqlmodel import Session

from barwright.ingest.block import Block
from barwright.ingest.sequence import missing_ranges, next_seq
from barwright.storage.streams import Stream, StreamForm
from barwright.storage.tables import METADATA


@dataclass(frozen=True, slots=True)
class BootSpan:
    """What came of one device start: blocks, samples, the time of its clock they span, and the highest number."""

    boot: str
    blocks: int
    samples: int
    first_us: int
    last_us: int
    last_seq: int

    def with_block(self, block: PackedBlock) -> BootSpan:
        """The same with one more block."""
        return BootSpan(
            self.boot,
            self.blocks + 1,
            self.samples + block.samples,
            min(self.first_us, block.first_us),
            max(self.last_us, block.last_us),
            max(self.last_seq, block.seq),
        )


@dataclass(frozen=True, slots=True)
class PackedBlock:
    """A block ready to be stored; made before the database is asked for its turn to write."""

    boot: str
    seq: int
    digest: str
    samples: int
    first_us: int
    last_us: int
    body: bytes

    @classmethod
    def of(cls, block: Block) -> PackedBlock:
        """From a checked block."""
        first_us, last_us = int(block.t_us[0]), int(block.t_us[-1])
        return cls(block.boot, block.seq, block.digest(), len(block.t_us), first_us, last_us, block.pack())

    def alone(self) -> BootSpan:
        """A device start that has only this block."""
        return BootSpan(self.boot, 1, self.samples, self.first_us, self.last_us, self.seq)


@dataclass(frozen=True, slots=True)
class Around:
    """What is there around one identity. digest: of the block itself, None when it has not come yet.

    before, after: the nearest blocks of the same device start, as (seq, last time) and (seq, first time) in us.
    """

    digest: str | None
    before: tuple[int, int] | None
    after: tuple[int, int] | None


_BLOCK, _BODY, _START = (METADATA.tables[name] for name in ("block", "block_body", "device_start"))
_STREAM: BindParameter[str] = bindparam("of_stream")
_BOOT: BindParameter[str] = bindparam("of_boot")
_SEQ: BindParameter[int] = bindparam("of_seq")
# Statements are built once and go past the session's bookkeeping: they run for every block that arrives.
_OF_BOOT = (_BLOCK.c.stream_id == _STREAM) & (_BLOCK.c.boot == _BOOT)
_ITSELF = select(_BLOCK.c.digest).where(_OF_BOOT, _BLOCK.c.seq == _SEQ)
_BEFORE = (
    select(_BLOCK.c.seq, _BLOCK.c.last_us).where(_OF_BOOT, _BLOCK.c.seq < _SEQ).order_by(_BLOCK.c.seq.desc()).limit(1)
)
_AFTER = select(_BLOCK.c.seq, _BLOCK.c.first_us).where(_OF_BOOT, _BLOCK.c.seq > _SEQ).order_by(_BLOCK.c.seq).limit(1)
_SEQS = select(_BLOCK.c.seq).where(_OF_BOOT).order_by(_BLOCK.c.seq)
_SPAN_COLUMNS = [_START.c[field.name] for field in fields(BootSpan)]
_SPANS = select(*_SPAN_COLUMNS).where(_START.c.stream_id == _STREAM).order_by(_START.c.id)
_NEW_BLOCK, _NEW_BODY, _NEW_START = insert(_BLOCK), insert(_BODY), insert(_START)
_GROWN = update(_START).where(_START.c.stream_id == _STREAM, _START.c.boot == _BOOT)


class BlockStore:
    """Blocks of one stream; whoever has the Stream has found it by its club."""

    def __init__(self, session: Session, stream: Stream | StreamForm) -> None:
        self._session = session
        self._stream_id = stream.id

    def spans(self) -> list[BootSpan]:
        """What came, per device start, in the order in which the starts were first heard of."""
        rows = self._run(_SPANS, {"of_stream": self._stream_id})
        return [BootSpan(*row) for row in rows]

    def around(self, known: BootSpan | None, seq: int) -> Around:
        """What is there around one number of a device start of which `known` has come."""
        if known is None:
            return Around(None, None, None)
        if seq > known.last_seq:  # the usual case needs no look: later numbers are later in time
            return Around(None, (known.last_seq, known.last_us), None)
        asked = {"of_stream": self._stream_id, "of_boot": known.boot, "of_seq": seq}
        digest = self._run(_ITSELF, asked).scalar()
        before, after = (self._run(query, asked).first() for query in (_BEFORE, _AFTER))
        return Around(
            digest, None if before is None else (before[0], before[1]), None if after is None else (after[0], after[1])
        )

    def add(self, block: PackedBlock, known: BootSpan | None, now: datetime) -> BootSpan:
        """Keeps a block of a device start of which `known` has come; answers what has come with it."""
        row = {
            "stream_id": self._stream_id,
            "boot": block.boot,
            "seq": block.seq,
            "digest": block.digest,
            "samples": block.samples,
            "first_us": block.first_us,
            "last_us": block.last_us,
            "received_at": now,
        }
        (number,) = self._run(_NEW_BLOCK, row).inserted_primary_key
        self._run(_NEW_BODY, {"block_id": number, "stream_id": self._stream_id, "body": block.body})
        if known is None:
            grown = block.alone()
            self._run(_NEW_START, {"stream_id": self._stream_id, **asdict(grown)})
        else:
            grown = known.with_block(block)
            self._run(_GROWN, {"of_stream": self._stream_id, "of_boot": block.boot, **_counts(grown)})
        return grown

    def missing(self, span: BootSpan) -> tuple[int, list[list[int]]]:
        """(number after the highest that came, ranges missing below it)."""
        if span.blocks == span.last_seq + 1:
            return span.blocks, []
        seqs = list(self._run(_SEQS, {"of_stream": self._stream_id, "of_boot": span.boot}).scalars())
        return next_seq(seqs), missing_ranges(seqs)

    def unpacked(self) -> list[tuple[int, bytes]]:
        """(number of the row, stored form) of every block that is not in the stream's raw object."""
        query = select(_BODY.c.block_id, _BODY.c.body).where(_BODY.c.stream_id == self._stream_id)
        return [(number, body) for number, body in self._run(query.order_by(_BODY.c.block_id))]

    def unpacked_of(self, boot: str, since_us: int | None) -> list[bytes]:
        """Stored forms of the blocks of one device start in order, those that end at since_us or later."""
        query = select(_BODY.c.body).join(_BLOCK, _BLOCK.c.id == _BODY.c.block_id)
        query = query.where(_BLOCK.c.stream_id == self._stream_id, _BLOCK.c.boot == boot)
        if since_us is not None:
            query = query.where(_BLOCK.c.last_us >= since_us)
        return list(self._run(query.order_by(_BLOCK.c.seq)).scalars())

    def unpacked_one(self, boot: str, seq: int) -> bytes | None:
        """The stored form of one block; None when it is in the raw object already."""
        query = select(_BODY.c.body).join(_BLOCK, _BLOCK.c.id == _BODY.c.block_id)
        query = query.where(_BLOCK.c.stream_id == self._stream_id, _BLOCK.c.boot == boot, _BLOCK.c.seq == seq)
        body: bytes | None = self._run(query).scalar()
        return body

    def drop_bodies(self, numbers: Sequence[int]) -> None:
        """Deletes the samples of these rows, once they are safe in the raw object."""
        for start in range(0, len(numbers), 500):
            self._run(delete(_BODY).where(_BODY.c.block_id.in_(numbers[start : start + 500])))

    def _run(self, statement: Executable, values: dict[str, Any] | None = None) -> Any:
        return self._session.connection().execute(statement, values)


def _counts(span: BootSpan) -> dict[str, int]:
    return {name: value for name, value in asdict(span).items() if name != "boot"}
