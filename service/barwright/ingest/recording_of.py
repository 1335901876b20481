"""Blocks in any order, with any repeats, to the one recording they are cut from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from barwright.analysis.motion.samples import EncoderSamples, Floats, ImuSamples, Recording, SensorSetup
from barwright.analysis.quantities.units import to_si
from barwright.ingest.block import Block
from barwright.ingest.declared_units import QUANTITY_OF, check_declared, group_of
from barwright.ingest.refusals import Refusal

AXES = ("x", "y", "z")


def recording_of(blocks: Iterable[Block], kind: str, units: dict[str, str], setup: SensorSetup) -> Recording:
    """All samples of a stream in SI units, one part per device start, t_s on the device's own clock.

    kind: imu or encoder. units: the stream's declared units, group to UCUM code.
    The answer depends on the content of the blocks only, never on the order they came in or on repeats. Within a
    device start blocks follow their seq. Device starts follow the sender's own clock (`sent_at`) when every one has
    it, because a device clock usually begins again at each start; else their first device time; then their name.
    Raises Refusal other-content when two blocks with one identity differ, unknown-channel when a unit is missing,
    channel-conflict when the channels change from block to block.
    """
    starts = _by_start(blocks)
    parts = [_part(start, kind, units) for start in _in_order(starts)]
    return Recording(tuple(parts), setup)  # type: ignore[arg-type]  # all parts are of one kind


def _by_start(blocks: Iterable[Block]) -> dict[str, list[list[Block]]]:
    """boot -> for each seq in rising order, every copy received."""
    copies: dict[tuple[str, int], list[Block]] = defaultdict(list)
    for block in blocks:
        copies[block.boot, block.seq].append(block)
    starts: dict[str, list[list[Block]]] = defaultdict(list)
    for (boot, seq), same in sorted(copies.items()):
        if len(same) > 1 and len({block.digest() for block in same}) > 1:
            raise other_content(boot, seq)
        starts[boot].append(same)
    return starts


def other_content(boot: str, seq: int) -> Refusal:
    """The refusal for a second block with a known identity and different samples."""
    return Refusal(
        "other-content",
        f"Block {seq} of boot `{boot}` was received before with other samples; give every block its own `seq`, and "
        "every device start its own `boot`.",
        "/seq",
    )


def _in_order(starts: dict[str, list[list[Block]]]) -> list[list[Block]]:
    sent = {
        boot: min((b.sent_at.timestamp() for copies in seqs for b in copies if b.sent_at), default=None)
        for boot, seqs in starts.items()
    }
    by_wall_clock = all(first is not None for first in sent.values())

    def place(boot: str) -> tuple[float, int, str]:
        first_us = min(int(copies[0].t_us[0]) for copies in starts[boot] if len(copies[0].t_us))
        return ((sent[boot] or 0.0) if by_wall_clock else 0.0, first_us, boot)

    return [[copies[0] for copies in starts[boot]] for boot in sorted(starts, key=place)]


def _part(blocks: list[Block], kind: str, units: dict[str, str]) -> ImuSamples | EncoderSamples:
    for block in blocks:
        check_declared(block, units)
        if block.channels.keys() != blocks[0].channels.keys():
            raise Refusal(
                "channel-conflict",
                f"Block {block.seq} of boot `{block.boot}` has {', '.join(block.channels)}, block {blocks[0].seq} has "
                f"{', '.join(blocks[0].channels)}; a device start has to keep to its channels.",
                "/channels",
            )
    t_s = np.concatenate([block.t_us for block in blocks]) * 1e-6
    if kind == "imu":
        accel = np.stack([_column(blocks, f"accel_{axis}", units) for axis in AXES], axis=1)
        gyro = np.stack([_column(blocks, f"gyro_{axis}", units) for axis in AXES], axis=1)
        string = _column(blocks, "position", units) if "position" in blocks[0].channels else None
        return ImuSamples(t_s, accel, gyro, string)
    if "position" in blocks[0].channels:
        return EncoderSamples(t_s, position_m=_column(blocks, "position", units))
    return EncoderSamples(t_s, velocity_m_s=_column(blocks, "velocity", units))


def _column(blocks: list[Block], channel: str, units: dict[str, str]) -> Floats:
    group = group_of(channel)
    return to_si(np.concatenate([block.channels[channel] for block in blocks]), units[group], QUANTITY_OF[group])
