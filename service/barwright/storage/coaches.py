"""Coaches, their sessions and their sign-in links."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, delete, select

from barwright.storage.coach_tables import CoachRow, CoachSessionRow, SignInLinkRow
from barwright.storage.ids import new_id
from barwright.storage.names import unique_name
from barwright.storage.tables import ClubRow


@dataclass(frozen=True, slots=True)
class Coach:
    """One coach of one club. weight_unit: kg or lb."""

    id: str
    club_id: str
    club_name: str
    name: str
    weight_unit: str
    has_passphrase: bool
    created_at: datetime


class CoachStore:
    """Reads and writes the coaches of one club, and of no other."""

    def __init__(self, session: Session, club_id: str) -> None:
        self._session = session
        self._club_id = club_id

    def create(self, name: str, now: datetime) -> Coach:
        """A new coach without a passphrase. Raises NameTakenError: names are unique in the whole service."""
        row = CoachRow(id=new_id("coa"), club_id=self._club_id, name=name, created_at=now)
        with unique_name(self._session, "a coach", name):
            self._session.add(row)
        return self._coach(row)

    def all(self) -> list[Coach]:
        """Every coach in order of name."""
        rows = self._session.exec(
            select(CoachRow).where(CoachRow.club_id == self._club_id).order_by(col(CoachRow.name))
        ).all()
        return [self._coach(row) for row in rows]

    def get(self, coach_id: str) -> Coach | None:
        """The coach with this id."""
        row = self._row(coach_id)
        return None if row is None else self._coach(row)

    def by_name(self, name: str) -> Coach | None:
        """The coach with exactly this name."""
        row = self._session.exec(
            select(CoachRow).where(CoachRow.club_id == self._club_id).where(CoachRow.name == name)
        ).first()
        return None if row is None else self._coach(row)

    def set_passphrase(self, coach_id: str, hashed: str) -> None:
        """Keeps a new passphrase; the coach is signed out everywhere and open links end."""
        row = self._row(coach_id)
        if row is not None:
            row.passphrase = hashed
            self._sign_out_everywhere(coach_id)

    def set_weight_unit(self, coach_id: str, unit: str) -> None:
        """kg or lb."""
        row = self._row(coach_id)
        if row is not None:
            row.weight_unit = unit

    def remove(self, coach_id: str) -> bool:
        """Takes the coach away, signed out everywhere; False when there is none."""
        row = self._row(coach_id)
        if row is None:
            return False
        self._session.delete(row)
        return True

    def add_link(self, coach_id: str, digest: str, expires_at: datetime) -> None:
        """A link that signs this coach in once."""
        self._session.add(SignInLinkRow(digest=digest, coach_id=coach_id, expires_at=expires_at))

    def _sign_out_everywhere(self, coach_id: str) -> None:
        self._session.exec(delete(CoachSessionRow).where(col(CoachSessionRow.coach_id) == coach_id))
        self._session.exec(delete(SignInLinkRow).where(col(SignInLinkRow.coach_id) == coach_id))

    def _row(self, coach_id: str) -> CoachRow | None:
        return self._session.exec(
            select(CoachRow).where(CoachRow.club_id == self._club_id).where(CoachRow.id == coach_id)
        ).first()

    def _coach(self, row: CoachRow) -> Coach:
        club = self._session.exec(select(ClubRow.name).where(ClubRow.id == self._club_id)).one()
        return _coach(row, club)


def coach_who_signs_in(session: Session, name: str) -> tuple[Coach, str | None] | None:
    """The coach of this name, of whichever club, with the stored passphrase."""
    query = select(CoachRow, ClubRow.name).join(ClubRow, col(ClubRow.id) == col(CoachRow.club_id))
    found = session.exec(query.where(CoachRow.name == name)).first()
    return None if found is None else (_coach(*found), found[0].passphrase)


def coach_of_session(session: Session, digest: str, now: datetime) -> Coach | None:
    """Who is signed in with this token."""
    query = (
        select(CoachRow, ClubRow.name)
        .join(ClubRow, col(ClubRow.id) == col(CoachRow.club_id))
        .join(CoachSessionRow, col(CoachSessionRow.coach_id) == col(CoachRow.id))
        .where(CoachSessionRow.digest == digest)
        .where(CoachSessionRow.expires_at > now)
    )
    found = session.exec(query).first()
    return None if found is None else _coach(*found)


def begin_session(session: Session, coach_id: str, digest: str, now: datetime, expires_at: datetime) -> None:
    """The coach is signed in with this token; sessions and links that are over are cleared away."""
    session.exec(delete(CoachSessionRow).where(col(CoachSessionRow.expires_at) <= now))
    session.exec(delete(SignInLinkRow).where(col(SignInLinkRow.expires_at) <= now))
    session.add(CoachSessionRow(digest=digest, coach_id=coach_id, expires_at=expires_at))


def end_session(session: Session, digest: str) -> None:
    """Nobody is signed in with this token any more."""
    session.exec(delete(CoachSessionRow).where(col(CoachSessionRow.digest) == digest))


def use_link(session: Session, digest: str, now: datetime) -> str | None:
    """The id of the coach whose link this is; the link is gone with it. None when it is over, used or unknown."""
    row = session.exec(select(SignInLinkRow).where(SignInLinkRow.digest == digest)).first()
    if row is None:
        return None
    session.delete(row)
    return row.coach_id if row.expires_at > now else None


def _coach(row: CoachRow, club_name: str) -> Coach:
    return Coach(row.id, row.club_id, club_name, row.name, row.weight_unit, row.passphrase is not None, row.created_at)
