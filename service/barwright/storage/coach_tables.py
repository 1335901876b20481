"""Tables of the coaches and of who is signed in."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Column, ForeignKey
from sqlmodel import Field, SQLModel

from barwright.storage import tables as tables  # first: it says how constraints are named
from barwright.storage.column_types import UtcTime


class CoachRow(SQLModel, table=True):
    """passphrase: as access/sign_in.py hashes it, null until one is chosen. weight_unit: kg or lb."""

    __tablename__ = "coach"

    id: str = Field(primary_key=True)
    club_id: str = Field(sa_column=Column(ForeignKey("club.id", ondelete="CASCADE"), nullable=False, index=True))
    name: str = Field(unique=True)  # in the whole service: it is what a coach signs in with
    passphrase: str | None = None
    weight_unit: str = "kg"
    created_at: datetime = Field(sa_column=Column(UtcTime, nullable=False))


class CoachSessionRow(SQLModel, table=True):
    """Somebody signed in, by the digest of the token in the browser's cookie."""

    __tablename__ = "coach_session"

    digest: str = Field(primary_key=True)
    coach_id: str = Field(sa_column=Column(ForeignKey("coach.id", ondelete="CASCADE"), nullable=False, index=True))
    expires_at: datetime = Field(sa_column=Column(UtcTime, nullable=False, index=True))


class SignInLinkRow(SQLModel, table=True):
    """A link that signs in once, by the digest of the token in it."""

    __tablename__ = "sign_in_link"

    digest: str = Field(primary_key=True)
    coach_id: str = Field(sa_column=Column(ForeignKey("coach.id", ondelete="CASCADE"), nullable=False, index=True))
    expires_at: datetime = Field(sa_column=Column(UtcTime, nullable=False, index=True))
