"""The units a stream or a file declares, one per group of channels."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from barwright.analysis.quantities.units import UNITS, UnknownUnit, factor_to_si
from barwright.ingest.block import Block
from barwright.ingest.columns import Path, kind_of
from barwright.ingest.refusals import Refusal, pointer_to

QUANTITY_OF = {"accel": "acceleration", "gyro": "rate", "position": "length", "velocity": "velocity"}
GROUPS = {"imu": ("accel", "gyro", "position"), "encoder": ("position", "velocity")}
ALWAYS = {"imu": ("accel", "gyro"), "encoder": ()}  # an imu sends a string's position only where its unit is declared
SI = {"accel": "m/s2", "gyro": "rad/s", "position": "m", "velocity": "m/s"}


def group_of(channel: str) -> str:
    """accel for accel_x, position for position."""
    return channel.removesuffix("_x").removesuffix("_y").removesuffix("_z")


def choices_of(group: str) -> str:
    """The units a group of channels may have, for texts."""
    return ", ".join(f"`{code}`" for code in UNITS[QUANTITY_OF[group]])


def units_of(declared: Any, kind: str, path: Path = ("units",)) -> dict[str, str]:
    """The units of a stream, checked: {"accel": "[g]", "gyro": "deg/s"} or {"position": "mm"}.

    kind: imu or encoder. SI where none is declared; an encoder that declares none may send either of its channels, and
    an imu sends the position of a string on the same bar only when it declares its unit.
    Raises Refusal for a unit not known, a group of another sensor, or position and velocity together.
    """
    given = known_units(declared, path)
    groups = GROUPS[kind]
    for group in given:
        if group not in groups:
            raise Refusal(
                "unknown-member",
                f"`{group}` is not measured by an {kind}; declare units for {' and '.join(groups)}.",
                pointer_to(*path, group),
            )
    if kind == "encoder" and len(given) > 1:
        raise Refusal(
            "channel-conflict",
            "Units are declared for both position and velocity; declare the one the encoder sends.",
            pointer_to(*path, "velocity"),
        )
    silent = ALWAYS[kind] or (() if given else groups)
    return {group: SI[group] for group in silent} | given


def known_units(declared: Any, path: Path = ("units",)) -> dict[str, str]:
    """Declared units of any groups, each checked against the table of units."""
    if not isinstance(declared, dict):
        raise Refusal(
            "bad-member",
            f'`units` is {kind_of(declared)}; it has to be an object such as {{"accel": "[g]", "gyro": "deg/s"}}.',
            pointer_to(*path),
        )
    for group, code in declared.items():
        if group not in QUANTITY_OF:
            raise Refusal(
                "unknown-member",
                f"`{group}` is no group of channels; the groups are {', '.join(QUANTITY_OF)}.",
                pointer_to(*path, group),
            )
        check_unit(code, group, pointer_to(*path, group))
    return dict(declared)


def check_unit(code: Any, group: str, pointer: str | None) -> None:
    """Refuses a unit that is not in the table for that group."""
    if not isinstance(code, str):
        raise Refusal(
            "unknown-unit",
            f"The unit of `{group}` is {kind_of(code)}; it has to be one of {choices_of(group)} (UCUM).",
            pointer,
        )
    try:
        factor_to_si(code, QUANTITY_OF[group])
    except UnknownUnit as error:
        raise Refusal("unknown-unit", f"The unit of `{group}`: {error.detail}", pointer) from error


def read_as_si(groups: Iterable[str]) -> tuple[str, ...]:
    """One plain sentence per group of channels whose unit nobody told."""
    return tuple(f"No unit was given for {group}: read as {SI[group]}." for group in groups)


def check_declared(block: Block, units: dict[str, str]) -> None:
    """Refuses a block with a channel the stream declared no unit for, such as velocity on a position stream."""
    for name in block.channels:
        if group_of(name) not in units:
            raise Refusal(
                "unknown-channel",
                f"`{name}` has no unit in this stream, which declared {', '.join(sorted(units))}; send those "
                "channels or register another stream.",
                pointer_to("channels", name),
            )
