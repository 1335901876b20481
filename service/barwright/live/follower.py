"""What the way of a block has to know of those who follow sets live."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from barwright.ingest.block import Block


@dataclass(frozen=True, slots=True)
class NewBlock:
    """A block of an open stream that has just become durable. packed: its stored form."""

    club_id: str
    stream_id: str
    block: Block
    packed: bytes


class Follower(Protocol):
    """Is told of blocks once they are durable, and never gets in their way."""

    def take(self, news: Sequence[NewBlock]) -> None:
        """These are stored, in this order."""
        ...

    def forget(self, stream_id: str) -> None:
        """The stream is closed or erased."""
        ...

    def close(self) -> None:
        """The service stops."""
        ...


class Nobody:
    """Follows nothing: for commands and tests that have no use for it."""

    def take(self, news: Sequence[NewBlock]) -> None:
        """Does nothing."""

    def forget(self, stream_id: str) -> None:
        """Does nothing."""

    def close(self) -> None:
        """Does nothing."""
