"""Keys: issue one, list, replace and end them, and tell who calls with one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlmodel import Session

from barwright.access.caller import Caller
from barwright.access.keys import digest_of, looks_like_a_key, new_key
from barwright.access.scopes import Scope
from barwright.storage.audit import OPERATOR, note_deed
from barwright.storage.devices import DeviceStore
from barwright.storage.keys import (
    KeyFacts,
    KeyStore,
    NewKeyFacts,
    find_or_create_club,
    holder_of,
    note_used,
    store_key,
)
from barwright.storage.sessions import Database
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.parts import Parts

LONGEST_OVERLAP = timedelta(days=90)
FARTHEST = timedelta(days=3660)  # a key that ends later than that is meant to last
_MISTYPED = (
    "This is not a whole key: its check letters do not fit. Look for a letter that was lost, added or changed in "
    "copying; a key is bw_ and 46 letters and digits."
)
_NOT_KNOWN = "This key is not known here, or was revoked; make a new one."


@dataclass(frozen=True, slots=True)
class IssuedKey:
    """A key that was made. shown: the only time it can be seen."""

    shown: str
    facts: KeyFacts


def issue_key(
    database: Database,
    club_name: str,
    scopes: frozenset[Scope],
    now: datetime,
    expires_at: datetime | None = None,
    label: str | None = None,
) -> str:
    """A new key of a club, which is created when new; the answer is the only time the key can be seen."""
    key = new_key()
    told = NewKeyFacts(scopes, label=label, expires_at=expires_at, hint=key.hint)
    with database.writing(club_name) as session:
        club = find_or_create_club(session, club_name, now)
        made = store_key(session, club.id, key.digest, told, now)
        note_deed(session, Caller(club.id, OPERATOR, frozenset()), "key.made", made.id, now, _details(told))
    return key.shown


def who_calls(database: Database, shown: str, now: datetime) -> Caller:
    """The caller behind a key. Raises Cannot; a mistyped key is told as such without asking the database."""
    if not looks_like_a_key(shown):
        raise Cannot("key-mistyped", _MISTYPED)
    with database.reading() as session:
        holder = holder_of(session, digest_of(shown))
    if holder is None:
        raise Cannot("key-not-known", _NOT_KNOWN)
    if holder.expires_at is not None and holder.expires_at <= now:
        raise Cannot("key-expired", f"This key ended at {holder.expires_at:%Y-%m-%d %H:%M} UTC; make a new one.")
    return holder.caller


def issue_own_key(parts: Parts, caller: Caller, told: NewKeyFacts) -> IssuedKey:
    """A new key of the caller's club. Raises Cannot."""
    _check_end(told.expires_at, parts.now())
    with parts.database.writing(caller.club_id) as session:
        if told.device_id is not None:
            if DeviceStore(session, caller.club_id).get(told.device_id) is None:
                raise not_found("device", told.device_id, "/device_id")
            if told.scopes != {Scope.STREAMS_WRITE}:
                detail = f"The key of a device only sends its blocks: its scope is {Scope.STREAMS_WRITE} alone."
                raise Cannot("request-invalid", detail, "/scopes")
        return _issue(session, caller, told, "key.made", parts.now)


def list_keys(parts: Parts, caller: Caller) -> list[KeyFacts]:
    """The club's keys in use, the newest first."""
    with parts.database.reading() as session:
        found = KeyStore(session, caller.club_id).in_use(parts.now())
    return [replace(one, last_used_at=parts.uses.get(one.id) or one.last_used_at) for one in found]


def replace_key(parts: Parts, caller: Caller, key_id: str, overlap: timedelta) -> IssuedKey:
    """A new key that may the same; the old one ends after the overlap at the latest. Raises Cannot."""
    if not timedelta(0) <= overlap <= LONGEST_OVERLAP:
        raise Cannot(
            "request-invalid", f"`overlap_hours` has to be from 0 to {LONGEST_OVERLAP.days * 24}.", "/overlap_hours"
        )
    now = parts.now()
    with parts.database.writing(caller.club_id) as session:
        store = KeyStore(session, caller.club_id)
        old = store.get(key_id, now)
        if old is None:
            raise not_found("key", key_id)
        if old.replaced_by is not None:
            raise Cannot("already-there", f"This key was replaced already, by {old.replaced_by}; replace that one.")
        made = _issue(session, caller, replace(old.told, expires_at=None), "key.replaced", parts.now, key_id)
        store.replace(key_id, made.facts.id, now + overlap)
    parts.callers.forget(key_id)
    return made


def end_key(parts: Parts, caller: Caller, key_id: str) -> None:
    """The key opens nothing any more. Raises Cannot when the club has none of this id."""
    with parts.database.writing(caller.club_id) as session:
        if not KeyStore(session, caller.club_id).revoke(key_id, parts.now()):
            raise not_found("key", key_id)
        note_deed(session, caller, "key.revoked", key_id, parts.now())
    parts.callers.forget(key_id)


def write_down_uses(parts: Parts) -> None:
    """When keys were last used, so that an unused one is found. Raises StorageUnavailableError, and forgets them."""
    used = parts.uses.take()
    if used:
        with parts.database.writing() as session:
            note_used(session, used)


def _issue(
    session: Session,
    caller: Caller,
    told: NewKeyFacts,
    what: str,
    clock: Callable[[], datetime],
    old_id: str | None = None,
) -> IssuedKey:
    key, now = new_key(), clock()
    facts = store_key(session, caller.club_id, key.digest, replace(told, hint=key.hint), now)
    details = _details(told) if old_id is None else {**_details(told), "in_place_of": old_id}
    note_deed(session, caller, what, facts.id, now, details)
    return IssuedKey(key.shown, facts)


def _details(told: NewKeyFacts) -> dict[str, object]:
    ends = None if told.expires_at is None else told.expires_at.isoformat()
    return {"scopes": sorted(told.scopes), "device_id": told.device_id, "expires_at": ends}


def _check_end(expires_at: datetime | None, now: datetime) -> None:
    if expires_at is not None and not now < expires_at <= now + FARTHEST:
        raise Cannot(
            "request-invalid",
            "`expires_at` has to lie ahead, within ten years; leave it out for a key that lasts.",
            "/expires_at",
        )
