"""Cutting samples into blocks."""

from __future__ import annotations

from array import array
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright_client.blocks import BlockWriter, CutBy
from sdk.scripted import ticking


def columns(start: int, stop: int, step_us: int = 1000) -> dict[str, Any]:
    return {"t_us": [n * step_us for n in range(start, stop)], "position": [n / 10 for n in range(start, stop)]}


@given(st.lists(st.integers(0, 40), max_size=12), st.integers(1, 17))
def test_any_cutting_of_the_pushes_gives_the_same_samples(lengths: list[int], most: int) -> None:
    writer = BlockWriter(CutBy(samples=most, age_s=1e9))
    blocks, at = [], 0
    for length in lengths:
        blocks += writer.add(columns(at, at + length))
        at += length
    blocks += writer.rest()
    assert [t for block in blocks for t in block.t_us] == [n * 1000 for n in range(at)]
    assert [x for block in blocks for x in block.channels["position"]] == [n / 10 for n in range(at)]
    assert [block.seq for block in blocks] == list(range(len(blocks)))
    assert len({block.boot for block in blocks}) <= 1
    assert all(len(block.t_us) == most for block in blocks[:-1])
    assert len(writer) == 0


def test_cut_by_bytes() -> None:
    """16 bytes a sample here: one time and one channel of 8 bytes each."""
    writer = BlockWriter(CutBy(samples=1000, bytes=160, age_s=1e9))
    assert [len(block.t_us) for block in writer.add(columns(0, 25))] == [10, 10]
    assert len(writer) == 5


def test_cut_by_age() -> None:
    writer = BlockWriter(CutBy(age_s=1.0), clock=ticking(100.0, 100.0, 100.5, 101.0))
    assert writer.add(columns(0, 3)) == []
    assert writer.add(columns(3, 4)) == []
    (block,) = writer.add(columns(4, 5))
    assert len(block.t_us) == 5


def test_every_device_start_has_its_own_name() -> None:
    assert BlockWriter().boot != BlockWriter().boot


def test_even_times_shrink_to_start_and_step() -> None:
    (block,) = BlockWriter(CutBy(samples=4)).add(columns(5, 9))
    document = block.document()
    assert (document["t0_us"], document["dt_us"]) == (5000, 1000)
    assert "t_us" not in document


@pytest.mark.parametrize("times", [[0, 1000, 2001], [7], [5, 5, 5], [3, 2, 1]])
def test_other_times_are_sent_one_by_one(times: list[int]) -> None:
    writer = BlockWriter()
    writer.add({"t_us": times, "position": [0.0] * len(times)})
    (block,) = writer.rest()
    assert block.document()["t_us"] == array("q", times)


def test_times_in_seconds_become_microseconds() -> None:
    writer = BlockWriter()
    writer.add({"t_s": np.array([0.0, 0.0049999, 0.01]), "velocity": np.zeros(3, dtype="f4")})
    assert list(writer.rest()[0].t_us) == [0, 5000, 10000]


def test_one_sample_at_a_time() -> None:
    writer = BlockWriter(CutBy(samples=2))
    assert writer.add({"t_us": 0, "accel_x": 1}) == []
    (block,) = writer.add({"t_us": np.int64(5000), "accel_x": np.float32(2)})
    assert list(block.channels["accel_x"]) == [1.0, 2.0]


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        ({"t_us": [0], "accel": [1.0]}, "unknown channel 'accel'"),
        ({"accel_x": [1.0]}, "t_us or t_s"),
        ({"t_us": [0], "t_s": [0.0], "accel_x": [1.0]}, "t_us or t_s"),
        ({"t_us": [0]}, "at least one channel"),
        ({"t_us": [0, 1], "accel_x": [1.0]}, "accel_x has 1 samples but there are 2 times"),
    ],
)
def test_bad_samples_are_named(samples: dict[str, Any], words: str) -> None:
    writer = BlockWriter()
    with pytest.raises(ValueError, match=words):
        writer.add(samples)
    assert len(writer) == 0


def test_channels_may_not_change() -> None:
    writer = BlockWriter()
    writer.add({"t_us": [0], "position": [1.0]})
    with pytest.raises(ValueError, match=r"changed from .*position.* to .*velocity"):
        writer.add({"t_us": [1], "velocity": [1.0]})
