"""Keys: issue one, and tell who calls with one."""

from __future__ import annotations

from datetime import datetime

from barwright.access.caller import Caller
from barwright.access.keys import digest_of, looks_like_a_key, new_key
from barwright.access.scopes import Scope
from barwright.storage.keys import caller_of, find_or_create_club, store_key
from barwright.storage.sessions import Database


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
