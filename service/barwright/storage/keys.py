"""Clubs and their keys."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from barwright.access.caller import Caller
from barwright.access.scopes import Scope, parse_scopes
from barwright.storage.ids import new_id
from barwright.storage.tables import ApiKeyRow, ClubRow


@dataclass(frozen=True, slots=True)
class Club:
    """One club."""

    id: str
    name: str


def find_or_create_club(session: Session, name: str, now: datetime) -> Club:
    """The club of this name, created when new."""
    row = session.exec(select(ClubRow).where(ClubRow.name == name)).first()
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
    row = session.exec(
        select(ApiKeyRow).where(ApiKeyRow.digest == digest).where(col(ApiKeyRow.revoked_at).is_(None))
    ).first()
    return None if row is None else Caller(row.club_id, row.id, parse_scopes(row.scopes))
