"""What the way of a block has to know of those who follow sets live."""

from __future__ import annotations

from typing import Protocol

from barwright.ingest.block import Block


class Follower(Protocol):
    """Is told of blocks once they are durable, and never gets in their way."""

    def take(self, club_id: str, stream_id: str, block: Block, packed: bytes) -> None:
        """A block of an open stream is stored; packed: its stored form."""
        ...

    def forget(self, stream_id: str) -> None:
        """The stream is closed or erased."""
        ...

    def close(self) -> None:
        """The service stops."""
        ...


class Nobody:
    """Follows nothing: for commands and tests that have no use for it."""

    def take(self, club_id: str, stream_id: str, block: Block, packed: bytes) -> None:
        """Does nothing."""

    def forget(self, stream_id: str) -> None:
        """Does nothing."""

    def close(self) -> None:
        """Does nothing."""
