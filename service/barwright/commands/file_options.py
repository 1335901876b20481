"""The options that tell what a recording file does not say of itself; shared by analyse and preview."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from barwright.commands.asked import BAD_USE, Trouble

if TYPE_CHECKING:
    from barwright.ingest.file_layout import FileLayout


def file_options(command: argparse.ArgumentParser) -> None:
    """--units, --columns, --scale and --rate-hz."""
    command.add_argument("--units", metavar="LIST", default="", help="for example accel=[g],gyro=deg/s,time=ms")
    command.add_argument(
        "--columns", metavar="LIST", help="a name per column, such as t_ms,accel_x,...; empty: left out"
    )
    command.add_argument("--scale", metavar="LIST", default="", help="what one count is: accel=0.000488,gyro=0.061")
    command.add_argument("--rate-hz", type=float, metavar="N", help="of a file that has no clock")


def layout_told(told: argparse.Namespace) -> FileLayout:
    """What these options say. Raises Trouble."""
    from barwright.ingest.file_layout import layout_of
    from barwright.ingest.limits import Limits
    from barwright.ingest.refusals import Refusal

    scale: dict[str, object] = {}
    for group, size in _pairs(told.scale, "--scale", "accel=0.000488,gyro=0.061").items():
        try:
            scale[group] = float(size)
        except ValueError as error:
            raise Trouble(f"--scale has {size!r}, which is no number", BAD_USE) from error
    members = {
        "units": _pairs(told.units, "--units", "accel=[g],gyro=deg/s"),
        "columns": None if told.columns is None else [name.strip() for name in told.columns.split(",")],
        "scale": scale or None,
        "rate_hz": told.rate_hz,
    }
    try:
        return layout_of(members, Limits())
    except Refusal as refusal:
        raise Trouble(refusal.detail, BAD_USE) from refusal


def _pairs(text: str, option: str, example: str) -> dict[str, str]:
    pairs = {}
    for pair in filter(None, text.split(",")):
        group, is_there, said = pair.partition("=")
        if not is_there:
            raise Trouble(f"{option} has {pair!r}; write for example {example}", BAD_USE)
        pairs[group.strip()] = said.strip()
    return pairs
