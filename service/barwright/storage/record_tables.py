"""Tables of what was done: who changed what, and how each analysis went. Rows are added, never changed."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Column, ForeignKey, Index
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, RowNumber, UtcTime


class AuditRow(SQLModel, table=True):
    """One thing somebody did. by: id of a key or a coach. subject: id of what it was done to; never a name.

    Triggers of the migration keep rows from being changed or deleted.
    """

    __tablename__ = "audit_entry"
    __table_args__ = (Index("ix_audit_entry_order", "club_id", "id"),)

    id: int | None = Field(default=None, sa_column=Column(RowNumber, primary_key=True))
    club_id: str = Field(sa_column=Column(ForeignKey("club.id"), nullable=False))
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    by: str
    what: str
    subject: str | None = None
    details: Any = Field(default=None, sa_column=Column(JsonDocument, nullable=False))
    request_id: str | None = None


class AnalysisRunRow(SQLModel, table=True):
    """One analysis that was done. outcome: analysed, unusable or failed; reason_code: why it was not analysed."""

    __tablename__ = "analysis_run"
    __table_args__ = (Index("ix_analysis_run_order", "club_id", "id"),)

    id: int | None = Field(default=None, sa_column=Column(RowNumber, primary_key=True))
    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), nullable=False))
    set_id: str = Field(sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), nullable=False, index=True))
    ended_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
    seconds: float
    samples: int
    outcome: str
    reason_code: str | None = None
