"""Columns that are members of one JSON or CBOR object."""

from __future__ import annotations

from typing import Any

from barwright.ingest.columns import at_sample


class MemberTable:
    """One object, column name to array of numbers."""

    def __init__(self, members: dict[Any, Any]) -> None:
        self.words: tuple[str, ...] = ()
        self._values = list(members.values())
        self.headers = [str(name) for name in members]

    def read(self, positions: list[int]) -> list[Any]:
        """The values as they were sent."""
        return [self._values[position] for position in positions]

    def place(self, row: int) -> str:
        """Where a value is."""
        return at_sample(row)
