"""How a text file of samples is laid out: encoding, delimiter, where its header is, and lines that are no samples."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from itertools import islice

from barwright.analysis.quantities.units import meant_by
from barwright.ingest.file_layout import MOST_COLUMNS
from barwright.ingest.refusals import Refusal
from barwright.ingest.tables.header_words import TIME, read_word

DELIMITERS = (",", ";", "\t", "|")
SPACES = " "
_NAMED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", SPACES: "spaces"}
COMMENTS = ("#", "//", "%")
_LINES_LOOKED_AT = 60
_LONGEST_LOOKED_AT = 20_000
_UNITS_OF = ("acceleration", "rate", "length", "velocity", TIME)


@dataclass(frozen=True, slots=True)
class CsvLayout:
    """encoding: for Python. delimiter: one character, SPACES for runs of blanks. headers: None when there is no header.

    first_line: of the samples, from 1. words: plain words about it, for people.
    """

    encoding: str
    delimiter: str
    headers: list[str] | None
    columns: int
    first_line: int
    words: tuple[str, ...]


def lines_of(body: bytes, encoding: str) -> io.TextIOWrapper:
    """The lines of a text, ends included."""
    return io.TextIOWrapper(io.BytesIO(body), encoding=encoding, newline="")


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of one line."""
    if delimiter == SPACES:
        return _joined_units(line.split())
    try:
        return [cell.strip() for cell in next(csv.reader([line.strip("\r\n")], delimiter=delimiter), [])]
    except csv.Error:
        return [cell.strip() for cell in line.split(delimiter)]


def is_comment(line: str) -> bool:
    """Whether a line is none of the table."""
    return line.lstrip().startswith(COMMENTS)


def encoding_of_text(body: bytes) -> tuple[str, str | None]:
    """(encoding, words about it when it is not UTF-8). Raises Refusal for bytes that are no text."""
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if body.startswith(mark):
            return _checked(body, encoding), "UTF-16"
    head = body[:400]
    if len(head) >= 8 and head[1::2].count(0) > 0.4 * len(head):
        return _checked(body, "utf-16-le"), "UTF-16 without its mark"
    if len(head) >= 8 and head[::2].count(0) > 0.4 * len(head):
        return _checked(body, "utf-16-be"), "UTF-16 without its mark"
    try:
        return _checked(body, "utf-8-sig"), None
    except Refusal:
        if b"\0" in body or _looks_like_utf8(body):
            raise
        return _checked(body, "cp1252"), "Windows-1252, for it is not UTF-8"


def layout_of_text(body: bytes, has_names: bool) -> CsvLayout:
    """The layout of a text file. has_names: its columns were named beside it, so it may go without a header."""
    encoding, words = encoding_of_text(body)
    said = [] if words is None else [f"text in {words}"]
    head = list(islice(enumerate(lines_of(body, encoding), 1), _LINES_LOOKED_AT))
    if head and head[0][1].strip().lower().startswith("sep=") and len(head[0][1].strip()) == 5:
        forced: str | None = head[0][1].strip()[4]
        head = head[1:]
    else:
        forced = None
    number, line, delimiter = _header_line(head, forced)
    cells = cells_of(line, delimiter)
    if len(cells) > MOST_COLUMNS:
        raise Refusal(
            "too-many-arrays",
            f"The CSV has {len(cells)} columns, more than {MOST_COLUMNS}; send one column per channel.",
        )
    said.append(f"columns between {_NAMED.get(delimiter, repr(delimiter))}")
    if cells and all(_is_number(cell) for cell in cells if cell) and (has_names or len(cells) > 1):
        return CsvLayout(encoding, delimiter, None, len(cells), number, (*said, "no header"))
    while cells and not cells[-1]:
        cells.pop()
    if number > 1:
        said.append(f"header in line {number}")
    after = number + 1
    units = _units_below([(n, text) for n, text in head if n > number], delimiter, cells)
    if units is not None:
        after, told = units
        cells = [
            f"{cell} [{unit}]" if unit and read_word(cell).unit is None else cell
            for cell, unit in zip(cells, told, strict=True)
        ]
        said.append(f"units in line {after - 1}")
    return CsvLayout(encoding, delimiter, cells, len(cells), after, tuple(said))


