"""Samples one by one: a JSON object a line (NDJSON), or a list of such objects, as named columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import msgspec

from barwright.ingest.columns import at_sample, kind_of
from barwright.ingest.limits import MIB
from barwright.ingest.refusals import Refusal

MOST_MEMBERS = 100  # of one sample
_AXES = ("x", "y", "z")


class RowsTable:
    """Columns are the members of the first object; `{"acc": {"x": 1}}` and `{"acc": [1, 2, 3]}` are acc_x, ..."""

    def __init__(self, rows: Iterable[Any], most_rows: int, where: Callable[[int], str] = at_sample) -> None:
        self.words: tuple[str, ...] = ()
        self._where = where
        self.headers: list[str] = []
        self._columns: list[list[Any]] = []
        for count, row in enumerate(rows):
            flat = _flat(row, where, count)
            if not self.headers:
                self.headers = list(flat)
                self._columns = [[] for _ in self.headers]
            if count >= most_rows:
                raise Refusal(
                    "too-many-samples", f"The file has more than {most_rows} samples; send it as several recordings."
                )
            if len(flat) != len(self.headers) or any(name not in flat for name in self.headers):
                odd = next(iter(sorted(set(self.headers) ^ set(flat))), "")
                raise Refusal(
                    "bad-row",
                    f"The object {where(count)} does not have the members of the first one (`{odd[:40]}`); every "
                    "sample has to have the same members.",
                )
            for column, name in zip(self._columns, self.headers, strict=True):
                column.append(flat[name])

    def read(self, positions: list[int]) -> list[Any]:
        """The values as they were sent."""
        return [self._columns[position] for position in positions]

    def place(self, row: int) -> str:
        """Where a value is."""
        return self._where(row)


def objects_of_lines(body: bytes) -> Iterable[Any]:
    """The JSON value of every line that is not empty. Raises Refusal naming the line."""
    decoder = msgspec.json.Decoder()
    for number, line in enumerate(body.removeprefix(b"\xef\xbb\xbf").split(b"\n"), 1):
        if line.strip():
            if len(line) > 8 * MIB or line.count(b"[") + line.count(b"{") > MOST_MEMBERS:
                raise Refusal("too-many-arrays", f"Line {number} holds more than one sample; send one object a line.")
            try:
                yield decoder.decode(line)
            except (msgspec.DecodeError, RecursionError, ValueError) as error:
                raise Refusal(
                    "unreadable", f"Line {number} is not JSON: {str(error)[:200]}. Send one object a line."
                ) from error


def _flat(row: Any, where: Callable[[int], str], count: int) -> dict[str, Any]:
    if not isinstance(row, dict):
        raise Refusal(
            "bad-row", f"{kind_of(row).capitalize()} stands {where(count)}; every sample has to be an object."
        )
    if all(type(value) in (int, float) for value in row.values()) and len(row) <= MOST_MEMBERS:
        return row
    flat: dict[str, Any] = {}
    for name, value in row.items():
        if isinstance(value, dict):
            flat |= {f"{name}_{inner}": one for inner, one in list(value.items())[:MOST_MEMBERS]}
        elif isinstance(value, list) and len(value) == 3:
            flat |= {f"{name}_{axis}": one for axis, one in zip(_AXES, value, strict=True)}
        else:
            flat[name] = value
    if len(flat) > MOST_MEMBERS:
        raise Refusal("too-many-arrays", f"The object {where(count)} has more than {MOST_MEMBERS} members.")
    return flat
