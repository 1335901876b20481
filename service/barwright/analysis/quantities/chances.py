"""How a chance is written."""

from __future__ import annotations


def in_percent(chance: float) -> str:
    """A chance (0-1) as `87 %`; never as certain, which nothing estimated is: `more than 99 %`, `less than 1 %`."""
    percent = round(100.0 * chance)
    return "more than 99 %" if percent >= 100 else "less than 1 %" if percent < 1 else f"{percent} %"
