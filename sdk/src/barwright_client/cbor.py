"""Just enough CBOR (RFC 8949) to write a block: maps, lists, text, numbers, and typed arrays (RFC 8746)."""

from __future__ import annotations

import struct
import sys
from array import array
from collections.abc import Mapping
from typing import Any

# RFC 8746 table 1: element kind and size in bytes -> tag of the little-endian typed array.
_TAGS = {
    ("u", 1): 64, ("u", 2): 69, ("u", 4): 70, ("u", 8): 71,
    ("i", 1): 72, ("i", 2): 77, ("i", 4): 78, ("i", 8): 79,
    ("f", 2): 84, ("f", 4): 85, ("f", 8): 86,
}  # fmt: skip


def encode(value: Any) -> bytes:
    """CBOR bytes of None, bool, int, float, str, bytes, mappings, lists, tuples and one-dimensional numeric buffers.

    array.array, numpy arrays and memoryviews of numbers become little-endian typed arrays of their own width.
    """
    if value is None or isinstance(value, bool):
        return {None: b"\xf6", False: b"\xf4", True: b"\xf5"}[value]
    if isinstance(value, int):
        return _head(0, value) if value >= 0 else _head(1, -1 - value)
    if isinstance(value, float):
        return b"\xfb" + struct.pack(">d", value)
    if isinstance(value, str):
        text = value.encode()
        return _head(3, len(text)) + text
    if isinstance(value, bytes):
        return _head(2, len(value)) + value
    if isinstance(value, Mapping):
        return _head(5, len(value)) + b"".join(encode(name) + encode(member) for name, member in value.items())
    if isinstance(value, list | tuple):
        return _head(4, len(value)) + b"".join(encode(member) for member in value)
    return _typed_array(value)


def _head(major: int, number: int) -> bytes:
    if number < 24:
        return bytes([major << 5 | number])
    for size, more in ((1, 24), (2, 25), (4, 26), (8, 27)):
        if number < 1 << (8 * size):
            return bytes([major << 5 | more]) + number.to_bytes(size, "big")
    raise ValueError(f"{number} does not fit in 64 bits")


def _typed_array(value: Any) -> bytes:
    try:
        view = memoryview(value)
    except TypeError:
        raise TypeError(
            f"cannot send a {type(value).__name__}; expected numbers, text, lists, or an array of numbers"
        ) from None
    order, code = (view.format[:1], view.format[1:]) if view.format[:1] in "<>=!@" else ("@", view.format)
    kind = "f" if code in "efd" else "i" if code in "bhilq" else "u" if code in "BHILQ" else "?"
    tag = _TAGS.get((kind, view.itemsize))
    if tag is None or view.ndim != 1:
        raise TypeError(
            f"cannot send an array of format {view.format!r} with {view.ndim} dimensions; expected one row of numbers"
        )
    content = view.tobytes()
    if view.itemsize > 1 and (order in ">!" or (order in "@=" and sys.byteorder == "big")):
        content = _swapped(content, view.itemsize)
    return _head(6, tag) + _head(2, len(content)) + content


def _swapped(content: bytes, size: int) -> bytes:
    items = array({2: "H", 4: "I", 8: "Q"}[size], content)
    items.byteswap()
    return items.tobytes()
