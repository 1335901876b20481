"""Clubs and their keys."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import bindparam, select
from sqlmodel import Session, col

from barwright.access.caller import Caller
from barwright.access.scopes import Scope, parse_scopes
from barwright.storage.ids import new_id
from barwright.storage.tables import METADATA, ApiKeyRow, ClubRow


@dataclass(frozen=True, slots=True)
class Club:
    """One club."""

    id: str
    name: str


_KEY = METADATA.tables["api_key"]
_OF_KEY = select(_KEY.c.club_id, _KEY.c.id, _KEY.c.scopes).where(
    _KEY.c.digest == bindparam("of_digest"), _KEY.c.revoked_at.is_(None)
)


def find_or_create_club(session: Session, name: str, now: datetime) -> Club:
    """The club of this name, created when new."""
    row = session.scalars(select(ClubRow).where(col(ClubRow.name) == name)).first()
    if row is None:
        row = ClubRow(id=new_id("clb"), name=name, created_at=now)
        session.add(row)
        session.flush()
    return Club(row.id, row.name)


def store_key(session: Session, club_id: str, digest: str, scopes: frozenset[Scope], now: datetime) -> str:
    """Keeps the digest of a new key; answers the key's id."""
    row = ApiKeyRow(id=new_id("key"), club_id=club_id, digest=digest, scopes=",".join(sorted(scopes)), created_at=now)
    session.add(row)
    return row.id


def caller_of(session: Session, digest: str) -> Caller | None:
    """The caller a key stands for; None when no such key is in use."""
    row = session.connection().execute(_OF_KEY, {"of_digest": digest}).first()
    return None if row is None else Caller(row.club_id, row.id, parse_scopes(row.scopes))
