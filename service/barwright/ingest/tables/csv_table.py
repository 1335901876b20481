"""CSV (RFC 4180), and what spreadsheets, loggers and terminals make of it."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from itertools import islice
from typing import Any

import numpy as np

from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.csv_layout import SPACES, CsvLayout, is_comment, layout_of_text, lines_of

_ROWS_AT_ONCE = 4096
_LONGEST_LINE = 1 << 20
_MOST_OTHERS = 200_000  # lines that are no samples
Row = tuple[int, list[str]]  # line number from 1, cells


class CsvTable:
    """A header line, then one line per sample. Empty lines and comment lines are passed over.

    words: plain words about the layout. has_header: False when the first line holds numbers already.
    """

    def __init__(self, body: bytes, most_rows: int, has_names: bool = False) -> None:
        self._body = body
        self._most_rows = most_rows
        self._layout: CsvLayout = layout_of_text(body, has_names)
        self.has_header = self._layout.headers is not None
        self._comma = self._layout.delimiter != "," and b"," in body
        self._quoted_commas = self._layout.delimiter == "," and b'"' in body
        first = next(self._rows(), (0, []))[1]
        self._first = first
        self.headers = self._layout.headers if self._layout.headers is not None else [cell.strip() for cell in first]
        self._width = len(self.headers)
        self.words = (
            *self._layout.words,
            *(("decimal commas",) if self._comma and any("," in cell for cell in first) else ()),
        )

    def read(self, positions: list[int]) -> list[Any]:
        """The columns, (n,) float64 each; a clock of dates and times comes as a list of texts.

        Refuses rows that do not fit the header and cells that are no numbers.
        """
        texts = {position for position in positions if self._is_clock_text(position)}
        parts: dict[int, list[Any]] = {position: [] for position in positions}
        rows, count = self._rows(), 0
        while chunk := list(islice(rows, _ROWS_AT_ONCE)):
            count += len(chunk)
            if count > self._most_rows:
                line = chunk[self._most_rows - count][0]
                raise Refusal(
                    "too-many-samples",
                    f"The file has more than {self._most_rows} samples (line {line}); send it as several recordings.",
                )
            cells = [self._fitting(line, row) for line, row in chunk]
            for position in positions:
                column = [row[position] for row in cells]
                if position in texts:
                    parts[position] += column
                else:
                    parts[position].append(self._numbers(column, [line for line, _ in chunk], position))
        return [parts[p] if p in texts else np.concatenate(parts[p]) if parts[p] else np.zeros(0) for p in positions]

    def place(self, row: int) -> str:
        """The line of a row."""
        line, _ = next(islice(self._rows(), row, None), (0, []))
        return f"in line {line}"

    def _rows(self) -> Iterator[Row]:
        """Every line of samples."""
        lines = _Lines(lines_of(self._body, self._layout.encoding), self._layout.first_line)
        if self._layout.delimiter == SPACES:
            for line in lines:
                if line.strip():
                    yield lines.number, line.split()
            return
        reader = csv.reader(lines, delimiter=self._layout.delimiter, strict=True)
        try:
            for cells in reader:
                if cells and (len(cells) > 1 or cells[0].strip()):
                    yield lines.number, cells
        except csv.Error as error:
            raise Refusal(
                "bad-row", f"Line {lines.number} of the CSV cannot be read: {error}; quote cells as in RFC 4180."
            ) from error

    def _fitting(self, line: int, cells: list[str]) -> list[str]:
        width = self._width
        if len(cells) == width:
            return cells
        if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            return cells[:width]  # a delimiter at the end of every line
        hint = ""
        if self._layout.delimiter == "," and len(cells) == 2 * width:
            hint = " If these are decimal commas, put semicolons between the columns."
        raise Refusal(
            "bad-row",
            f"Line {line} of the CSV has {len(cells)} cells; its header has {width}. Every line needs one cell per "
            f"column.{hint}",
        )

    def _numbers(self, cells: list[str], lines: list[int], position: int) -> np.ndarray:
        texts = [self._plain(cell) for cell in cells] if self._comma or self._quoted_commas else cells
        try:
            if not any("_" in text for text in texts):
                return np.array(list(map(float, texts)))
        except ValueError:
            pass
        for text, cell, line in zip(texts, cells, lines, strict=True):
            self._check_number(text.replace("−", "-"), cell, line, position)
        return np.array([float(text.replace("−", "-")) for text in texts])

    def _plain(self, cell: str) -> str:
        """A decimal comma as a point; a cell with both marks is left for the refusal."""
        return cell if "." in cell else cell.replace(",", ".", 1)

    def _check_number(self, text: str, cell: str, line: int, position: int) -> None:
        try:
            if "_" in text:
                raise ValueError(text)
            float(text)
        except ValueError as error:
            header = self.headers[position]
            if cell.strip() and cell.strip() == header.strip():
                raise Refusal(
                    "bad-row",
                    f"Line {line} of the CSV repeats the header, as after a new start of the device; send what comes "
                    "behind it as a recording of its own.",
                ) from error
            said = f"holds {cell.strip()[:40]!r}" if cell.strip() else "is empty"
            raise Refusal(
                "not-a-number",
                f"`{header}` {said} in line {line} of the CSV; every cell has to be a number such as -9.81.",
            ) from error

    def _is_clock_text(self, position: int) -> bool:
        return position < len(self._first) and ":" in self._first[position]


class _Lines:
    """The lines of samples; comments come as empty lines. number: of the line given last, from 1.

    Raises Refusal for more than _MOST_OTHERS lines that are none.
    """

    def __init__(self, lines: Iterator[str], first: int) -> None:
        self._lines = lines
        self._first = first
        self.number = 0
        self._others = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.number += 1
        while self.number < self._first:
            line = next(self._lines)
            self.number += 1
        if len(line) > _LONGEST_LINE:
            raise Refusal("bad-row", f"Line {self.number} has {len(line)} characters, more than {_LONGEST_LINE}.")
        if line.isspace() or is_comment(line):
            self._others += 1
            if self._others > _MOST_OTHERS:
                raise Refusal(
                    "bad-row", f"Up to line {self.number} more than {_MOST_OTHERS} lines are empty or comments."
                )
            return "\n"
        return line
