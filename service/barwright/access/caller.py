"""The one who sent a request."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.access.scopes import Scope


@dataclass(frozen=True, slots=True)
class Caller:
    """A key at work: everything it reads or writes belongs to club_id."""

    club_id: str
    key_id: str
    scopes: frozenset[Scope]

    def may(self, scope: Scope) -> bool:
        """Whether the key carries this scope."""
        return scope in self.scopes
