"""A small progress bar in plain text."""

from __future__ import annotations

import sys
from typing import TextIO

from barwright_client.bodies import Progress

_WIDTH = 24


def text_bar(name: str, out: TextIO | None = None) -> Progress:
    """A progress function drawing one line on stderr (or `out`), ended when all is sent."""
    to = out or sys.stderr

    def draw(sent: int, total: int) -> None:
        share = min(1.0, sent / total) if total else 1.0
        full = round(share * _WIDTH)
        end = "\n" if sent >= total else ""
        to.write(f"\r{name} [{'#' * full}{'.' * (_WIDTH - full)}] {share:4.0%} of {total / 1024:.0f} KiB{end}")
        to.flush()

    return draw
