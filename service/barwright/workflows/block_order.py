"""Whether a block fits what came of its stream before."""

from __future__ import annotations

from collections.abc import Iterable

from barwright.ingest.limits import Limits
from barwright.ingest.refusals import Refusal
from barwright.storage.blocks import Around, BootSpan, PackedBlock
from barwright.workflows.cannot import Cannot


def check_order(around: Around, block: PackedBlock) -> None:
    """Refuses a block that is not between its neighbours in time. Raises Refusal."""
    first, last = block.first_us, block.last_us
    before, after = around.before, around.after
    if before is not None and first < before[1]:
        raise Refusal(
            "time-runs-backwards",
            f"Block {block.seq} begins at {first} us, before block {before[0]} ends ({before[1]} us). Within one boot "
            "a block with a higher seq has to hold later samples; after a restart of the device use a new boot.",
            "/t_us",
        )
    if after is not None and last > after[1]:
        raise Refusal(
            "time-runs-backwards",
            f"Block {block.seq} ends at {last} us, after block {after[0]} begins ({after[1]} us). Within one boot "
            "a block with a higher seq has to hold later samples; after a restart of the device use a new boot.",
            "/t_us",
        )


def check_length(spans: Iterable[BootSpan], limits: Limits) -> None:
    """Refuses what makes a stream too long; spans: everything that came, with the new block. Raises Cannot."""
    spans = list(spans)
    length_s = sum(one.last_us - one.first_us for one in spans) / 1e6
    if length_s > limits.stream_seconds:
        raise _too_long(f"last {length_s:.1f} s", f"{limits.stream_seconds:g} s")
    samples = sum(one.samples for one in spans)
    if samples > limits.stream_samples:
        raise _too_long(f"have {samples} samples", f"{limits.stream_samples}")


def _too_long(would: str, limit: str) -> Cannot:
    return Cannot(
        "stream-too-long",
        f"With this block the stream would {would}; the limit is {limit}. Close this stream and begin a new one.",
    )
