"""Typed arrays of RFC 8746 and numbers of IEEE 754."""

from __future__ import annotations

import struct

import cbor2
import numpy as np
import pytest

from barwright.ingest.typed_arrays import array_of_tag, tag_of_array


def test_example_of_rfc_8746() -> None:
    # RFC 8746, section 3.1.1, figure 1: the typed array inside the example, d8 41 4c 0002 0004 0008 0004 0010 0100.
    tag = cbor2.loads(bytes.fromhex("d8414c000200040008000400100100"))
    assert array_of_tag(tag.tag, tag.value).tolist() == [2, 4, 8, 4, 16, 256]


@pytest.mark.parametrize("tag", [t for t in range(64, 87) if t not in (76, 83)])
def test_every_tag_reads_as_its_bits_say(tag: int) -> None:
    # RFC 8746, section 2.1: tag = 0b010_f_s_e_ll; width is 2**(f + ll) bytes; e is 1 for little-endian;
    # tag 68 is the exception, uint8 with clamped arithmetic.
    is_float, signed, little, ll = (tag >> 4) & 1, (tag >> 3) & 1, (tag >> 2) & 1, tag & 3
    width = 2 ** (is_float + ll)
    letter = {2: "e", 4: "f", 8: "d"}[width] if is_float else {1: "b", 2: "h", 4: "i", 8: "q"}[width]
    letter = letter if is_float or signed else letter.upper()
    numbers = [0.5, -3.0, 2.0] if is_float else [1, -3 if signed else 200, 7]
    body = struct.pack(f"{'<' if little else '>'}3{letter}", *numbers)
    assert array_of_tag(tag, body).tolist() == numbers


@pytest.mark.parametrize(
    ("bits", "number"),
    [
        # IEEE 754-2019 binary128; bit patterns as listed for binary128 in common references (from memory).
        ("3fff0000000000000000000000000000", 1.0),
        ("c0000000000000000000000000000000", -2.0),
        ("3ffd5555555555555555555555555555", 1 / 3),
        ("4000921fb54442d18469898cc51701b8", np.pi),
        ("7fff0000000000000000000000000000", np.inf),
        ("ffff0000000000000000000000000000", -np.inf),
        ("7fff8000000000000000000000000000", np.nan),
        ("00000000000000000000000000000001", 0.0),
        ("7ffeffffffffffffffffffffffffffff", np.inf),
    ],
)
def test_quadruple_numbers_come_as_the_nearest_double(bits: str, number: float) -> None:
    big = bytes.fromhex(bits)
    for tag, body in ((83, big), (87, big[::-1])):
        np.testing.assert_allclose(array_of_tag(tag, body), [number], rtol=2.3e-16)


def test_a_number_cut_in_the_middle_is_an_error() -> None:
    with pytest.raises(ValueError, match="7 bytes, which is not a multiple of 4"):
        array_of_tag(85, bytes(7))


@pytest.mark.parametrize("tag", [63, 76, 88, 40])
def test_other_tags_are_an_error(tag: int) -> None:
    # RFC 8746, section 2.1: 76 is reserved; 40 is a multi-dimensional array.
    with pytest.raises(ValueError, match=f"CBOR tag {tag} "):
        array_of_tag(tag, bytes(8))


@pytest.mark.parametrize("dtype", ["<f8", ">f4", "<i2", "|u1", ">u8"])
def test_there_and_back(dtype: str) -> None:
    numbers = np.array([1, 2, 100], dtype)
    tag = tag_of_array(numbers)
    back = array_of_tag(tag.tag, tag.value)
    assert back.dtype == numbers.dtype
    assert back.tolist() == [1, 2, 100]
