"""The stored form of blocks: version, CBOR (RFC 8949) with typed arrays (RFC 8746), Zstandard (RFC 8878).

Each column takes the narrowest form that gives back every bit: whole numbers, decimal numbers as whole numbers and
a power of ten, float32, else float64. Whole numbers are stored as steps from one sample to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import local
from typing import Any

import cbor2
import numpy as np
import zstandard
from numpy.typing import NDArray

from barwright.ingest.typed_arrays import array_of_tag, tag_of_array

MAGIC = b"BWB\x01"
MOST_DECIMALS = 9
_SCALES = 10.0 ** np.arange(MOST_DECIMALS + 1)
_PEEK = 16  # samples looked at before a whole column is tried
_EXACT = 2.0**53
_WIDTHS = [(d, int(np.iinfo(d).min), int(np.iinfo(d).max)) for d in ("<i1", "<i2", "<i4", "<i8")]


@dataclass(frozen=True, slots=True)
class Members:
    """What is stored of one block; sent_at as RFC 3339 text."""

    boot: str
    seq: int
    t_us: NDArray[np.int64]
    channels: dict[str, NDArray[np.float64]]
    sent_at: str | None
    buffered: bool


def write(blocks: list[Members], level: int) -> bytes:
    """The stored object: magic with version, then one Zstandard frame with its checksum."""
    content = [
        [b.boot, b.seq, _steps(b.t_us), {k: _column(v) for k, v in b.channels.items()}, b.sent_at, b.buffered]
        for b in blocks
    ]
    return MAGIC + zstandard.ZstdCompressor(level=level, write_checksum=True).compress(cbor2.dumps(content))


def write_fresh(block: Members) -> bytes:
    """The stored object of one block that has just come, made in a fifth of the time: no decimals are looked for."""
    names, values = list(block.channels), np.array(list(block.channels.values()), dtype=np.float64)
    with np.errstate(over="ignore"):
        narrow = values.astype("<f4")
    rows = narrow if (narrow.astype(np.float64).view(np.int64) == values.view(np.int64)).all() else values
    columns = {name: tag_of_array(row) for name, row in zip(names, rows, strict=True)}
    content = [[block.boot, block.seq, _steps(block.t_us), columns, block.sent_at, block.buffered]]
    return MAGIC + _KEPT.packer.compress(cbor2.dumps(content))


class _Kept(local):
    """What each thread keeps: no two may use a packer at a time, and a block is packed as fast as one is made."""

    def __init__(self) -> None:
        self.packer = zstandard.ZstdCompressor(level=1, write_checksum=True)


_KEPT = _Kept()


def read(stored: bytes) -> list[Members]:
    """The blocks of a stored object. Raises ValueError when it is damaged or of another version."""
    if stored[:3] != MAGIC[:3]:
        raise ValueError("not a stored block: it does not start with its mark")
    if stored[:4] != MAGIC:
        raise ValueError(f"a stored block of version {stored[3:4].hex()}; this program reads version {MAGIC[3]}")
    try:
        content = cbor2.loads(zstandard.ZstdDecompressor().decompress(stored[4:]), tag_hook=_tag_hook)
        return [
            Members(boot, seq, _from_steps(t), {k: _from_column(v) for k, v in channels.items()}, sent_at, buffered)
            for boot, seq, t, channels, sent_at, buffered in content
        ]
    except (zstandard.ZstdError, cbor2.CBORDecodeError, ValueError, TypeError, IndexError, MemoryError) as error:
        raise ValueError(f"a damaged stored block: {error}") from error


def _tag_hook(tag: Any, _immutable: bool = False) -> Any:
    return array_of_tag(tag.tag, tag.value)


def _steps(whole: NDArray[np.int64]) -> list[Any]:
    """[first value, steps as a typed array of the narrowest integer]."""
    if not len(whole):
        return []
    steps = np.diff(whole)
    low, high = (int(steps.min()), int(steps.max())) if len(steps) else (0, 0)
    narrowest = next(dtype for dtype, least, most in _WIDTHS if least <= low and high <= most)
    return [int(whole[0]), tag_of_array(steps.astype(narrowest))]


def _from_steps(form: list[Any]) -> NDArray[np.int64]:
    if not form:
        return np.zeros(0, np.int64)
    whole = np.empty(len(form[1]) + 1, np.int64)
    whole[0] = form[0]
    whole[1:] = form[1]
    return np.cumsum(whole)


def _column(values: NDArray[np.float64]) -> Any:
    """A column as [power of ten, first, steps], or as a typed array of floats."""
    for decimals in _likely_decimals(values[:_PEEK]):
        scale = 10.0**decimals
        if _is_decimal(values, scale):
            return [decimals, *_steps(np.rint(values * scale).astype(np.int64))]
    with np.errstate(over="ignore"):
        narrow = values.astype("<f4")
    exact = narrow.astype(np.float64).tobytes() == values.tobytes()
    return tag_of_array(narrow if exact else values.astype("<f8"))


def _likely_decimals(values: NDArray[np.float64]) -> list[int]:
    """How many decimals these few values may have, all numbers tried at once."""
    with np.errstate(over="ignore", invalid="ignore"):
        as_told = np.rint(values[:, None] * _SCALES) / _SCALES
    return [int(decimals) for decimals in np.flatnonzero((as_told == values[:, None]).all(axis=0))]


def _is_decimal(values: NDArray[np.float64], scale: float) -> bool:
    with np.errstate(over="ignore", invalid="ignore"):
        whole = np.rint(values * scale)
    # A whole number under 2**53 over a power of ten under 1e23 is the float nearest to that decimal (IEEE 754).
    return bool(np.all(np.abs(whole) < _EXACT)) and ((whole + 0.0) / scale).tobytes() == values.tobytes()


def _from_column(form: Any) -> NDArray[np.float64]:
    if isinstance(form, list):
        scale = 10.0 ** int(form[0])
        return _from_steps(form[1:]).astype(np.float64) / scale
    return np.asarray(form, dtype=np.float64)
