"""Keys: issue one, list and end them, and tell who calls with one."""

from __future__ import annotations

from datetime import datetime

from barwright.access.caller import Caller
from barwright.access.keys import digest_of, looks_like_a_key, new_key
from barwright.access.scopes import Scope
from barwright.storage.keys import KeyFacts, caller_of, find_or_create_club, keys_of_club, revoke_key, store_key
from barwright.storage.sessions import Database
from barwright.workflows.cannot import not_found
from barwright.workflows.parts import Parts


def issue_key(database: Database, club_name: str, scopes: frozenset[Scope], now: datetime) -> str:
    """A new key of a club, which is created when new; the answer is the only time the key can be seen."""
    key = new_key()
    with database.writing() as session:
        club = find_or_create_club(session, club_name, now)
        store_key(session, club.id, key.digest, scopes, now)
    return key.shown


def who_calls(database: Database, shown: str) -> Caller | None:
    """The caller behind a key; None when there is no such key."""
    if not looks_like_a_key(shown):
        return None
    with database.reading() as session:
        return caller_of(session, digest_of(shown))


def issue_own_key(parts: Parts, caller: Caller, scopes: frozenset[Scope]) -> str:
    """A new key of the caller's club."""
    key = new_key()
    with parts.database.writing() as session:
        store_key(session, caller.club_id, key.digest, scopes, parts.now())
    return key.shown


def list_keys(parts: Parts, caller: Caller) -> list[KeyFacts]:
    """The club's keys in use."""
    with parts.database.reading() as session:
        return keys_of_club(session, caller.club_id)


def end_key(parts: Parts, caller: Caller, key_id: str) -> None:
    """The key opens nothing any more. Raises Cannot when the club has none of this id."""
    with parts.database.writing() as session:
        if not revoke_key(session, caller.club_id, key_id, parts.now()):
            raise not_found("key", key_id)
