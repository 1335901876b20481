"""What a store says when a name is already in use."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session


class NameTakenError(ValueError):
    """Another athlete or device of this club already has the name."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(f"the club already has {kind} named {name!r}")
        self.kind = kind
        self.name = name


@contextmanager
def unique_name(session: Session, kind: str, name: str) -> Iterator[None]:
    """Sends what the block added or changed to the database; a name in use becomes NameTakenError."""
    try:
        yield
        session.flush()
    except IntegrityError as error:
        raise NameTakenError(kind, name) from error
