"""Received blocks of one stream."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import BindParameter, bindparam
from sqlmodel import Session, col, delete, func, select

from barwright.ingest.block import Block
from barwright.ingest.sequence import missing_ranges, next_seq
from barwright.storage.streams import Stream
from barwright.storage.tables import BlockBodyRow, BlockRow


@dataclass(frozen=True, slots=True)
class BootSpan:
    """What came of one device start: how many samples, and the time of its clock they span."""

    boot: str
    samples: int
    first_us: int
    last_us: int


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


@dataclass(frozen=True, slots=True)
class Around:
    """What is there around one identity. digest: of the block itself, None when it has not come yet.

    before, after: the nearest blocks of the same device start, as (seq, last time) and (seq, first time) in us.
    """

    digest: str | None
    before: tuple[int, int] | None
    after: tuple[int, int] | None


_STREAM: BindParameter[str] = bindparam("stream")
_BOOT: BindParameter[str] = bindparam("boot")
_SEQ: BindParameter[int] = bindparam("seq")
# Built once: this runs for every block, and building a statement costs more than running it.
_OF_BOOT = (col(BlockRow.stream_id) == _STREAM) & (col(BlockRow.boot) == _BOOT)
_ITSELF = select(BlockRow.digest).where(_OF_BOOT, col(BlockRow.seq) == _SEQ)
_BEFORE = (
    select(BlockRow.seq, BlockRow.last_us)
    .where(_OF_BOOT, col(BlockRow.seq) < _SEQ)
    .order_by(col(BlockRow.seq).desc())
    .limit(1)
)
_AFTER = (
    select(BlockRow.seq, BlockRow.first_us)
    .where(_OF_BOOT, col(BlockRow.seq) > _SEQ)
    .order_by(col(BlockRow.seq))
    .limit(1)
)
_NUMBERS = select(func.min(BlockRow.seq), func.max(BlockRow.seq), func.count()).where(_OF_BOOT)
_SEQS = select(BlockRow.seq).where(_OF_BOOT).order_by(col(BlockRow.seq))
_SPANS = (
    select(BlockRow.boot, func.sum(BlockRow.samples), func.min(BlockRow.first_us), func.max(BlockRow.last_us))
    .where(col(BlockRow.stream_id) == _STREAM)
    .group_by(BlockRow.boot)
    .order_by(func.min(BlockRow.id))
)


class BlockStore:
    """Blocks of one stream; whoever has the Stream has found it by its club."""

    def __init__(self, session: Session, stream: Stream) -> None:
        self._session = session
        self._stream_id = stream.id

    def around(self, boot: str, seq: int) -> Around:
        """What is known before a block is added."""
        asked = {"stream": self._stream_id, "boot": boot, "seq": seq}
        digest = self._session.execute(_ITSELF, asked).scalar()
        before, after = (self._session.execute(query, asked).first() for query in (_BEFORE, _AFTER))
        return Around(
            digest, None if before is None else (before[0], before[1]), None if after is None else (after[0], after[1])
        )

    def add(self, block: PackedBlock, now: datetime) -> None:
        """Keeps a block."""
        row = BlockRow(
            stream_id=self._stream_id,
            boot=block.boot,
            seq=block.seq,
            digest=block.digest,
            samples=block.samples,
            first_us=block.first_us,
            last_us=block.last_us,
            received_at=now,
        )
        self._session.add(row)
        self._session.flush()
        assert row.id is not None
        self._session.add(BlockBodyRow(block_id=row.id, stream_id=self._stream_id, body=block.body))

    def missing(self, boot: str) -> tuple[int, list[list[int]]]:
        """(number after the highest that came, ranges missing below it)."""
        asked = {"stream": self._stream_id, "boot": boot}
        lowest, highest, count = self._session.execute(_NUMBERS, asked).one()
        if lowest == 0 and count == highest + 1:
            return count, []
        seqs = list(self._session.execute(_SEQS, asked).scalars())
        return next_seq(seqs), missing_ranges(seqs)

    def spans(self) -> list[BootSpan]:
        """What came, per device start, in the order in which the starts were first heard of."""
        rows = self._session.execute(_SPANS, {"stream": self._stream_id})
        return [BootSpan(boot, int(samples), first, last) for boot, samples, first, last in rows]

    def unpacked(self) -> list[tuple[int, bytes]]:
        """(number of the row, stored form) of every block that is not in the stream's raw object."""
        query = select(BlockBodyRow.block_id, BlockBodyRow.body).where(BlockBodyRow.stream_id == self._stream_id)
        return [(number, body) for number, body in self._session.exec(query.order_by(col(BlockBodyRow.block_id)))]

    def drop_bodies(self, numbers: Sequence[int]) -> None:
        """Deletes the samples of these rows, once they are safe in the raw object."""
        for start in range(0, len(numbers), 500):
            some = numbers[start : start + 500]
            self._session.exec(delete(BlockBodyRow).where(col(BlockBodyRow.block_id).in_(some)))
