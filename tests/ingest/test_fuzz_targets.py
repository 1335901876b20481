"""The fuzzers' targets take their own seeds, cut anywhere, without a finding: `make fuzz` does the rest."""

from __future__ import annotations

import pytest

from fuzz.__main__ import NAMES
from fuzz.targets import TARGETS


def test_every_target_is_run() -> None:
    assert tuple(TARGETS) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_seeds_and_their_pieces_are_no_findings(name: str) -> None:
    target = TARGETS[name]
    assert target.seeds
    for seed in target.seeds:
        for stop in {0, 1, len(seed) // 3, len(seed) - 1, len(seed)}:
            target.try_one(seed[:stop])


def test_deep_brackets_are_no_order_of_a_socket() -> None:
    """Found by looking for it: it ended the connection with an error of Python's own."""
    for depth in (300, 600, 900, 990):
        TARGETS["websocket"].try_one(b"[" * depth + b'"type"')
        TARGETS["websocket"].try_one(b'{"type":' + b"[" * depth)
