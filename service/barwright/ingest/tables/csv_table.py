"""CSV (RFC 4180), and what spreadsheets make of it: other delimiters, a decimal comma, a byte order mark."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import islice
from typing import Any

import numpy as np

from barwright.ingest.refusals import Refusal

DELIMITERS = ",;\t"
MOST_COLUMNS = 1000


class CsvTable:
    """A header line, then one line per sample. Empty lines are passed over."""

    def __init__(self, body: bytes, most_rows: int) -> None:
        try:
            body.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise Refusal(
                "unreadable", f"The CSV is not UTF-8 text (byte {error.start}); save it as CSV in UTF-8."
            ) from error
        self._body = body
        self._most_rows = most_rows
        first = next((line for line in self._lines() if line.strip()), "")
        self._delimiter = max(DELIMITERS, key=first.count)
        columns = first.count(self._delimiter) + 1
        if columns > MOST_COLUMNS:
            raise Refusal(
                "too-many-arrays",
                f"The CSV has {columns} columns, more than {MOST_COLUMNS}; send one column per channel.",
            )
        self._comma = self._delimiter != "," and b"," in body
        rows = self._rows()
        self.headers = [name.strip() for name in next(rows, (0, []))[1]]

    def read(self, positions: list[int]) -> list[Any]:
        """The columns, (n,) float64 each. Refuses rows that do not fit the header and cells that are no numbers."""
        numbers = np.fromiter(self._numbers(positions), np.float64)
        return list(np.ascontiguousarray(numbers.reshape(-1, len(positions)).T))

    def place(self, row: int) -> str:
        """The line of a row."""
        line, _ = next(islice(self._rows(), row + 1, None), (0, []))
        return f"in line {line}"

    def _lines(self) -> io.TextIOWrapper:
        return io.TextIOWrapper(io.BytesIO(self._body), encoding="utf-8-sig", newline="")

    def _rows(self) -> Iterator[tuple[int, list[str]]]:
        """(line number from 1, cells) of every line that is not empty, the header first."""
        reader = csv.reader(self._lines(), delimiter=self._delimiter, strict=True)
        try:
            for cells in reader:
                if cells and (len(cells) > 1 or cells[0].strip()):
                    yield reader.line_num, cells
        except csv.Error as error:
            raise Refusal(
                "bad-row", f"Line {reader.line_num} of the CSV cannot be read: {error}; quote cells as in RFC 4180."
            ) from error

    def _numbers(self, positions: list[int]) -> Iterator[float]:
        rows = self._rows()
        next(rows, None)
        for count, (line, cells) in enumerate(rows):
            if len(cells) != len(self.headers):
                raise Refusal(
                    "bad-row",
                    f"Line {line} of the CSV has {len(cells)} cells; its header has {len(self.headers)}. Every "
                    "line needs one cell per column.",
                )
            if count >= self._most_rows:
                raise Refusal(
                    "too-many-samples",
                    f"The file has more than {self._most_rows} samples (line {line}); send it as several recordings.",
                )
            for position in positions:
                yield self._number(cells[position], line, position)

    def _number(self, cell: str, line: int, position: int) -> float:
        text = cell.replace(",", ".") if self._comma else cell
        try:
            if "_" in text:
                raise ValueError(text)
            return float(text)
        except ValueError as error:
            said = f"holds {cell.strip()[:40]!r}" if cell.strip() else "is empty"
            raise Refusal(
                "not-a-number",
                f"`{self.headers[position]}` {said} in line {line} of the CSV; every cell has to be "
                "a number such as -9.81.",
            ) from error
