"""Looks wait their turn: the pressing ones go first."""

from __future__ import annotations

from threading import Event

from barwright.live.looks import Looks


def test_a_pressing_look_goes_before_those_that_wait() -> None:
    looks, begun, go, done, seen = Looks(1), Event(), Event(), Event(), []

    def first() -> None:
        begun.set()
        go.wait(10)

    looks.submit(first, pressing=True)
    begun.wait(10)
    looks.submit(lambda: seen.append("later 1"), pressing=False)
    looks.submit(lambda: seen.append("later 2"), pressing=False)
    looks.submit(lambda: seen.append("now 1"), pressing=True)
    looks.submit(lambda: seen.append("now 2"), pressing=True)
    looks.submit(done.set, pressing=False)
    go.set()
    assert done.wait(10)
    looks.close()
    assert seen == ["now 1", "now 2", "later 1", "later 2"]


def test_after_the_end_none_is_taken() -> None:
    looks, seen = Looks(2), []
    looks.close()
    assert not looks.submit(lambda: seen.append(1), pressing=True)
    assert seen == []
