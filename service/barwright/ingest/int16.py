"""Samples as a sensor's registers give them: little-endian 16-bit whole numbers, channel after channel, with a scale.

A body may begin with one line of text that tells the layout:
`barwright-int16 {"columns": ["accel_x", ...], "scale": {"accel": 0.000488}, "units": {...}, "rate_hz": 200}`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from barwright.ingest.columns import kind_of
from barwright.ingest.json_members import members_of_json
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal, pointer_to

MAGIC = b"barwright-int16 "
MEDIA_TYPE = "application/vnd.barwright.int16"
MOST_COLUMNS = 32
_LONGEST_HEAD = 4096
_MEMBERS = ("columns", "scale", "units", "rate_hz", "boot", "seq", "t0_us", "dt_us", "sent_at", "buffered")


def split_head(body: bytes, limits: Limits) -> tuple[dict[str, Any], bytes]:
    """(members of the head, the numbers behind it); no members when there is no head. Raises Refusal."""
    if not body.startswith(MAGIC):
        return {}, body
    end = body.find(b"\n", 0, _LONGEST_HEAD)
    if end < 0:
        raise Refusal(
            "truncated", f"The head of the int16 body has no end within {_LONGEST_HEAD} bytes; end it with a line feed."
        )
    head = members_of_json(body[len(MAGIC) : end], limits.nesting)
    if not isinstance(head, dict):
        raise Refusal("bad-member", f"The head of the int16 body is {kind_of(head)}; it has to be an object.", "")
    for name in head:
        if name not in _MEMBERS:
            raise Refusal(
                "unknown-member",
                f"`{name[:40]}` is not known in the head of an int16 body; it may have {', '.join(_MEMBERS)}.",
                pointer_to(name),
            )
    return head, body[end + 1 :]


def columns_of_bytes(raw: bytes, columns: int) -> np.ndarray:
    """(columns, n) int16 numbers. Refuses bytes that do not fill whole samples."""
    if not 0 < columns <= MOST_COLUMNS:
        raise Refusal(
            "missing-column",
            f"An int16 body has 1 to {MOST_COLUMNS} columns and {columns} are named; name them in `columns`, in their "
            "order in the bytes.",
            "/columns",
        )
    if len(raw) % (2 * columns):
        raise Refusal(
            "truncated",
            f"{len(raw)} bytes do not fill whole samples of {columns} columns (2 bytes each); send the last one whole.",
        )
    return np.frombuffer(raw, "<i2").reshape(-1, columns).T


class Int16Table:
    """The numbers under the names declared for them; what one count is, is told beside them."""

    def __init__(self, raw: bytes, columns: tuple[str, ...] | None) -> None:
        if columns is None:
            raise Refusal(
                "missing-column",
                "An int16 file tells nothing of itself; declare `columns` (the channels in their order), `scale` and "
                "`units`, and `rate_hz`, in meta or in a head line.",
            )
        self.words: tuple[str, ...] = ("little-endian 16-bit whole numbers",)
        self.headers = list(columns)
        self._values = columns_of_bytes(raw, len(columns))

    def read(self, positions: list[int]) -> list[Any]:
        """The columns, (n,) float64 each, as counts."""
        return [self._values[position].astype(np.float64) for position in positions]

    def place(self, row: int) -> str:
        """Where a value is."""
        return f"in sample {row} (counted from 0)"
