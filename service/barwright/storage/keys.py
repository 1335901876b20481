"""Clubs and their keys."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select
from sqlmodel import Session, col

from barwright.access.caller import Caller
from barwright.access.keys import same_text
from barwright.access.scopes import Scope, parse_scopes
from barwright.storage.ids import new_id
from barwright.storage.tables import METADATA, ApiKeyRow, ClubRow


@dataclass(frozen=True, slots=True)
class Club:
    """One club."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class NewKeyFacts:
    """What is told of a key that is made. device_id: the one device whose blocks it may send, and nothing else.

    expires_at: None lasts until it is revoked. hint: its first letters.
    """

    scopes: frozenset[Scope]
    label: str | None = None
    device_id: str | None = None
    expires_at: datetime | None = None
    hint: str | None = None


@dataclass(frozen=True, slots=True)
class KeyFacts:
    """What is known of a key; the key itself is not kept. replaced_by: the id of the key that came in its place."""

    id: str
    told: NewKeyFacts
    created_at: datetime
    last_used_at: datetime | None
    replaced_by: str | None

    @property
    def scopes(self) -> frozenset[Scope]:
        """What it may do."""
        return self.told.scopes


@dataclass(frozen=True, slots=True)
class KeyHolder:
    """Whose key it is, and until when it opens anything."""

    caller: Caller
    expires_at: datetime | None


_KEY = METADATA.tables["api_key"]
_OF_KEY = select(_KEY.c.club_id, _KEY.c.id, _KEY.c.scopes, _KEY.c.device_id, _KEY.c.expires_at, _KEY.c.digest).where(
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


def store_key(session: Session, club_id: str, digest: str, told: NewKeyFacts, now: datetime) -> KeyFacts:
    """Keeps the digest of a new key."""
    row = ApiKeyRow(
        id=new_id("key"),
        club_id=club_id,
        digest=digest,
        scopes=",".join(sorted(told.scopes)),
        created_at=now,
        label=told.label,
        hint=told.hint,
        device_id=told.device_id,
        expires_at=told.expires_at,
    )
    session.add(row)
    session.flush()
    return _facts(row)


def holder_of(session: Session, digest: str) -> KeyHolder | None:
    """Who holds a key; None when no such key is in use. Whether it is over yet, the asker finds out."""
    row = session.connection().execute(_OF_KEY, {"of_digest": digest}).first()
    if row is None or not same_text(row.digest, digest):
        return None
    return KeyHolder(Caller(row.club_id, row.id, parse_scopes(row.scopes), row.device_id), row.expires_at)


class KeyStore:
    """Reads and changes the keys of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def in_use(self, now: datetime) -> list[KeyFacts]:
        """Keys that are neither revoked nor over, the newest first."""
        query = select(ApiKeyRow).where(col(ApiKeyRow.club_id) == self._club_id, col(ApiKeyRow.revoked_at).is_(None))
        rows = self._session.scalars(query.order_by(col(ApiKeyRow.created_at).desc(), col(ApiKeyRow.id)))
        return [_facts(row) for row in rows if row.expires_at is None or row.expires_at > now]

    def get(self, key_id: str, now: datetime) -> KeyFacts | None:
        """A key that is in use."""
        row = self._row(key_id)
        return None if row is None or (row.expires_at is not None and row.expires_at <= now) else _facts(row)

    def revoke(self, key_id: str, now: datetime) -> bool:
        """The key opens nothing any more; False when the club has no such key in use."""
        row = self._row(key_id)
        if row is None:
            return False
        row.revoked_at = now
        return True

    def replace(self, key_id: str, successor: str, ends_at: datetime) -> None:
        """The key ends then at the latest; another one came in its place."""
        row = self._row(key_id)
        if row is not None:
            row.replaced_by = successor
            row.expires_at = ends_at if row.expires_at is None else min(row.expires_at, ends_at)

    def _row(self, key_id: str) -> ApiKeyRow | None:
        query = select(ApiKeyRow).where(col(ApiKeyRow.club_id) == self._club_id, col(ApiKeyRow.id) == key_id)
        return self._session.scalars(query.where(col(ApiKeyRow.revoked_at).is_(None))).first()


def note_used(session: Session, used: Mapping[str, datetime]) -> None:
    """When keys of whichever clubs were last used, by id; an earlier time changes nothing."""
    for row in session.scalars(select(ApiKeyRow).where(col(ApiKeyRow.id).in_(list(used)))):
        at = used[row.id]
        if row.last_used_at is None or row.last_used_at < at:
            row.last_used_at = at


def ids_of_all_clubs(session: Session) -> list[str]:
    """For what the service does for every club, whoever asks."""
    return list(session.scalars(select(col(ClubRow.id)).order_by(col(ClubRow.created_at))))


def _facts(row: ApiKeyRow) -> KeyFacts:
    told: Any = (parse_scopes(row.scopes), row.label, row.device_id, row.expires_at, row.hint)
    return KeyFacts(row.id, NewKeyFacts(*told), row.created_at, row.last_used_at, row.replaced_by)
