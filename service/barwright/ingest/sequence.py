"""Which blocks of one device start have come, and which are still missing."""

from __future__ import annotations

from collections.abc import Iterable


def next_seq(seqs: Iterable[int]) -> int:
    """The number after the highest one received; 0 when nothing has come yet."""
    return max(seqs, default=-1) + 1


def missing_ranges(seqs: Iterable[int]) -> list[list[int]]:
    """The numbers below the highest one that have not come, as rising [first, last] pairs, both ends missing.

    Numbers count from 0. The size of the answer grows with the numbers received, never with the highest number.
    """
    missing: list[list[int]] = []
    expected = 0
    for seq in sorted(set(seqs)):
        if seq > expected:
            missing.append([expected, seq - 1])
        expected = seq + 1
    return missing
