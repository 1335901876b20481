"""Any cutting into blocks, in any order, with any repeats, gives the identical answer."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cache
from itertools import pairwise
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barsim import EncoderKind, simulate
from barwright.analysis.motion.samples import SensorSetup
from barwright.analysis.quantities.lifts import LIFTS
from barwright.analysis.reps.results import SetAnalysis
from barwright.analysis.reps.set_analysis import analyse_set
from barwright.ingest.block import IMU_CHANNELS, Block, unpack
from barwright.ingest.recording_of import recording_of

UNITS = {"imu": {"accel": "m/s2", "gyro": "rad/s"}, "encoder": {"position": "m"}}


@cache
def columns(kind: str) -> tuple[np.ndarray, dict[str, np.ndarray], SensorSetup]:
    """Device clock in microseconds and channels of a snatch; at 100 Hz with losses and jitter for the imu."""
    if kind == "imu":
        one = simulate("snatch", seed=51, device="poor")
        both = np.hstack((one.imu_samples.accel_m_s2, one.imu_samples.gyro_rad_s))
        channels = {name: both[:, k].copy() for k, name in enumerate(IMU_CHANNELS)}
        t_s = one.imu_samples.t_s
    else:
        one = simulate("snatch", seed=51, device=None, encoder=EncoderKind(rate_hz=50))
        channels, t_s = {"position": one.string_m}, one.truth.t_s
    return np.rint(t_s * 1e6).astype(np.int64), channels, one.recording.setup


def answer(kind: str, cuts: set[float], shuffle: Random | None, repeats: list[int]) -> SetAnalysis:
    """The set from blocks cut at these shares of the recording, sent in any order, some more than once."""
    t_us, channels, setup = columns(kind)
    edges = [0, *sorted({max(1, min(len(t_us) - 1, int(c * len(t_us)))) for c in cuts}), len(t_us)]
    blocks = [
        Block("b1", seq, t_us[a:b], {name: x[a:b] for name, x in channels.items()})
        for seq, (a, b) in enumerate(pairwise(edges))
    ]
    blocks += [blocks[k % len(blocks)] for k in repeats]
    if shuffle:
        shuffle.shuffle(blocks)
    stored = [unpack(block.pack()) for block in blocks]
    return analyse_set(recording_of(stored, kind, UNITS[kind], setup), LIFTS["snatch"])


def same(a: Any, b: Any) -> bool:
    """Identical to the last bit, all the way down."""
    if isinstance(a, np.ndarray):
        return isinstance(b, np.ndarray) and a.tobytes() == b.tobytes()
    if is_dataclass(a):
        return type(a) is type(b) and all(same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(same(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    return bool(a == b)


@cache
def whole(kind: str) -> SetAnalysis:
    return answer(kind, set(), None, [])


@pytest.mark.parametrize("kind", ["imu", "encoder"])
@given(
    cuts=st.sets(st.floats(0, 1), max_size=12),
    shuffle=st.randoms(use_true_random=False),
    repeats=st.lists(st.integers(0, 100), max_size=4),
)
@settings(deadline=None, max_examples=12)
def test_any_cutting_gives_the_identical_set(kind: str, cuts: set[float], shuffle: Random, repeats: list[int]) -> None:
    assert [rep.outcome for rep in whole(kind).reps] == ["made"]
    assert same(answer(kind, cuts, shuffle, repeats), whole(kind))


def test_another_recording_is_not_called_the_same() -> None:
    assert not same(whole("imu"), whole("encoder"))
    other = analyse_set(simulate("snatch", seed=52, device="poor").recording, LIFTS["snatch"])
    assert not same(whole("imu"), other)
