"""Feeds of devices that only stream: what is lifted next, which blocks became which stream, the newest idle ones."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, delete, func, or_, select

from barwright.storage.live_tables import FeedBlockRow, FeedPieceRow, FeedRow
from barwright.storage.tables import BlockRow, DeviceRow


@dataclass(frozen=True, slots=True)
class NextSet:
    """What is lifted next on a device. velocity_loss: % lost at which to stop."""

    athlete_id: str
    lift: str
    load_kg: float
    velocity_loss: float | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """The part of a device's feed that became a stream, by block number; last_seq None while it is open."""

    stream_id: str
    boot: str
    first_seq: int
    last_seq: int | None


@dataclass(frozen=True, slots=True)
class IdleBlock:
    """A block that belongs to no set yet, in its stored form."""

    seq: int
    first_us: int
    last_us: int
    body: bytes


class FeedStore:
    """Reads and writes the feed of one device; whoever has its id has found it by its club."""

    def __init__(self, session: Session, club_id: str, device_id: str) -> None:
        self._session = session
        self._club_id = club_id
        self._device_id = device_id

    def told(self) -> tuple[NextSet | None, dict[str, str]]:
        """(what is lifted next, the declared units); nothing when nobody said anything."""
        row = self._row()
        if row is None:
            return None, {}
        return None if row.told is None else NextSet(**row.told), dict(row.units)

    def tell(self, told: NextSet, units: dict[str, str]) -> None:
        """What is lifted next, and in which units the device measures."""
        row = self._row()
        if row is None:
            row = FeedRow(device_id=self._device_id, club_id=self._club_id, units={})
            self._session.add(row)
        row.told, row.units = asdict(told), units

    def piece_of(self, boot: str, seq: int) -> Piece | None:
        """The piece a block belongs to; None when it lies between two."""
        query = self._pieces().where(FeedPieceRow.boot == boot, col(FeedPieceRow.first_seq) <= seq)
        query = query.where(or_(col(FeedPieceRow.last_seq).is_(None), col(FeedPieceRow.last_seq) >= seq))
        return _piece(self._session.exec(query.order_by(col(FeedPieceRow.first_seq).desc())).first())

    def open_piece(self) -> Piece | None:
        """The piece that goes on now."""
        return _piece(self._session.exec(self._pieces().where(col(FeedPieceRow.last_seq).is_(None))).first())

    def begin_piece(self, stream_id: str, boot: str, first_seq: int) -> None:
        """From this block on the feed is a stream."""
        self._session.add(FeedPieceRow(stream_id=stream_id, device_id=self._device_id, boot=boot, first_seq=first_seq))

    def end_piece(self, stream_id: str, last_seq: int) -> None:
        """This was the last block of a stream."""
        row = self._session.exec(self._pieces().where(FeedPieceRow.stream_id == stream_id)).one()
        row.last_seq = last_seq

    def end_quiet_piece(self, stream_id: str, before: datetime) -> bool:
        """The stream ends with what has come of it; False when a block came meanwhile, or it has ended."""
        row = self._session.exec(self._pieces().where(FeedPieceRow.stream_id == stream_id)).one_or_none()
        query = select(func.max(col(BlockRow.seq)), func.max(col(BlockRow.received_at)))
        highest, newest = self._session.exec(query.where(BlockRow.stream_id == stream_id)).one()
        if row is None or row.last_seq is not None or newest is None or newest >= before:
            return False
        row.last_seq = row.first_seq + highest
        return True

    def keep_idle(self, boot: str, block: IdleBlock, oldest_us: int) -> bool:
        """Keeps a block between two sets and drops those that end before oldest_us; False when it is there already."""
        seqs = {one.seq for one in self.idle(boot)}
        if block.seq in seqs:
            return False
        self._session.add(FeedBlockRow(device_id=self._device_id, boot=boot, **asdict(block)))
        stale = or_(col(FeedBlockRow.boot) != boot, col(FeedBlockRow.last_us) < oldest_us)
        self._session.exec(delete(FeedBlockRow).where(col(FeedBlockRow.device_id) == self._device_id, stale))
        return True

    def idle(self, boot: str) -> list[IdleBlock]:
        """The idle blocks of one device start, in order."""
        query = select(FeedBlockRow).where(FeedBlockRow.device_id == self._device_id, FeedBlockRow.boot == boot)
        rows = self._session.exec(query.order_by(col(FeedBlockRow.seq)))
        return [IdleBlock(row.seq, row.first_us, row.last_us, row.body) for row in rows]

    def drop_idle(self) -> None:
        """Forgets all idle blocks of the device."""
        self._session.exec(delete(FeedBlockRow).where(col(FeedBlockRow.device_id) == self._device_id))

    def _row(self) -> FeedRow | None:
        query = select(FeedRow).where(FeedRow.club_id == self._club_id, FeedRow.device_id == self._device_id)
        return self._session.exec(query).first()

    def _pieces(self) -> Any:
        query = select(FeedPieceRow).join(DeviceRow, col(DeviceRow.id) == col(FeedPieceRow.device_id))
        return query.where(DeviceRow.club_id == self._club_id, FeedPieceRow.device_id == self._device_id)


@dataclass(frozen=True, slots=True)
class QuietPiece:
    """An open piece of a device's feed of which nothing has come for a while."""

    club_id: str
    device_id: str
    stream_id: str
    boot: str


def quiet_pieces(session: Session, before: datetime) -> list[QuietPiece]:
    """Of every club: open pieces whose newest block came before this time."""
    newest = func.max(col(BlockRow.received_at))
    query = (
        select(DeviceRow.club_id, FeedPieceRow.device_id, FeedPieceRow.stream_id, FeedPieceRow.boot)
        .join(DeviceRow, col(DeviceRow.id) == col(FeedPieceRow.device_id))
        .join(BlockRow, col(BlockRow.stream_id) == col(FeedPieceRow.stream_id))
        .where(col(FeedPieceRow.last_seq).is_(None))
        .group_by(
            col(DeviceRow.club_id), col(FeedPieceRow.device_id), col(FeedPieceRow.stream_id), col(FeedPieceRow.boot)
        )
        .having(newest < before)
    )
    return [QuietPiece(*row) for row in session.exec(query)]


def _piece(row: FeedPieceRow | None) -> Piece | None:
    return None if row is None else Piece(row.stream_id, row.boot, row.first_seq, row.last_seq)
