"""The one who sent a request."""

from __future__ import annotations

from dataclasses import dataclass

from barwright.access.scopes import Scope


@dataclass(frozen=True, slots=True)
class Caller:
    """A key at work: everything it reads or writes belongs to club_id.

    key_id: of a key or a coach. device_id: the one device whose blocks it may send, and nothing else; None for most.
    """

    club_id: str
    key_id: str
    scopes: frozenset[Scope]
    device_id: str | None = None

    def may(self, scope: Scope) -> bool:
        """Whether the key carries this scope."""
        return scope in self.scopes

    def has_device(self, device_id: str) -> bool:
        """Whether this device is within reach of the key."""
        return self.device_id is None or self.device_id == device_id