def _header_line(head: list[tuple[int, str]], forced: str | None) -> tuple[int, str, str]:
    """(line number, text, delimiter): the first line with two known columns, else the first that is no comment."""
    first: tuple[int, str, str] | None = None
    for number, line in head:
        text = line.strip("\r\n")
        if not text.strip():
            continue
        commented = is_comment(text)
        if commented:
            text = text.lstrip().lstrip("#/%").strip()
        delimiter = forced or _delimiter_of(text)
        if len(text) <= _LONGEST_LOOKED_AT and _known(text, delimiter) >= (3 if commented else 2):
            return number, text, delimiter
        if first is None and not commented:
            first = (number, text, delimiter)
            if all(_is_number(cell) for cell in cells_of(text[:_LONGEST_LOOKED_AT], delimiter) if cell):
                return first  # numbers already: no header comes any more
    return first or (1, "", ",")


def _delimiter_of(text: str) -> str:
    """The delimiter with which most columns are known; else the one that is there most often."""
    if len(text) > _LONGEST_LOOKED_AT:
        return max(DELIMITERS, key=text.count)
    there = [one for one in DELIMITERS if one in text]
    if not there or (not any(one in text for one in (";", "\t", "|")) and _decimal_commas(text)):
        return SPACES if len(text.split()) > 1 else ","
    best = max(there, key=lambda one: (_known(text, one), text.count(one)))
    return SPACES if _known(text, SPACES) > _known(text, best) else best


def _decimal_commas(text: str) -> bool:
    """Numbers with decimal commas between blanks: `0,01 1,5 9,8`."""
    cells = text.split()
    return len(cells) > 1 and all(_is_number(cell) and cell.count(",") <= 1 for cell in cells)


def _known(text: str, delimiter: str) -> int:
    return sum(read_word(cell).channel is not None for cell in cells_of(text, delimiter)[:MOST_COLUMNS])


def _units_below(head: list[tuple[int, str]], delimiter: str, headers: list[str]) -> tuple[int, list[str]] | None:
    """(first line of samples, unit of each column) when the line below the header holds units and nothing else."""
    for number, line in head:
        if not line.strip():
            continue
        if len(line) > _LONGEST_LOOKED_AT:
            return None
        cells = [cell.strip("[]() ") if cell != "[g]" else cell for cell in cells_of(line, delimiter)]
        if len(cells) != len(headers) or not any(cells) or any(_is_number(cell) for cell in cells):
            return None
        known = [cell == "" or any(meant_by(cell, quantity) for quantity in _UNITS_OF) for cell in cells]
        told = [bool(cell) for cell in cells]
        return (
            (number + 1, [c if k else "" for c, k in zip(cells, known, strict=True)])
            if sum(k and t for k, t in zip(known, told, strict=True)) >= 2
            else None
        )
    return None


def _joined_units(cells: list[str]) -> list[str]:
    """`acc_x [m/s2]` is one cell between blanks."""
    joined: list[str] = []
    for cell in cells:
        if joined and cell[:1] in "[(" and not joined[-1].endswith(("]", ")")):
            joined[-1] += cell
        else:
            joined.append(cell)
    return joined


def _is_number(cell: str) -> bool:
    try:
        float(cell.strip().strip('"').replace(",", ".").replace("−", "-"))
    except ValueError:
        return False
    return True


def _checked(body: bytes, encoding: str) -> str:
    try:
        text = body.decode(encoding)
    except UnicodeDecodeError as error:
        raise Refusal(
            "unreadable", f"The CSV is not UTF-8 text (byte {error.start}); save it as CSV in UTF-8."
        ) from error
    if "\0" in text:
        raise Refusal("unreadable", "The CSV holds bytes that are no text; save it as CSV in UTF-8.")
    return encoding


def _looks_like_utf8(body: bytes) -> bool:
    """Only its end is missing, or most of its letters are whole: damaged UTF-8, not another encoding."""
    text = body.decode("utf-8", "replace")
    strange = text.count("�")
    return sum(1 for letter in text if ord(letter) > 127) > 2 * strange
