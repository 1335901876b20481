"""A coach comes in by passphrase or one-time link, stays signed in, goes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from barwright.access.caller import Caller
from barwright.access.scopes import ALL_SCOPES
from barwright.access.sign_in import (
    LONGEST_PASSPHRASE,
    SHORTEST_PASSPHRASE,
    check_passphrase,
    digest_of_token,
    hash_passphrase,
    new_token,
)
from barwright.storage.audit import OPERATOR, note_deed
from barwright.storage.coaches import (
    Coach,
    CoachStore,
    begin_session,
    coach_of_session,
    coach_who_signs_in,
    end_session,
    use_link,
)
from barwright.storage.keys import find_or_create_club
from barwright.storage.names import NameTakenError
from barwright.storage.sessions import Database
from barwright.workflows.cannot import Cannot, not_found
from barwright.workflows.parts import Parts

SESSION_LASTS = timedelta(days=30)
LINK_LASTS = timedelta(hours=24)
UNITS = ("kg", "lb")


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A coach at work, and as the caller that every workflow asks for."""

    coach: Coach
    caller: Caller


def sign_in_with_passphrase(parts: Parts, name: str, passphrase: str) -> str | None:
    """The token of a new session; None when name and passphrase do not belong together."""
    with parts.database.reading() as session:
        found = coach_who_signs_in(session, name.strip())
    coach, stored = found if found is not None else (None, None)
    fits = check_passphrase(passphrase[:LONGEST_PASSPHRASE], stored)
    return _begin(parts, coach.id) if fits and coach is not None else None


def sign_in_with_link(parts: Parts, token: str) -> str | None:
    """The token of a new session; None when the link is over, was used, or never was."""
    with parts.database.writing() as session:
        coach_id = use_link(session, digest_of_token(token), parts.now())
    return None if coach_id is None else _begin(parts, coach_id)


def who_is_signed_in(parts: Parts, token: str) -> SignedIn | None:
    """The coach behind a session's token."""
    with parts.database.reading() as session:
        coach = coach_of_session(session, digest_of_token(token), parts.now())
    return None if coach is None else SignedIn(coach, Caller(coach.club_id, coach.id, ALL_SCOPES))


def sign_out(parts: Parts, token: str) -> None:
    """Ends the session."""
    with parts.database.writing() as session:
        end_session(session, digest_of_token(token))


def make_link(database: Database, club_name: str, coach_name: str, now: datetime, by: str = OPERATOR) -> str:
    """The token of a link for a coach; club and coach are created when new. Raises Cannot."""
    token = new_token()
    with database.writing(club_name) as session:
        club = find_or_create_club(session, club_name, now)
        store = CoachStore(session, club.id)
        try:
            coach = store.by_name(coach_name) or store.create(coach_name, now)
        except NameTakenError as error:
            raise Cannot(
                "name-taken", f"Another club has a coach named {coach_name!r}; choose another name.", "/name"
            ) from error
        store.add_link(coach.id, token.digest, now + LINK_LASTS)
        note_deed(session, Caller(club.id, by, frozenset()), "coach.invited", coach.id, now)
    return token.shown


def list_coaches(parts: Parts, caller: Caller) -> list[Coach]:
    """The club's coaches."""
    with parts.database.reading() as session:
        return CoachStore(session, caller.club_id).all()


def invite_coach(parts: Parts, signed_in: SignedIn, name: str) -> str:
    """The token of a one-time link for a coach of this club, who is added when new. Raises Cannot."""
    name = name.strip()
    if not 1 <= len(name) <= 100:
        raise Cannot("request-invalid", "A name has 1 to 100 letters.", "/name")
    return make_link(parts.database, signed_in.coach.club_name, name, parts.now(), signed_in.caller.key_id)


def remove_coach(parts: Parts, signed_in: SignedIn, coach_id: str) -> None:
    """Takes another coach away. Raises Cannot."""
    if coach_id == signed_in.coach.id:
        raise Cannot("request-invalid", "You cannot take yourself away; another coach can.", "/coach")
    with parts.database.writing(signed_in.caller.club_id) as session:
        if not CoachStore(session, signed_in.caller.club_id).remove(coach_id):
            raise not_found("coach", coach_id)
        note_deed(session, signed_in.caller, "coach.removed", coach_id, parts.now())


def choose_passphrase(parts: Parts, signed_in: SignedIn, passphrase: str) -> str:
    """A new passphrase; all sessions end, and the answer is the token of a new one. Raises Cannot."""
    if not SHORTEST_PASSPHRASE <= len(passphrase) <= LONGEST_PASSPHRASE:
        raise Cannot(
            "request-invalid",
            f"A passphrase has {SHORTEST_PASSPHRASE} to {LONGEST_PASSPHRASE} characters; four plain words do well.",
            "/passphrase",
        )
    hashed = hash_passphrase(passphrase)
    with parts.database.writing(signed_in.caller.club_id) as session:
        CoachStore(session, signed_in.caller.club_id).set_passphrase(signed_in.coach.id, hashed)
    return _begin(parts, signed_in.coach.id)


def choose_weight_unit(parts: Parts, signed_in: SignedIn, unit: str) -> None:
    """Kilograms or pounds on this coach's pages. Raises Cannot."""
    if unit not in UNITS:
        raise Cannot("request-invalid", f"{unit!r} is no unit of weight here; kg or lb.", "/unit")
    with parts.database.writing(signed_in.caller.club_id) as session:
        CoachStore(session, signed_in.caller.club_id).set_weight_unit(signed_in.coach.id, unit)


def _begin(parts: Parts, coach_id: str) -> str:
    token, now = new_token(), parts.now()
    with parts.database.writing() as session:
        begin_session(session, coach_id, token.digest, now, now + SESSION_LASTS)
    return token.shown
