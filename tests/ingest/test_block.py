"""The stored form of blocks gives back every bit; the digest knows the content and nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from barwright.ingest.block import Block, pack_many, unpack, unpack_many

SENT = datetime(2025, 3, 1, 17, 30, 0, 250000, tzinfo=UTC)


def _block(values: np.ndarray, t_us: np.ndarray | None = None, seq: int = 3) -> Block:
    times = np.arange(len(values), dtype=np.int64) * 2403 + 10**12 if t_us is None else t_us
    return Block("boot-1", seq, times, {"position": values}, SENT, True)


def _same(one: Block, other: Block) -> bool:
    return (
        (one.boot, one.seq, one.sent_at, one.buffered) == (other.boot, other.seq, other.sent_at, other.buffered)
        and one.t_us.tobytes() == other.t_us.tobytes()
        and list(one.channels) == list(other.channels)
        and all(one.channels[name].tobytes() == other.channels[name].tobytes() for name in one.channels)
    )


_FLOATS = st.floats(allow_nan=False, allow_infinity=False)
_COLUMNS = st.integers(1, 40).flatmap(
    lambda n: st.one_of(
        arrays(np.float64, n, elements=_FLOATS),
        arrays(np.float64, n, elements=st.floats(width=32, allow_nan=False, allow_infinity=False)),
        arrays(np.float64, n, elements=st.decimals(-400, 400, places=5).map(float)),
        arrays(np.float64, n, elements=st.integers(-(2**53), 2**53).map(float)),
        arrays(np.float64, n, elements=st.sampled_from([0.0, -0.0, 5e-324, 1.7e308, 2.0**53, 0.1])),
    )
)


@given(_COLUMNS)
@settings(deadline=None, max_examples=150)
def test_values_come_back_bit_for_bit(values: np.ndarray) -> None:
    block = _block(values)
    assert _same(unpack(block.pack()), block)


@given(arrays(np.int64, st.integers(1, 30), elements=st.integers(-(2**53), 2**53)))
@settings(deadline=None, max_examples=80)
def test_times_come_back(t_us: np.ndarray) -> None:
    block = _block(np.zeros(len(t_us)), np.sort(t_us))
    assert _same(unpack(block.pack()), block)


def test_many_blocks_come_back_in_order() -> None:
    blocks = [_block(np.linspace(0, seq, 50), seq=seq) for seq in (4, 0, 2)]
    back = unpack_many(pack_many(blocks))
    assert [b.seq for b in back] == [4, 0, 2]
    assert all(_same(a, b) for a, b in zip(blocks, back, strict=True))
    assert unpack_many(pack_many([])) == []


def test_decimal_readings_take_less_than_half_of_float64() -> None:
    values = np.round(np.random.default_rng(1).normal(size=4000), 3)
    assert len(_block(values).pack()) < 4000 * 8 / 2


@pytest.mark.parametrize(
    "spoil", [lambda b: b[:-4], lambda b: b"XYZ" + b[3:], lambda b: b[:40] + b"\xff" + b[41:], lambda b: b""]
)
def test_damage_is_noticed(spoil) -> None:  # type: ignore[no-untyped-def]
    stored = _block(np.random.default_rng(1).normal(size=100)).pack()
    with pytest.raises(ValueError, match="stored block"):
        unpack(spoil(stored))


def test_another_version_is_named() -> None:
    stored = bytearray(_block(np.zeros(3)).pack())
    stored[3] = 9
    with pytest.raises(ValueError, match="version 09"):
        unpack(bytes(stored))


def test_one_block_is_not_many() -> None:
    with pytest.raises(ValueError, match="holds 2 blocks"):
        unpack(pack_many([_block(np.zeros(3)), _block(np.zeros(3))]))


def test_digest_is_the_content() -> None:
    block = _block(np.array([0.0, 1.5, 2.25]))
    assert len(block.digest()) == 64
    same = replace(block, sent_at=None, buffered=False, channels={"position": np.array([-0.0, 1.5, 2.25])})
    assert same.digest() == block.digest()
    others = [
        replace(block, boot="boot-2"),
        replace(block, seq=4),
        replace(block, t_us=block.t_us + 1),
        replace(block, channels={"velocity": block.channels["position"]}),
        replace(block, channels={"position": np.array([0.0, 1.5, np.nextafter(2.25, 3)])}),
    ]
    assert len({block.digest(), *(other.digest() for other in others)}) == 6


def test_digest_does_not_mind_the_order_of_channels() -> None:
    one = Block("b", 0, np.arange(2), {"accel_x": np.ones(2), "accel_y": np.zeros(2)})
    other = Block("b", 0, np.arange(2), {"accel_y": np.zeros(2), "accel_x": np.ones(2)})
    assert one.digest() == other.digest()
