"""Blocks that are committed together: each has its own outcome, and the rows are those of one by one."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from barwright.access.caller import Caller
from barwright.access.recent_callers import KNOWN_FOR_S, RecentCallers
from barwright.access.scopes import ALL_SCOPES
from barwright.ingest.block import IMU_CHANNELS, Block
from barwright.ingest.refusals import Refusal
from barwright.live.stillness import Stillness
from barwright.storage.blocks import BlockStore
from barwright.workflows.cannot import Cannot
from barwright.workflows.commit_blocks import Arrival, Kept, commit_arrivals
from barwright.workflows.follow_live import si_values
from barwright.workflows.manage_keys import who_calls
from barwright.workflows.parts import utc_now
from barwright.workflows.receive_block import SentBlock, read_block, stream_form
from conftest import Service, imu_block


@pytest.fixture
def caller(service: Service) -> Caller:
    key = service.client.headers["Authorization"].partition(" ")[2]
    return who_calls(service.parts.database, key, utc_now())


def arrival(service: Service, caller: Caller, stream_id: str, **changes: object) -> Arrival:
    document = json.dumps({**imu_block(0), **changes}).encode()
    form = stream_form(service.parts, caller, stream_id)
    return read_block(service.parts, caller, form, SentBlock(document, "application/json", None))


def commit(service: Service, arrivals: list[Arrival]) -> list[object]:
    return list(commit_arrivals(service.parts.database, service.parts.limits, utc_now(), arrivals))


def test_one_that_is_refused_keeps_no_other_out(service: Service, caller: Caller) -> None:
    one, two = service.stream()["id"], service.stream()["id"]
    good = [arrival(service, caller, stream_id, seq=0) for stream_id in (one, two)]
    lost = replace(good[0], form=replace(good[0].form, id="str_erased"))
    other = arrival(service, caller, one, seq=0, t0_us=5)  # the same identity, other content
    outcomes = commit(service, [good[0], lost, other, good[1], good[0]])
    assert [type(each) for each in outcomes] == [Kept, Cannot, Refusal, Kept, Kept]
    assert [each.receipt.stored for each in outcomes if isinstance(each, Kept)] == [True, True, False]
    assert outcomes[2].status == 422
    for stream_id in (one, two):
        received = service.client.get(f"/v1/streams/{stream_id}").json()["received"]
        assert [(boot["next_seq"], boot["missing"]) for boot in received] == [(1, [])]


def test_blocks_out_of_order_within_one_commit(service: Service, caller: Caller) -> None:
    stream_id = service.stream()["id"]
    blocks = [arrival(service, caller, stream_id, seq=seq, t0_us=seq * 1_000_000) for seq in (2, 0, 3, 1, 2, 6)]
    outcomes = commit(service, blocks)
    assert [each.receipt.stored for each in outcomes] == [True, True, True, True, False, True]
    assert {(each.receipt.next_seq, str(each.receipt.missing)) for each in outcomes} == {(7, "[[4, 5]]")}
    with service.parts.database.reading() as session:
        store = BlockStore(session, blocks[0].form)
        (span,) = store.spans()
        assert (span.blocks, span.last_seq, len(store.unpacked())) == (5, 6, 5)


def test_a_bar_with_a_string_beside_the_sensor_is_still_and_moves_as_without() -> None:
    t_us, rng = np.arange(400) * 5000, np.random.default_rng(1)
    channels = {name: rng.normal(0, 0.03, 400) for name in IMU_CHANNELS}
    channels["accel_z"] = channels["accel_z"] + 9.80665 + np.where((t_us > 500_000) & (t_us < 900_000), 4.0, 0)
    units = {"accel": "m/s2", "gyro": "rad/s", "position": "mm"}
    seen = []
    for beside in ({}, {"position": rng.normal(1200, 300, 400)}):
        values, _ = si_values(Block("b1", 0, t_us, {**channels, **beside}), units, 0.0)
        still = Stillness()
        still.add(t_us, values)
        seen.append((still.moved, still.motion_us, still.still_since_us))
    assert seen[0] == seen[1]
    assert seen[0][0]


def test_a_key_is_known_for_seconds_and_forgotten_at_once_when_it_ends() -> None:
    now = [100.0]
    recent = RecentCallers(clock=lambda: now[0])
    recent.keep("bw_one", Caller("club", "key_1", ALL_SCOPES))
    assert recent.get("bw_one").key_id == "key_1"
    assert recent.get("bw_two") is None
    now[0] += KNOWN_FOR_S
    assert recent.get("bw_one") is None
    recent.keep("bw_one", Caller("club", "key_1", ALL_SCOPES))
    recent.forget("key_1")
    assert recent.get("bw_one") is None


def test_a_fast_sensor_is_still_and_moves_at_the_same_times() -> None:
    seen = []
    for rate in (200, 1000):
        t = np.arange(4 * rate) / rate
        values = np.random.default_rng(1).normal(0, 0.03, (len(t), 6))
        values[:, 2] += 9.80665 + np.where((t >= 1) & (t < 2), 4 * np.sin(2 * np.pi * t), 0)
        still, t_us = Stillness(), np.rint(t * 1e6).astype(np.int64)
        for part in np.array_split(np.arange(len(t)), 16):
            still.add(t_us[part], values[part])
        seen.append((still.motion_us, still.still_since_us))
    assert np.abs(np.subtract(*seen)).max() <= 20_000
