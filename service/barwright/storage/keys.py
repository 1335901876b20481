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


@dataclass(frozen=True, slots=True)
class KeyFacts:
    """What is known of a key; the key itself is not kept."""

    id: str
    scopes: frozenset[Scope]
    created_at: datetime


def keys_of_club(session: Session, club_id: str) -> list[KeyFacts]:
    """The club's keys in use, the newest first."""
    query = select(_KEY.c.id, _KEY.c.scopes, _KEY.c.created_at).where(_KEY.c.club_id == club_id)
    rows = session.connection().execute(
        query.where(_KEY.c.revoked_at.is_(None)).order_by(_KEY.c.created_at.desc(), _KEY.c.id)
    )
    return [KeyFacts(row.id, parse_scopes(row.scopes), row.created_at) for row in rows]


def revoke_key(session: Session, club_id: str, key_id: str, now: datetime) -> bool:
    """The key opens nothing any more; False when the club has no such key in use."""
    query = select(ApiKeyRow).where(col(ApiKeyRow.club_id) == club_id).where(col(ApiKeyRow.id) == key_id)
    row = session.scalars(query.where(col(ApiKeyRow.revoked_at).is_(None))).first()
    if row is None:
        return False
    row.revoked_at = now
    return True


def ids_of_all_clubs(session: Session) -> list[str]:
    """For what the service does for every club, whoever asks."""
    return list(session.scalars(select(col(ClubRow.id)).order_by(col(ClubRow.created_at))))
