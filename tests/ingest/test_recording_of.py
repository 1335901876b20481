"""Any cutting, order and repeats of the blocks of a recording give the recording."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from barwright.analysis.motion.samples import EncoderSamples, ImuSamples, SensorSetup
from barwright.ingest.block import IMU_CHANNELS, Block, unpack
from barwright.ingest.recording_of import recording_of
from ingest.bodies import refusal_of

SENT = datetime(2025, 3, 1, 17, 30, tzinfo=UTC)
UNITS = {"accel": "[g]", "gyro": "deg/s"}
SETUP = SensorSetup(place="sleeve")


def _samples(seed: int, count: int = 60) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    rng = np.random.default_rng(seed)
    return np.cumsum(rng.integers(0, 5000, count)), {name: rng.normal(size=count) for name in IMU_CHANNELS}


def _cut(boot: str, seed: int, cuts: set[int]) -> list[Block]:
    t_us, channels = _samples(seed)
    edges = [0, *sorted(cuts), len(t_us)]
    return [
        Block(boot, seq, t_us[a:b], {name: values[a:b] for name, values in channels.items()})
        for seq, (a, b) in enumerate(pairwise(edges))
    ]


def _equal(one: Any, other: Any) -> bool:
    return len(one.parts) == len(other.parts) and all(
        a.t_s.tobytes() == b.t_s.tobytes()
        and a.accel_m_s2.tobytes() == b.accel_m_s2.tobytes()
        and a.gyro_rad_s.tobytes() == b.gyro_rad_s.tobytes()
        for a, b in zip(one.parts, other.parts, strict=True)
    )


@given(
    cuts=st.tuples(st.sets(st.integers(1, 59), max_size=8), st.sets(st.integers(1, 59), max_size=8)),
    shuffle=st.randoms(use_true_random=False),
    repeats=st.lists(st.integers(0, 100), max_size=6),
    sent=st.booleans(),
)
@settings(deadline=None, max_examples=60)
def test_any_cutting_order_and_repeats(
    cuts: tuple[set[int], set[int]], shuffle: Any, repeats: list[int], sent: bool
) -> None:
    def stamped(blocks: list[Block], after_s: int) -> list[Block]:
        return [replace(b, sent_at=SENT + timedelta(seconds=after_s + b.seq)) if sent else b for b in blocks]

    whole = recording_of([*stamped(_cut("a", 1, set()), 0), *stamped(_cut("b", 2, set()), 600)], "imu", UNITS, SETUP)
    pieces = stamped(_cut("a", 1, cuts[0]), 0) + stamped(_cut("b", 2, cuts[1]), 600)
    pieces += [replace(pieces[i % len(pieces)], buffered=True) for i in repeats]
    shuffle.shuffle(pieces)
    stored = [unpack(block.pack()) for block in pieces]
    assert _equal(recording_of(stored, "imu", UNITS, SETUP), whole)


def test_values_are_in_si_and_times_on_the_device_clock() -> None:
    t_us, channels = _samples(5)
    recording = recording_of(_cut("a", 5, {20}), "imu", UNITS, SETUP)
    (part,) = recording.parts
    assert isinstance(part, ImuSamples)
    assert recording.setup is SETUP
    np.testing.assert_allclose(part.t_s, t_us / 1e6, rtol=1e-15)
    np.testing.assert_allclose(part.accel_m_s2[:, 2], channels["accel_z"] * 9.80665, rtol=1e-15)
    np.testing.assert_allclose(part.gyro_rad_s[:, 0], np.deg2rad(channels["gyro_x"]), rtol=1e-15)


@pytest.mark.parametrize(("name", "unit", "factor"), [("position", "mm", 1e-3), ("velocity", "cm/s", 1e-2)])
def test_encoder(name: str, unit: str, factor: float) -> None:
    blocks = [
        Block("a", 1, np.array([30, 40]), {name: np.array([3.0, 4.0])}),
        Block("a", 0, np.array([10]), {name: np.ones(1)}),
    ]
    (part,) = recording_of(blocks, "encoder", {name: unit}, SETUP).parts
    assert isinstance(part, EncoderSamples)
    given_back = part.position_m if name == "position" else part.velocity_m_s
    other = part.velocity_m_s if name == "position" else part.position_m
    np.testing.assert_allclose(given_back, np.array([1.0, 3.0, 4.0]) * factor)
    assert other is None


def _starts(*firsts: tuple[str, int, datetime | None]) -> list[int]:
    """The first device time of each part, in the order of the parts."""
    blocks = [Block(boot, 0, np.array([t0]), {"position": np.zeros(1)}, sent) for boot, t0, sent in firsts]
    return [round(float(p.t_s[0]) * 1e6) for p in recording_of(blocks, "encoder", {"position": "m"}, SETUP).parts]


def test_device_starts_follow_the_wall_clock_when_every_one_has_it() -> None:
    later = SENT + timedelta(seconds=1)
    assert _starts(("a", 100, later), ("b", 900, SENT)) == [900, 100]


def test_device_starts_follow_the_device_clock_when_one_has_no_wall_clock() -> None:
    assert _starts(("a", 900, SENT), ("b", 100, None)) == [100, 900]


def test_nothing_received_is_an_empty_recording() -> None:
    assert recording_of([], "imu", UNITS, SETUP).parts == ()


def test_one_identity_with_two_contents_is_refused() -> None:
    blocks = _cut("a", 1, {10})
    other = replace(blocks[1], t_us=blocks[1].t_us + 1)
    refusal = refusal_of(recording_of, [*blocks, other], "imu", UNITS, SETUP)
    assert (refusal.code, refusal.status, refusal.pointer) == ("other-content", 422, "/seq")
    assert "Block 1 of boot `a`" in refusal.detail


def test_position_and_velocity_in_one_device_start_are_refused() -> None:
    blocks = [Block("a", seq, np.array([seq]), {name: np.ones(1)}) for seq, name in enumerate(("position", "velocity"))]
    refusal = refusal_of(recording_of, blocks, "encoder", {"position": "m", "velocity": "m/s"}, SETUP)
    assert (refusal.code, refusal.status, refusal.pointer) == ("channel-conflict", 422, "/channels")
    assert "Block 1 of boot `a` has velocity, block 0 has position" in refusal.detail
