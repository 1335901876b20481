"""The samples of a recording file as blocks, each within the limits of a block."""

from __future__ import annotations

from typing import Any

import numpy as np

from barwright.ingest.block import IMU_CHANNELS, Block, Ints
from barwright.ingest.block_members import block_of_members
from barwright.ingest.block_times import US, check_times
from barwright.ingest.columns import finite_numbers, kind_of, length_of, sensor_values
from barwright.ingest.declared_units import SI, group_of, read_as_si
from barwright.ingest.limits import LARGEST_EXACT_INTEGER, Limits
from barwright.ingest.refusals import Refusal, pointer_to
from barwright.ingest.tables.headers import TIMES, Headers
from barwright.ingest.tables.table import Table

BOOT = "file"


def blocks_of_table(table: Table, headers: Headers, limits: Limits) -> list[Block]:
    """The blocks of a table: boot `file`, seq from 0. A block ends early where the next sample is too far away."""
    position, time_name = headers.time
    positions = [position, *headers.channels.values()]
    columns = table.read(positions)
    names = [table.headers[p] for p in positions]
    _check_lengths(names, columns, limits)
    t_us = _times(columns[0], names[0], TIMES[time_name][1], table)
    channels = {
        channel: sensor_values(column, (header,), table.place)
        for channel, header, column in zip(headers.channels, names[1:], columns[1:], strict=True)
    }
    check_stream_seconds(t_us, limits, pointer_to(names[0]))
    blocks = []
    for seq, (start, stop) in enumerate(_cuts(t_us, len(channels), limits)):
        check_times(t_us[start:stop], limits, (names[0],))
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


def check_stream_seconds(t_us: Ints, limits: Limits, pointer: str | None) -> None:
    """Refuses times of one device start that span more than a stream may."""
    lasts_s = float(t_us.max() - t_us.min()) / US
    if lasts_s > limits.stream_seconds:
        raise Refusal(
            "too-long",
            f"The samples last {lasts_s:.1f} s; the limit is {limits.stream_seconds:g} s in one recording. Send "
            "every set by itself.",
            pointer,
        )


def _check_lengths(names: list[str], columns: list[Any], limits: Limits) -> None:
    lengths = [length_of(column, (name,)) for name, column in zip(names, columns, strict=True)]
    for name, length in zip(names, lengths, strict=True):
        if length != lengths[0]:
            raise Refusal(
                "unequal-columns",
                f"`{name}` has {length} values and `{names[0]}` has {lengths[0]}; all columns have to be equally long.",
                pointer_to(name),
            )
    if not lengths[0]:
        raise Refusal("no-samples", "The file has a header and no samples.", pointer_to(names[0]))
    if lengths[0] > limits.recording_samples:
        raise Refusal(
            "too-many-samples",
            f"The file has {lengths[0]} samples; the limit is {limits.recording_samples} in one recording.",
            pointer_to(names[0]),
        )


def _times(column: Any, name: str, microseconds: float, table: Table) -> Ints:
    """Device times, rounded to whole microseconds."""
    times = finite_numbers(column, (name,), table.place) * microseconds
    far = np.abs(times) >= LARGEST_EXACT_INTEGER
    if far.any():
        row = int(np.argmax(far))
        raise Refusal(
            "bad-member",
            f"`{name}` is {column[row]} {table.place(row)}; times have to stay below 2^53 microseconds.",
            pointer_to(name, row),
        )
    t_us: Ints = np.rint(times).astype(np.int64)
    back = np.diff(t_us) < 0
    if back.any():
        row = int(np.argmax(back)) + 1
        raise Refusal(
            "time-runs-backwards",
            f"`{name}` goes from {column[row - 1]} back to {column[row]} {table.place(row)}; times may "
            "repeat, never fall.",
            pointer_to(name, row),
        )
    return t_us


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
