"""Tables of what happens while sets go on: events, open runs, feeds of devices that only stream; and of webhooks."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import BigInteger, Column, Date, ForeignKey, Index, LargeBinary, UniqueConstraint
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, RowNumber, UtcTime


def _time(nullable: bool = False) -> Any:
    return Field(default=None, sa_column=Column(UtcTime, nullable=nullable))


def _json(nullable: bool = False) -> Any:
    return Field(default=None, sa_column=Column(JsonDocument, nullable=nullable))


def _owner(target: str, index: bool = False) -> Any:
    return Field(sa_column=Column(ForeignKey(target, ondelete="CASCADE"), nullable=False, index=index))


def _number() -> Any:
    return Field(sa_column=Column(BigInteger, nullable=False))


class EventRow(SQLModel, table=True):
    """Something that happened; the id rises over all clubs and is never used again."""

    __tablename__ = "live_event"
    __table_args__ = (
        Index("ix_live_event_of_club", "club_id", "id"),
        Index("ix_live_event_of_stream", "stream_id", "id"),
        Index("ix_live_event_of_athlete", "athlete_id", "id"),
        {"sqlite_autoincrement": True},
    )

    id: int | None = Field(default=None, sa_column=Column(RowNumber, primary_key=True))
    club_id: str = _owner("club.id")
    stream_id: str = _owner("stream.id")
    athlete_id: str = _owner("athlete.id")
    kind: str
    at: datetime = _time()
    data: Any = _json()


class LiveRunRow(SQLModel, table=True):
    """What a live run has to remember, and the velocity loss at which the set is to be stopped."""

    __tablename__ = "live_run"

    stream_id: str = Field(sa_column=Column(ForeignKey("stream.id", ondelete="CASCADE"), primary_key=True))
    velocity_loss: float | None = None
    memory: Any = _json(nullable=True)


class FeedRow(SQLModel, table=True):
    """A device that only streams: what is lifted on it next, and its units."""

    __tablename__ = "feed"

    device_id: str = Field(sa_column=Column(ForeignKey("device.id", ondelete="CASCADE"), primary_key=True))
    club_id: str = _owner("club.id")
    told: Any = _json(nullable=True)
    units: Any = _json()


class FeedPieceRow(SQLModel, table=True):
    """Which blocks of a device's feed became a stream: from first_seq, to last_seq once it is closed."""

    __tablename__ = "feed_piece"
    __table_args__ = (Index("ix_feed_piece_of_device", "device_id", "boot", "first_seq"),)

    stream_id: str = Field(sa_column=Column(ForeignKey("stream.id", ondelete="CASCADE"), primary_key=True))
    device_id: str = _owner("device.id")
    boot: str
    first_seq: int = _number()
    last_seq: int | None = Field(default=None, sa_column=Column(BigInteger, nullable=True))


class FeedBlockRow(SQLModel, table=True):
    """The newest blocks of a device whose bar lies still; older ones are dropped."""

    __tablename__ = "feed_block"
    __table_args__ = (UniqueConstraint("device_id", "boot", "seq", name="uq_feed_block_identity"),)

    id: int | None = Field(default=None, sa_column=Column(RowNumber, primary_key=True))
    device_id: str = _owner("device.id")
    boot: str
    seq: int = _number()
    first_us: int = _number()
    last_us: int = _number()
    body: bytes = Field(sa_column=Column(LargeBinary, nullable=False))


class WebhookRow(SQLModel, table=True):
    """Where a club wants to be told of events. ended_at: the receiver said it is gone."""

    __tablename__ = "webhook"

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id", index=True)
    url: str
    secret: str
    kinds: Any = _json()
    created_at: datetime = _time()
    ended_at: datetime | None = _time(nullable=True)


class DeliveryRow(SQLModel, table=True):
    """One message to one webhook. state: due, delivered or dead."""

    __tablename__ = "delivery"
    __table_args__ = (
        Index("ix_delivery_due", "state", "next_at"),
        Index("ix_delivery_of_webhook", "webhook_id", "created_at", "id"),
    )

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    webhook_id: str = _owner("webhook.id")
    athlete_id: str = _owner("athlete.id", index=True)  # erased with the athlete
    kind: str
    body: str
    state: str
    attempts: int = 0
    created_at: datetime = _time()
    next_at: datetime = _time()
    status: int | None = None
    error: str | None = None


class ToldReadinessRow(SQLModel, table=True):
    """The verdict on an athlete's lift that webhooks were last told of a day; kept with their messages."""

    __tablename__ = "told_readiness"

    athlete_id: str = Field(sa_column=Column(ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True))
    lift: str = Field(primary_key=True)
    day: date = Field(sa_column=Column(Date, primary_key=True))
    club_id: str = _owner("club.id")
    verdict: str
    told_at: datetime = _time()
