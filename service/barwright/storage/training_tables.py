"""Tables of what a coach tells and plans, and of the efforts that profiles are drawn from."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import Column, Date, ForeignKey, Index
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first, for its names of constraints
from barwright.storage.column_types import JsonDocument, UtcTime


def _time() -> Any:
    return Field(default=None, sa_column=Column(UtcTime, nullable=False))


def _day() -> Any:
    return Field(sa_column=Column(Date, nullable=False))


def _json() -> Any:
    return Field(default=None, sa_column=Column(JsonDocument, nullable=False))


def _owner(target: str) -> Any:
    return Field(sa_column=Column(ForeignKey(target, ondelete="CASCADE"), nullable=False))


class ClubSettingsRow(SQLModel, table=True):
    """What a club told of itself; a club without a row has the defaults."""

    __tablename__ = "club_settings"

    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), primary_key=True))
    settings: Any = _json()
    changed_at: datetime = _time()


class EffortRow(SQLModel, table=True):
    """One set in the few numbers profiles want: recorded (set_id), or told by a file of history.

    day: in the club's time zone. velocity, u: of the fastest made rep, in m/s; null when none was measured.
    reps: [outcome, velocity, u] of every rep that counts.
    """

    __tablename__ = "effort"
    __table_args__ = (
        Index("ix_effort_of_athlete", "athlete_id", "lift", "day"),
        Index("ix_effort_of_club", "club_id", "day"),
    )

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    athlete_id: str = _owner("athlete.id")
    lift: str
    day: date = _day()
    at: datetime | None = Field(default=None, sa_column=Column(UtcTime, nullable=True))
    set_id: str | None = Field(
        default=None,
        sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), nullable=True, unique=True),
    )
    number: int | None = None
    load_kg: float
    made: int
    missed: int
    velocity: float | None = None
    u: float | None = None
    rep: int | None = None
    reps: Any = _json()
    note: str | None = None


class PointRow(SQLModel, table=True):
    """What an athlete did at one load on one day, worked out of the efforts; velocity null when none was measured."""

    __tablename__ = "point"
    __table_args__ = (Index("ix_point_of_club", "club_id", "day"),)

    athlete_id: str = Field(sa_column=Column(ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True))
    lift: str = Field(primary_key=True)
    day: date = Field(sa_column=Column(Date, primary_key=True))
    load_kg: float = Field(primary_key=True)
    club_id: str = _owner("club.id")
    made: int
    missed: int
    velocity: float | None = None
    u: float | None = None
    among: int = 0
    luck: float = 0.0


class MaximumRow(SQLModel, table=True):
    """A maximum that was tested and made."""

    __tablename__ = "maximum"
    __table_args__ = (Index("ix_maximum_of_athlete", "athlete_id", "lift", "day"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    athlete_id: str = _owner("athlete.id")
    lift: str
    day: date = _day()
    load_kg: float
    note: str | None = None
    source: str
    created_at: datetime = _time()


class PlanRow(SQLModel, table=True):
    """What one athlete is to do on one day; of several plans for a day the newest counts."""

    __tablename__ = "plan"
    __table_args__ = (Index("ix_plan_of_athlete", "athlete_id", "day", "created_at", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    athlete_id: str = _owner("athlete.id")
    day: date = _day()
    sets: Any = _json()
    note: str | None = None
    created_at: datetime = _time()


class DecisionRow(SQLModel, table=True):
    """What the coach decided against the service's loads, and why; never changed."""

    __tablename__ = "decision"
    __table_args__ = (Index("ix_decision_of_athlete", "athlete_id", "day", "created_at", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    athlete_id: str = _owner("athlete.id")
    day: date = _day()
    lift: str
    kind: str
    plan_id: str | None = None
    set_number: int | None = None
    load_kg: float | None = None
    reason: str
    created_at: datetime = _time()


class SetCorrectionRow(SQLModel, table=True):
    """One correction of a set or of one of its reps: what was, what is, and why; never changed."""

    __tablename__ = "set_correction"
    __table_args__ = (Index("ix_set_correction_order", "set_id", "created_at", "id"),)

    id: str = Field(primary_key=True)
    club_id: str = _owner("club.id")
    set_id: str = _owner("lift_set.id")
    rep: int | None = None
    changes: Any = _json()
    reason: str
    created_at: datetime = _time()


class RepCorrectionRow(SQLModel, table=True):
    """What a person says of one rep; kept by where it is in the recording, so that it outlives another analysis."""

    __tablename__ = "rep_correction"

    set_id: str = Field(sa_column=Column(ForeignKey("lift_set.id", ondelete="CASCADE"), primary_key=True))
    start_s: float = Field(primary_key=True)
    stop_s: float
    outcome: str | None = None
    excluded: bool = False
    reason: str
    created_at: datetime = _time()


class BeliefRow(SQLModel, table=True):
    """What the days until one day say of an athlete and lift; rows of days that changed since are deleted."""

    __tablename__ = "belief"

    athlete_id: str = Field(sa_column=Column(ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True))
    lift: str = Field(primary_key=True)
    until: date = Field(sa_column=Column(Date, primary_key=True))
    club_id: str = _owner("club.id")
    method: str
    document: Any = _json()
