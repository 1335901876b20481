"""What every recording file is to the rest of ingest, whatever its format."""

from __future__ import annotations

from typing import Any, Protocol


class Table(Protocol):
    """Named columns of numbers.

    words: plain words about the layout. headers: as written in the file, repeats included. read(positions): the columns
    at those positions of `headers`, as lists or arrays of numbers, not yet checked; a clock may come as a list of
    texts. place(row): where a row (counted from 0) is, in words.
    """

    headers: list[str]
    words: tuple[str, ...]

    def read(self, positions: list[int]) -> list[Any]: ...

    def place(self, row: int) -> str: ...
