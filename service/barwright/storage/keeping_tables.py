"""Tables of what becomes of raw samples: which are kept in part or no more, and which objects are still to delete."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Column, ForeignKey
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, UtcTime


class ThinnedRow(SQLModel, table=True):
    """A stream whose raw samples are no longer as they came. form: packed, around_reps or dropped.

    facts: what it was and is in samples, bytes and seconds, and how far the figures moved by it.
    """

    __tablename__ = "thinned_stream"

    stream_id: str = Field(sa_column=Column(ForeignKey("stream.id", ondelete="CASCADE"), primary_key=True))
    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), nullable=False, index=True))
    form: str
    facts: Any = Field(default=None, sa_column=Column(JsonDocument, nullable=False))
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class DoomedRow(SQLModel, table=True):
    """A raw object of something erased, until the store has deleted it: the store may be away just then."""

    __tablename__ = "doomed_object"

    name: str = Field(primary_key=True)
    since: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class RoundRow(SQLModel, table=True):
    """A set that a round over the whole archive has analysed again."""

    __tablename__ = "round_done"

    round: str = Field(primary_key=True)
    set_id: str = Field(sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), primary_key=True))
    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), nullable=False, index=True))
    at: datetime = Field(sa_column=Column(UtcTime, nullable=False))
