from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from barwright.ingest.sequence import missing_ranges, next_seq


def test_nothing_received() -> None:
    assert next_seq([]) == 0
    assert missing_ranges([]) == []


def test_holes_at_the_start_and_inside() -> None:
    assert next_seq([5, 2, 3, 9]) == 10
    assert missing_ranges([5, 2, 3, 9, 9]) == [[0, 1], [4, 4], [6, 8]]


def test_one_huge_number_costs_one_range() -> None:
    assert missing_ranges([2**53 - 1]) == [[0, 2**53 - 2]]


@given(st.sets(st.integers(0, 60)))
def test_received_and_missing_together_are_every_number_once(seqs: set[int]) -> None:
    missing = [n for first, last in missing_ranges(seqs) for n in range(first, last + 1)]
    assert sorted([*missing, *seqs]) == list(range(next_seq(seqs)))
