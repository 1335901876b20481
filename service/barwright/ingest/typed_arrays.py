"""Typed arrays of CBOR (RFC 8746): one tag number says number kind, width and byte order."""

from __future__ import annotations

from typing import Any

import cbor2
import numpy as np
from numpy.typing import NDArray

# RFC 8746, table 1; numpy spells: > network order, < little-endian, u unsigned, i signed, f binary float of IEEE 754.
DTYPES: dict[int, str] = {
    64: "|u1", 65: ">u2", 66: ">u4", 67: ">u8", 68: "|u1", 69: "<u2", 70: "<u4", 71: "<u8",
    72: "|i1", 73: ">i2", 74: ">i4", 75: ">i8", 77: "<i2", 78: "<i4", 79: "<i8",
    80: ">f2", 81: ">f4", 82: ">f8", 84: "<f2", 85: "<f4", 86: "<f8",
}  # fmt: skip
QUADRUPLE = {83: ">u8", 87: "<u8"}  # binary128, read as two halves
TAGS = {np.dtype(dtype): tag for tag, dtype in DTYPES.items() if tag != 68}


def array_of_tag(tag: int, value: Any) -> NDArray[Any]:
    """The (n,) numbers of a typed array, still in their own width; binary128 becomes float64.

    Raises ValueError when the tag is no typed array or the bytes do not fill whole numbers.
    """
    if tag not in DTYPES and tag not in QUADRUPLE:
        raise ValueError(f"CBOR tag {tag} is not a typed array of RFC 8746")
    if not isinstance(value, bytes):
        raise ValueError(f"the typed array with CBOR tag {tag} does not hold a byte string")
    width = 16 if tag in QUADRUPLE else np.dtype(DTYPES[tag]).itemsize
    if len(value) % width:
        raise ValueError(
            f"the typed array with CBOR tag {tag} has {len(value)} bytes, which is not a multiple of {width}"
        )
    if tag in QUADRUPLE:
        halves = np.frombuffer(value, QUADRUPLE[tag]).reshape(-1, 2)
        return _from_quadruple(*(halves.T if tag == 83 else halves.T[::-1]))
    return np.frombuffer(value, DTYPES[tag])


def tag_of_array(values: NDArray[Any]) -> cbor2.CBORTag:
    """The typed array that carries these (n,) numbers in their own width and byte order."""
    return cbor2.CBORTag(TAGS[values.dtype], values.tobytes())


def _from_quadruple(high: NDArray[np.uint64], low: NDArray[np.uint64]) -> NDArray[np.float64]:
    """binary128 (IEEE 754-2019, 3.6: 1 sign, 15 exponent, 112 fraction bits) to float64, to the last place or so."""
    exponent = ((high >> np.uint64(48)) & np.uint64(0x7FFF)).astype(np.int64)
    fraction = np.ldexp((high & np.uint64(0xFFFFFFFFFFFF)).astype(np.float64), -48)
    fraction += np.ldexp(low.astype(np.float64), -112)
    with np.errstate(over="ignore", under="ignore"):
        size = np.ldexp(fraction + (exponent > 0), np.maximum(exponent, 1) - 16383)
    size = np.where(exponent == 0x7FFF, np.where(fraction == 0, np.inf, np.nan), size)
    return np.where(high >> np.uint64(63), -size, size)
