"""The small CBOR writer against cbor2 and the examples of RFC 8949."""

from __future__ import annotations

import struct
from array import array
from typing import Any

import cbor2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright_client import cbor

documents = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**64), 2**64 - 1)
    | st.floats(allow_nan=False)
    | st.text(st.characters(exclude_categories=["Cs"]))
    | st.binary(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner),
    max_leaves=30,
)


@given(documents)
def test_cbor2_reads_back_what_was_written(document: Any) -> None:
    assert cbor2.loads(cbor.encode(document)) == document


@pytest.mark.parametrize(
    ("value", "bytes_hex"),
    [
        (0, "00"),
        (23, "17"),
        (24, "1818"),
        (1000, "1903e8"),
        (1000000000000, "1b000000e8d4a51000"),
        (18446744073709551615, "1bffffffffffffffff"),
        (-18446744073709551616, "3bffffffffffffffff"),
        (-1, "20"),
        (1.1, "fb3ff199999999999a"),
        (False, "f4"),
        (None, "f6"),
        ("IETF", "6449455446"),
        ("水", "63e6b0b4"),
        ([1, [2, 3], [4, 5]], "8301820203820405"),
        ({"a": 1, "b": [2, 3]}, "a26161016162820203"),
    ],
)
def test_examples_of_the_standard(value: Any, bytes_hex: str) -> None:
    """RFC 8949, appendix A."""
    assert cbor.encode(value).hex() == bytes_hex


@pytest.mark.parametrize(
    ("code", "tag"),
    [("B", 64), ("H", 69), ("I", 70), ("Q", 71), ("b", 72), ("h", 77), ("i", 78), ("q", 79), ("f", 85), ("d", 86)],
)
def test_typed_arrays(code: str, tag: int) -> None:
    """RFC 8746, table 1: tags of the little-endian arrays."""
    found = cbor2.loads(cbor.encode(array(code, [1, 2, 100])))
    assert isinstance(found, cbor2.CBORTag)
    assert found.tag == tag
    assert found.value == struct.pack(f"<3{code}", 1, 2, 100)


@pytest.mark.parametrize("dtype", ["<f4", ">f4", "<f8", ">f8", "<i2", ">i2", "<f2", ">i8"])
def test_numpy_columns_go_out_little_endian(dtype: str) -> None:
    column = np.array([1, -2, 300], dtype=dtype)
    found = cbor2.loads(cbor.encode(column))
    assert found.value == column.astype(np.dtype(dtype).newbyteorder("<")).tobytes()


def test_a_strided_column_is_written_in_order() -> None:
    table = np.arange(12.0).reshape(4, 3)
    assert cbor2.loads(cbor.encode(table[:, 1])).value == np.array([1.0, 4.0, 7.0, 10.0]).tobytes()


def test_what_cannot_be_sent_is_named() -> None:
    with pytest.raises(TypeError, match="complex"):
        cbor.encode(1j)
    with pytest.raises(TypeError, match="2 dimensions"):
        cbor.encode(np.zeros((2, 2)))
    with pytest.raises(TypeError, match="format"):
        cbor.encode(np.zeros(2, dtype=complex))
    with pytest.raises(ValueError, match="64 bits"):
        cbor.encode(2**64)
