"""The samples of a recording file as blocks, each within the limits of a block."""

from __future__ import annotations

from typing import Any

import numpy as np

from barwright.ingest.block import IMU_CHANNELS, Block, Ints
from barwright.ingest.block_members import block_of_members
from barwright.ingest.block_times import US, check_stream_seconds, check_times
from barwright.ingest.columns import kind_of
from barwright.ingest.declared_units import SI, group_of, read_as_si
from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.table_samples import TableSamples

BOOT = "file"


def blocks_of_samples(samples: TableSamples, limits: Limits) -> list[Block]:
    """The blocks of a table: boot `file`, seq from 0. A block ends early where the next sample is too far away."""
    t_us, channels = samples.clock.t_us, samples.channels
    blocks = []
    for seq, (start, stop) in enumerate(_cuts(t_us, len(channels), limits)):
        check_times(t_us[start:stop], limits, (samples.clock.name,))
        blocks.append(Block(BOOT, seq, t_us[start:stop], {name: v[start:stop] for name, v in channels.items()}))
    return blocks


def blocks_of_list(
    given: Any, declared: dict[str, str], limits: Limits, path: tuple[str | int, ...]
) -> tuple[str, list[Block], dict[str, str], tuple[str, ...]]:
    """(kind, blocks, units, notes) of one block or a list of blocks, as they would be sent one by one.

    Blocks that name no boot and seq are taken in the order of the list.
    """
    if isinstance(given, dict):
        members, paths = [given], [path]
    elif isinstance(given, list):
        members, paths = given, [(*path, i) for i in range(len(given))]
    else:
        raise Refusal("bad-member", f"`blocks` is {kind_of(given)}; it has to be a list of blocks.", pointer_to(*path))
    if not members:
        raise Refusal("no-samples", "The list of blocks is empty.", pointer_to(*path))
    first = members[0].get("channels") if isinstance(members[0], dict) else None
    kind = "imu" if isinstance(first, dict) and any(name in IMU_CHANNELS for name in first) else "encoder"
    numbered = [{"boot": BOOT, "seq": i, **one} if isinstance(one, dict) else one for i, one in enumerate(members)]
    blocks = [block_of_members(block, kind, limits, at) for block, at in zip(numbered, paths, strict=True)]
    _check_total(blocks, limits, path)
    groups = dict.fromkeys(group_of(name) for block in blocks for name in block.channels)
    notes = read_as_si(group for group in groups if group not in declared)
    return kind, blocks, {group: declared.get(group, SI[group]) for group in groups}, notes


def _cuts(t_us: Ints, channels: int, limits: Limits) -> list[tuple[int, int]]:
    most = max(1, min(limits.block_samples, limits.block_bytes // (8 * (channels + 1))))
    cuts, start = [], 0
    while start < len(t_us):
        within = int(np.searchsorted(t_us, t_us[start] + int(limits.block_seconds * US), side="right"))
        stop = min(start + most, within)
        cuts.append((start, stop))
        start = stop
    return cuts


def _check_total(blocks: list[Block], limits: Limits, path: tuple[str | int, ...]) -> None:
    samples = sum(len(block.t_us) for block in blocks)
    if samples > limits.recording_samples:
        raise Refusal(
            "too-many-samples",
            f"The blocks have {samples} samples; the limit is {limits.recording_samples} in one recording.",
            pointer_to(*path),
        )
    for boot in {block.boot for block in blocks}:
        check_stream_seconds(np.concatenate([b.t_us for b in blocks if b.boot == boot]), limits, pointer_to(*path))
