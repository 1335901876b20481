"""Received blocks of one stream."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, delete, func, select

from barwright.ingest.block import Block
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
class Numbers:
    """The lowest and highest number of one device start, and how many there are."""

    lowest: int
    highest: int
    count: int


class BlockStore:
    """Blocks of one stream; whoever has the Stream has found it by its club."""

    def __init__(self, session: Session, stream: Stream) -> None:
        self._session = session
        self._stream_id = stream.id

    def digest_of(self, boot: str, seq: int) -> str | None:
        """The digest of the block with this identity, None when it has not come yet."""
        query = self._of_boot(select(BlockRow.digest), boot).where(BlockRow.seq == seq)
        digest: str | None = self._session.exec(query).first()
        return digest

    def add(self, block: Block, digest: str, now: datetime) -> None:
        """Keeps a block."""
        row = BlockRow(
            stream_id=self._stream_id,
            boot=block.boot,
            seq=block.seq,
            digest=digest,
            samples=len(block.t_us),
            first_us=int(block.t_us[0]),
            last_us=int(block.t_us[-1]),
            received_at=now,
        )
        self._session.add(row)
        self._session.flush()
        assert row.id is not None
        self._session.add(BlockBodyRow(block_id=row.id, stream_id=self._stream_id, body=block.pack()))

    def last_us_before(self, boot: str, seq: int) -> tuple[int, int] | None:
        """(seq, time of the last sample) of the nearest earlier block of this device start."""
        query = self._of_boot(select(BlockRow.seq, BlockRow.last_us), boot).where(BlockRow.seq < seq)
        found = self._session.exec(query.order_by(col(BlockRow.seq).desc())).first()
        return None if found is None else (found[0], found[1])

    def first_us_after(self, boot: str, seq: int) -> tuple[int, int] | None:
        """(seq, time of the first sample) of the nearest later block of this device start."""
        query = self._of_boot(select(BlockRow.seq, BlockRow.first_us), boot).where(BlockRow.seq > seq)
        found = self._session.exec(query.order_by(col(BlockRow.seq))).first()
        return None if found is None else (found[0], found[1])

    def numbers(self, boot: str) -> Numbers | None:
        """Lowest, highest and how many."""
        query = self._of_boot(select(func.min(BlockRow.seq), func.max(BlockRow.seq), func.count()), boot)
        low, high, count = self._session.exec(query).one()
        return None if low is None else Numbers(low, high, count)

    def seqs(self, boot: str) -> list[int]:
        """Every number that came, rising."""
        return list(self._session.exec(self._of_boot(select(BlockRow.seq), boot).order_by(col(BlockRow.seq))))

    def spans(self) -> list[BootSpan]:
        """What came, per device start, in the order in which the starts were first heard of."""
        query = (
            select(BlockRow.boot, func.sum(BlockRow.samples), func.min(BlockRow.first_us), func.max(BlockRow.last_us))
            .where(BlockRow.stream_id == self._stream_id)
            .group_by(BlockRow.boot)
            .order_by(func.min(BlockRow.id))
        )
        return [BootSpan(boot, int(samples), first, last) for boot, samples, first, last in self._session.exec(query)]

    def unpacked(self) -> list[tuple[int, bytes]]:
        """(number of the row, stored form) of every block that is not in the stream's raw object."""
        query = select(BlockBodyRow.block_id, BlockBodyRow.body).where(BlockBodyRow.stream_id == self._stream_id)
        return [(number, body) for number, body in self._session.exec(query.order_by(col(BlockBodyRow.block_id)))]

    def drop_bodies(self, numbers: Sequence[int]) -> None:
        """Deletes the samples of these rows, once they are safe in the raw object."""
        for start in range(0, len(numbers), 500):
            some = numbers[start : start + 500]
            self._session.exec(delete(BlockBodyRow).where(col(BlockBodyRow.block_id).in_(some)))

    def _of_boot(self, query: Any, boot: str) -> Any:
        return query.where(BlockRow.stream_id == self._stream_id).where(BlockRow.boot == boot)
