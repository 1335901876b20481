"""The table of what was checked of a device: its check, known motions, the setting up of a string."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Column, ForeignKey, Index
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, UtcTime


class BenchRow(SQLModel, table=True):
    """One check. kind: check, motion or string. found: what was found, as JSON."""

    __tablename__ = "device_bench"
    __table_args__ = (Index("ix_device_bench_order", "device_id", "kind", "created_at", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), index=True, nullable=False))
    device_id: str = Field(sa_column=Column(ForeignKey("device.id", ondelete="CASCADE"), nullable=False))
    kind: str
    created_at: datetime = Field(default=None, sa_column=Column(UtcTime, nullable=False))
    found: Any = Field(default=None, sa_column=Column(JsonDocument, nullable=False))
