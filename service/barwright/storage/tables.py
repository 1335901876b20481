"""All tables. Wire shapes live in api/, frozen answers in the stores; rows never leave this folder."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import BigInteger, Column, Date, ForeignKey, Index, LargeBinary, UniqueConstraint
from sqlmodel import Field, SQLModel

from barwright.storage.column_types import JsonDocument, RowNumber, UtcTime

# Names for what SQLAlchemy leaves unnamed: SQLite's batch migrations find constraints by name only.
METADATA = SQLModel.metadata
METADATA.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


def _time(nullable: bool = False) -> Any:
    return Field(default=None, sa_column=Column(UtcTime, nullable=nullable))


def _json(nullable: bool = False) -> Any:
    return Field(default=None, sa_column=Column(JsonDocument, nullable=nullable))


def _number() -> Any:
    return Field(default=None, sa_column=Column(RowNumber, primary_key=True))


def _bytes() -> Any:
    return Field(sa_column=Column(LargeBinary, nullable=False))


def _owner(target: str, index: bool = True) -> Any:
    return Field(sa_column=Column(ForeignKey(target, ondelete="CASCADE"), nullable=False, index=index))


class ClubRow(SQLModel, table=True):
    __tablename__ = "club"

    id: str = Field(primary_key=True)
    name: str = Field(unique=True)
    created_at: datetime = _time()


class ApiKeyRow(SQLModel, table=True):
    __tablename__ = "api_key"

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    digest: str = Field(unique=True)
    scopes: str
    created_at: datetime = _time()
    revoked_at: datetime | None = _time(nullable=True)
    label: str | None = None
    hint: str | None = None  # its first letters, to tell keys apart by
    device_id: str | None = Field(
        default=None, sa_column=Column(ForeignKey("device.id", ondelete="CASCADE"), nullable=True, index=True)
    )
    expires_at: datetime | None = _time(nullable=True)
    last_used_at: datetime | None = _time(nullable=True)
    replaced_by: str | None = None


class AthleteRow(SQLModel, table=True):
    __tablename__ = "athlete"
    __table_args__ = (UniqueConstraint("club_id", "name", name="uq_athlete_name"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id", index=False)
    name: str
    birth_year: int | None = None
    sex: str | None = None
    body_mass_kg: float | None = None
    stature_m: float | None = None
    level: str | None = None
    consent_on: date | None = Field(default=None, sa_column=Column(Date, nullable=True))
    guardian_note: str | None = None
    created_at: datetime = _time()
    changed: str | None = None  # drawn anew by triggers of the migration


class DeviceRow(SQLModel, table=True):
    __tablename__ = "device"
    __table_args__ = (UniqueConstraint("club_id", "name", name="uq_device_name"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id", index=False)
    name: str
    kind: str
    mounting: Any = _json()
    device_class: str | None = None
    ranges: Any = _json()
    created_at: datetime = _time()


class CalibrationRow(SQLModel, table=True):
    __tablename__ = "calibration"
    __table_args__ = (Index("ix_calibration_order", "device_id", "created_at", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    device_id: str = _owner("device.id", index=False)
    created_at: datetime = _time()
    found: Any = _json()


class StreamRow(SQLModel, table=True):
    __tablename__ = "stream"
    __table_args__ = (
        Index("ix_stream_order", "club_id", "created_at", "id"),
        Index("ix_stream_of_device", "device_id", "created_at", "id"),
    )

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id", index=False)
    athlete_id: str = _owner("athlete.id")
    device_id: str = _owner("device.id", index=False)
    lift: str
    load_kg: float
    started_at: datetime = _time()
    units: Any = _json()
    rate_hz: float | None = None
    setup: Any = _json()  # the device as it was when the stream began
    notes: Any = _json()
    created_at: datetime = _time()
    closed_at: datetime | None = _time(nullable=True)
    raw_object: str | None = None
    raw_digest: str | None = None


class BlockRow(SQLModel, table=True):
    """What is known of a received block; stays after its samples have moved into the stream's raw object."""

    __tablename__ = "block"
    __table_args__ = (UniqueConstraint("stream_id", "boot", "seq", name="uq_block_identity"),)

    id: int | None = _number()
    stream_id: str = _owner("stream.id", index=False)
    boot: str
    seq: int = Field(sa_column=Column(BigInteger, nullable=False))
    digest: str
    samples: int
    first_us: int = Field(sa_column=Column(BigInteger, nullable=False))
    last_us: int = Field(sa_column=Column(BigInteger, nullable=False))
    received_at: datetime = _time()


class DeviceStartRow(SQLModel, table=True):
    """What has come of one device start, kept up with every block: no block needs a look at all those before it."""

    __tablename__ = "device_start"
    __table_args__ = (UniqueConstraint("stream_id", "boot", name="uq_device_start"),)

    id: int | None = _number()
    stream_id: str = _owner("stream.id", index=False)
    boot: str
    blocks: int
    samples: int
    first_us: int = Field(sa_column=Column(BigInteger, nullable=False))
    last_us: int = Field(sa_column=Column(BigInteger, nullable=False))
    last_seq: int = Field(sa_column=Column(BigInteger, nullable=False))


class BlockBodyRow(SQLModel, table=True):
    """The packed samples of a block that is not yet in the stream's raw object."""

    __tablename__ = "block_body"

    block_id: int = Field(sa_column=Column(RowNumber, ForeignKey("block.id", ondelete="CASCADE"), primary_key=True))
    stream_id: str = _owner("stream.id")
    body: bytes = _bytes()


class SetRow(SQLModel, table=True):
    __tablename__ = "lift_set"
    __table_args__ = (
        Index("ix_lift_set_order", "club_id", "started_at", "id"),
        Index("ix_lift_set_of_athlete", "athlete_id", "started_at", "id"),
        Index("ix_lift_set_of_lift", "club_id", "lift", "started_at", "id"),
    )

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id", index=False)
    stream_id: str = Field(sa_column=Column(ForeignKey("stream.id", ondelete="CASCADE"), nullable=False, unique=True))
    athlete_id: str = _owner("athlete.id", index=False)
    device_id: str = _owner("device.id")
    lift: str
    load_kg: float
    started_at: datetime = _time()
    state: str = Field(index=True)
    asked: int = 0  # how often its analysis was asked for: one that began before the last time is not the last
    revision: int = 0
    method: str | None = None
    quality: Any = _json(nullable=True)
    notes: Any = _json()
    reason: str | None = None
    reason_code: str | None = None
    analysed_at: datetime | None = _time(nullable=True)
    calibration_id: str | None = None  # stays when the calibration is deleted: it says what the results rest on


class RepRow(SQLModel, table=True):
    __tablename__ = "rep"

    set_id: str = Field(sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), primary_key=True))
    index: int = Field(primary_key=True)
    outcome: str
    start_s: float
    stop_s: float
    measures: Any = _json()
    phases: Any = _json()
    path_measures: Any = _json()
    notes: Any = _json()
    path: bytes = _bytes()


class HeartbeatRow(SQLModel, table=True):
    """One row, written to find out whether anything can be written."""

    __tablename__ = "heartbeat"

    id: int = Field(primary_key=True)
    at: datetime = _time()


class AnswerRow(SQLModel, table=True):
    """What was answered to a request that carried an Idempotency-Key."""

    __tablename__ = "answer"

    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), primary_key=True))
    key: str = Field(primary_key=True)
    payload_digest: str
    body: bytes = _bytes()
    created_at: datetime = Field(sa_column=Column(UtcTime, nullable=False, index=True))
