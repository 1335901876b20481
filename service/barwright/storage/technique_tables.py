"""Tables of drills a club changed, drills that were given, and what the coach looked at."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import Column, Date, ForeignKey, Index
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, UtcTime


def _time() -> Any:
    return Field(default=None, sa_column=Column(UtcTime, nullable=False))


def _owner(target: str) -> Any:
    return Field(sa_column=Column(ForeignKey(target, ondelete="CASCADE"), nullable=False))


class ClubDrillRow(SQLModel, table=True):
    """A drill a club added, or in which it differs from the published catalogue. facts: the members that differ."""

    __tablename__ = "club_drill"

    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), primary_key=True))
    code: str = Field(primary_key=True)
    facts: Any = Field(default=None, sa_column=Column(JsonDocument, nullable=False))
    changed_at: datetime = _time()


class PrescriptionRow(SQLModel, table=True):
    """A drill given to an athlete on a day. advised: the drill that was advised, where another was given instead.

    reason: why the advice was overridden; None where it was followed. lift: the lift whose fault it is for.
    """

    __tablename__ = "prescription"
    __table_args__ = (Index("ix_prescription_of_athlete", "athlete_id", "given_on", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    athlete_id: str = _owner("athlete.id")
    lift: str
    fault: str
    drill: str
    given_on: date = Field(sa_column=Column(Date, nullable=False))
    load_kg: float | None = None
    sets: int
    reps: int
    advised: str | None = None
    reason: str | None = None
    against_kg: float | None = None  # the load the fault was seen at: later lifts compare with it
    ended_on: date | None = Field(default=None, sa_column=Column(Date, nullable=True))
    created_at: datetime = _time()


class RemoteAthleteRow(SQLModel, table=True):
    """An athlete the coach cannot stand beside: their sets are put up for review."""

    __tablename__ = "remote_athlete"

    athlete_id: str = Field(sa_column=Column(ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True))
    club_id: str = _owner("club.id")


class LookedAtRow(SQLModel, table=True):
    """A set somebody of the club has looked at."""

    __tablename__ = "looked_at"

    set_id: str = Field(sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), primary_key=True))
    club_id: str = _owner("club.id")
    looked_at: datetime = _time()
